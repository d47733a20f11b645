"""Whatever things are called, names are refused or do no harm in any file."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.scene.read import read_scene
from tests.fuzz.keys import Key
from tests.fuzz.names import NAMES, built_titles, look_through, name_places, said_of_name, tags_of
from tests.scene_text import DOOR, PLAIN

PLACES = list(name_places())
FREE = {"title", "work.currency", "clashes[0].reason", "clashes[0].instead", "meshes[0].file", "wiring.battery"}
"""Keys that hold words of any letters; all others hold names of files, or names that lead to one."""
SHOWN = ("<script>alert(1)</script> & {{ 7*7 }}", "=1+1 \u6c34\u69fd \U0001f3f0 (a) Tj \\P %%c", "x" * 200)


def test_there_are_two_hundred_names_of_every_kind() -> None:
    """And of no place that a scene can name something at is missed."""
    assert len(NAMES) >= 200
    assert {key.name for key in PLACES} >= {*FREE, "columns[0].name", "left.material", "vault.cover"}


@pytest.mark.parametrize("key", PLACES, ids=lambda key: key.name)
def test_a_hostile_name_is_refused_in_words_or_is_plain(key: Key) -> None:
    """Where a name makes files it is letters, digits, spaces, hyphens and underscores; elsewhere it can be seen."""
    for name in NAMES:
        said = said_of_name(key, name)
        if said:
            continue
        assert name.isprintable() or not (set(name) & UNSEEN), f"{key.name}: {name!r}"
        if key.name not in FREE:
            assert name.isascii(), f"{key.name}: {name!r}"
            assert not set(name) & set("/\\:.*?<>|$`;&\"'"), f"{key.name}: {name!r}"


UNSEEN = {chr(code) for code in (*range(32), *range(127, 160), 0x2028, 0x2029, 0x202E, 0x2066, 0xFEFF, 0xFFFE, 0xFFFF)}


@pytest.mark.parametrize("table", ["openings", "columns", "arches", "steps", "meshes", "figures", "lights"])
@pytest.mark.parametrize("name", ["con", "NUL", "com1", "lpt9"])
def test_no_part_is_called_like_a_device(table: str, name: str) -> None:
    """Its files could not be written, or would be sent to a port, on some systems."""
    key = next(key for key in PLACES if key.name == f"{table}[0].name")
    assert any("is the name of a device on some systems" in line for line in said_of_name(key, name))


def test_every_file_of_a_room_with_a_hostile_title_is_what_it_seems() -> None:
    """DXF by ezdxf, SVG and 3MF by an XML parser, PDF by pypdf, the page by an HTML parser, tables by csv and json."""
    plain = dict(built_titles(["A room"]))["A room"]
    tags = tags_of(plain["report.html"])
    built = dict(built_titles(list(SHOWN)))
    assert list(built) == list(SHOWN)
    for title, files in built.items():
        look_through(files, title, tags)


def test_it_is_so_under_optimisation_too() -> None:
    """``python -O`` takes every assert out; nothing may rest on one."""
    title = random.Random(1).choice([name for name in NAMES if "<" in name])
    run = subprocess.run(
        [sys.executable, "-O", "-m", "tests.fuzz.names", title, "\x1b[2J"], check=False, capture_output=True, text=True,
        cwd=Path(__file__).parents[2], env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip
    assert run.stdout == "1 of 2 taken\n", run.stderr


@pytest.mark.parametrize(
    "name", [name for name in NAMES if name and "/" not in name and "\0" not in name and len(name.encode()) < 80]
)
def test_a_scene_file_may_be_called_anything(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is read or refused, nothing is written beside it, and what is said can be shown."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / f"{name}.toml"
    path.write_text(PLAIN.replace("width = 180", "width = 0"))
    assert main(["build", str(path)]) == 2
    said = capsys.readouterr()
    assert (said.out + said.err).replace("\n", "").isprintable()
    assert list(tmp_path.iterdir()) == [path]


def test_scenes_that_one_folder_would_take_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Some systems hold composed and decomposed letters for the same (Unicode, Annex 15)."""
    paths = [tmp_path / "caf\u00e9.toml", tmp_path / "cafe\u0301.toml"]
    for path in paths:
        path.write_text(PLAIN + DOOR)
    assert main(["inspect", *map(str, paths)]) == 2
    assert "would be written to the same folder" in capsys.readouterr().err


def test_a_title_is_any_words_that_can_be_seen() -> None:
    """Of every script, with its marks and joiners."""
    for title in (
        "Zisterne f\u00fcr \u010capek",
        "\u6c34\u69fd",
        "\u0622\u0628\u200c\u0627\u0646\u0628\u0627\u0631",
        "\U0001f3f0 & <b>",
    ):
        assert read_scene(PLAIN.replace("A plain room", title)).title == title
