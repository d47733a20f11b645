"""What the guide for developers speaks of is there."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "pipeline").rglob("*.py"))
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
QUOTED = sorted(set(re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", GUIDE, flags=re.S | re.M))))
HERE = [path.relative_to(ROOT) for top in ("pipeline", "tests", "docs", ".ci") for path in (ROOT / top).rglob("*")]
"""Files and folders of the checkout that the guide may speak of, its first ones beside them."""


@pytest.mark.parametrize("name", [one for one in QUOTED if re.fullmatch(r"[\w./-]+(/|\.(py|toml|js|css|md|txt))", one)])
def test_files_that_the_guide_names_are_there(name: str) -> None:
    """By their path, or by the end of it where the sentence says which folder is meant."""
    wanted = Path(name).parts
    assert (ROOT / name).exists() or any(path.parts[-len(wanted) :] == wanted for path in HERE)


def words_of(source: Path) -> set[str]:
    """Return every name that a module binds, takes or asks for."""
    nodes = list(ast.walk(ast.parse(source.read_text(encoding="utf-8"))))
    return {
        *(node.name for node in nodes if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)),
        *(node.id for node in nodes if isinstance(node, ast.Name)),
        *(node.arg for node in nodes if isinstance(node, ast.arg)),
    }


def test_names_that_the_guide_tells_are_in_the_code() -> None:
    """Classes, tables, functions as they are called, and environment variables; plain words in quotes are no names."""
    calls = [re.fullmatch(r"(?:\w+(?:\(\))?\.)?(\w+)\(.*?\)(?: -> .*)?", one) for one in QUOTED]
    called = {call[1] for call in calls if call is not None}
    named = {one.split(".")[-1] for one in QUOTED if re.fullmatch(r"(?:[a-z]+\.)?[A-Z][A-Za-z]+|folder\.publish", one)}
    assert (called | named) - set().union(*map(words_of, SOURCES)) == set()
    texts = "".join(
        path.read_text(encoding="utf-8") for top in ("pipeline", "tests") for path in (ROOT / top).rglob("*.py")
    )
    variables = {one.split("=")[0] for one in QUOTED if re.fullmatch(r"FORESHORTEN_[A-Z]+(=\w+)?", one)}
    assert variables
    assert [one for one in variables if f'"{one}"' not in texts] == []


@pytest.mark.parametrize("command", [one for one in QUOTED if one.startswith("python -m tests.")])
def test_commands_that_the_guide_gives_are_understood(command: str) -> None:
    """Each module is there, and its help knows every option."""
    module, *options = command.removeprefix("python -m ").split()
    run = subprocess.run(
        [sys.executable, "-m", module, "--help"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert [one for one in options if one.startswith("--") and one not in run.stdout] == []


def test_the_guide_has_a_row_for_every_room_and_the_floors_as_they_are() -> None:
    """The table of folders, and the line of floors, which ``pyproject.toml`` holds."""
    rows = {
        name for row in re.findall(r"^\| (`.*?) \|", GUIDE, re.M) for name in re.findall(r"`(\w+/|units\.py)`", row)
    }
    rooms = {f"{path.name}/" for path in (ROOT / "pipeline").iterdir() if (path / "__init__.py").exists()}
    assert rooms | {"units.py"} == rows
    layers = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"][
        0
    ]
    assert f"    {' > '.join(layers['layers'])}\n" in GUIDE
