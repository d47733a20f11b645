"""Whatever things are called, names are refused or do no harm in any file."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.scene.read import read_scene
from tests.fuzz.judging import WrongError
from tests.fuzz.keys import Key
from tests.fuzz.named_rooms import called, look_at_rooms, plain_room, ways
from tests.fuzz.names import FREE, NAMES, look_at_names, name_places, said_of_name
from tests.fuzz.rereading import look_through
from tests.scene_text import DOOR, PLAIN

PLACES = list(name_places())
MOST_TAKEN = 31
"""Of the names, so many are no more than words of a file's name, or of a kind of stuff."""
SHOWN = ("<script>alert(1)</script> & {{ 7*7 }}", "=1+1 pi\u00ader \u6c34\u69fd \U0001f3f0 (a) Tj \\P %%c", "x" * 200)


def test_there_are_two_hundred_names_of_every_kind() -> None:
    """And of no place that a scene can name something at is missed."""
    assert len(NAMES) >= 200
    assert {key.name for key in PLACES} >= {*FREE, "columns[0].name", "left.material", "vault.cover"}


@pytest.mark.parametrize("key", PLACES, ids=lambda key: key.name)
def test_a_hostile_name_is_refused_in_words_or_is_plain(key: Key) -> None:
    """Where a name makes files it is letters, digits, spaces, hyphens and underscores; elsewhere it can be seen."""
    taken = look_at_names(key)
    assert taken if key.name in FREE and "clashes" not in key.name else taken <= MOST_TAKEN


@pytest.mark.parametrize("table", ["openings", "columns", "arches", "steps", "meshes", "figures", "lights"])
@pytest.mark.parametrize("name", ["con", "NUL", "com1", "lpt9"])
def test_no_part_is_called_like_a_device(table: str, name: str) -> None:
    """Its files could not be written, or would be sent to a port, on some systems."""
    key = next(key for key in PLACES if key.name == f"{table}[0].name")
    assert any("is the name of a device on some systems" in line for line in said_of_name(key, name))


def test_every_file_of_a_room_called_by_a_hostile_name_is_what_it_seems() -> None:
    """DXF by ezdxf and GDAL, SVG and 3MF by an XML parser, lib3mf and trimesh, STL and GLB by trimesh, PDF by pypdf and
    pdfium, pictures by pillow, the page by an HTML parser, tables by csv and json; all of them of the same shape.

    Things and tables take plain names only, and so they are as many as ways to call one.
    """
    assert len(list(ways())) == 11
    counts = look_at_rooms([*SHOWN, "Side Arch"], every_way=False)
    assert counts["built"] == len(SHOWN) + 1
    assert counts["places"] >= 4 * counts["built"]


def test_a_name_is_found_in_the_words_it_was_put_into() -> None:
    """Title, two of a clash and the battery's take any; currency and kinds of stuff take none so long."""
    data, taken = called(SHOWN[0], next(iter(ways())))
    assert taken == 4
    assert [data["title"], data["clashes"][0]["reason"], data["wiring"]["battery"]] == [SHOWN[0]] * 3
    assert data["work"]["currency"] == plain_room()["work"]["currency"]


HARMFUL = {
    "a.svg": b"<svg xmlns='http://www.w3.org/2000/svg'><script>x</script></svg>",
    "b.svg": b"<svg xmlns='http://www.w3.org/2000/svg'><text>a\xe2\x80\xaeb</text></svg>",
    "c.svg": b"<svg xmlns='http://www.w3.org/2000/svg'><g onload='x'/></svg>",
    "a.csv": b"part,area\r\n=1+1,2\r\n",
    "b.csv": b"part,area\r\na\x1b[2J,2\r\n",
    "manifest.json": b'{"title": "another"}',
    "b.json": b'{"title": "room", "area": NaN}',
    "report.html": b"<title>another</title>",
    "b.html": b"<title>room</title><p>a\xe2\x80\xaeb</p>",
    "a.pdf": b"%PDF-1.4",
    "a.dxf": b"  0\nEOF\n",
    "a.stl": b"solid x",
    "prints.3mf": b"PK",
    "built.glb": b"glTF" + bytes(20),
    "a.png": b"<script>",
    "con.svg": b"<svg/>",
    "../a.svg": b"<svg/>",
    "A.svg": b"<svg/>",
}


@pytest.mark.parametrize("name", HARMFUL)
def test_what_is_more_than_it_seems_is_found(name: str) -> None:
    """Scripts, marks that turn words round, formulas, other titles, other content, other systems' names."""
    with pytest.raises(WrongError):
        look_through({name: HARMFUL[name]}, "room")


def test_it_is_so_under_optimisation_too() -> None:
    """``python -O`` takes every assert out; ``--all`` instead of ``--some`` is the whole."""
    run = subprocess.run(
        [sys.executable, "-O", "-m", "tests.fuzz.named_rooms", "--some", "1"], check=False, capture_output=True,
        text=True, cwd=Path(__file__).parents[2], env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip
    assert re.fullmatch(r"1 keys, 221 names each, \d+ taken\n1 names: .*\n", run.stdout), run.stderr


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
