"""Every error ends in what to do next: held for all places of the package that say one."""

from __future__ import annotations

import argparse
import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import pipeline
from pipeline.cli import main, parser
from pipeline.commands.model import InputError
from pipeline.commands.scene_files import read_bytes
from pipeline.commands.usage import Parser
from tests.what_to_do import tells_what_to_do

ROOT = Path(pipeline.__file__).parent
REFUSALS = {"InputError", "argparse.ArgumentTypeError", "ForeignFolderError", "BusyError", "SettingError"}
HANDED_ON = {"str(error)", "'\\n'.join(said)", "'\\n'.join(done.errors)", "'\\n'.join(taken.errors)"}
HANDED_OVER = re.compile("refusal|_disk_text")
"""Texts, and what makes texts, put together of messages that are held elsewhere."""


def calls() -> Iterator[tuple[str, ast.Call]]:
    """Yield every call in the package with its place."""
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call):
                yield f"{path.relative_to(ROOT.parent)}:{node.lineno}", node


def words_of(node: ast.Call) -> str:
    """Return all words written out in a call."""
    return " ".join(
        inner.value for inner in ast.walk(node) if isinstance(inner, ast.Constant) and isinstance(inner.value, str)
    )


def test_every_refusal_of_a_command_says_what_to_do() -> None:
    """It hands over a remedy beside what is wrong, or its own words ask for something."""
    found, silent = 0, []
    for place, call in calls():
        if ast.unparse(call.func) not in REFUSALS or not call.args:
            continue
        found += 1
        starred = any(isinstance(one, ast.Starred) for one in call.args)  # a pair: what is wrong, and what to do
        if len(call.args) > 1 or starred or ast.unparse(call.args[0]) in HANDED_ON or "describe" in ast.unparse(call):
            continue
        if not tells_what_to_do(words_of(call)) and not HANDED_OVER.search(ast.unparse(call.args[0])):
            silent.append(f"{place}: {ast.unparse(call)}")
    assert found > 60
    assert silent == []


def test_every_problem_of_a_scene_has_a_remedy() -> None:
    """The type asks for one; none is an empty text."""
    found, empty = 0, []
    for place, call in calls():
        if ast.unparse(call.func) != "Problem":
            continue
        found += 1
        given = {word.arg: word.value for word in call.keywords}
        if "remedy" not in given or ast.unparse(given["remedy"]) in ("''", '""'):
            empty.append(place)
    assert found > 150
    assert empty == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], 'foreshorten: name a command. To begin: foreshorten begin "my room"; foreshorten --help tells more'),
        (["biuld", "a.toml"], "foreshorten: there is no command 'biuld': did you mean build?"),
        (["build"], "foreshorten build: SCENE is missing; foreshorten build --help tells more"),
        (["build", "a.toml", "--sett", "a=1"], "foreshorten build: does not take --sett a=1; did you mean --set?"),
        (
            ["schema", "a.toml"],
            "foreshorten schema: does not take a.toml; foreshorten schema --help tells what it takes",
        ),
        (["begin", "a", "--box", "-18x15x8"], "one that begins with a minus is written --box=-3"),
        (["begin", "a", "--room", "cave"], "--room: 'cave' is no choice: choose from brick, vault, timber, plain"),
    ],
)
def test_a_slip_on_the_command_line_is_told_in_one_line(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With exit code 2, what is wrong, and what to do."""
    with pytest.raises(SystemExit) as leaving:
        main(words)
    told = capsys.readouterr().err
    assert (leaving.value.code, told.count("\n")) == (2, 1)
    assert said in told


def test_every_command_says_where_to_read_more() -> None:
    """What argparse finds wrong is told by our own parser, of every command."""
    commands = next(action for action in parser()._actions if isinstance(action, argparse._SubParsersAction))
    assert all(isinstance(one, Parser) for one in commands.choices.values())


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("hall", "no such file; did you mean hall.toml?"),
        ("hal.toml", "no such file; did you mean hall.toml?"),
        ("low.toml", "no such file; did you mean below/low.toml?"),
        ("other.toml", "no such file; there is hall.toml"),
        ("empty/hall.toml", "no such file; write one: foreshorten begin NAME"),
        (".", "is a folder, and a scene file is needed; name the file itself, such as hall.toml"),
    ],
)
def test_a_file_that_is_not_there_is_guessed_at(
    name: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what stands beside it, or just below."""
    monkeypatch.chdir(tmp_path)
    for path in ("below/low.toml", "hall.toml"):
        Path(path).parent.mkdir(exist_ok=True)
        Path(path).write_text("format = 1\n")
    Path("empty").mkdir()
    with pytest.raises(InputError) as refused:
        read_bytes(Path(name))
    assert str(refused.value).endswith(said)
