"""What ``nest`` says of the layouts it found, and what it refuses."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from pipeline.build import shape
from pipeline.cli import main
from pipeline.commands.nest import searched_layout, seconds, seed
from pipeline.exports.cut_sheets import pile_up
from pipeline.sheets.stock import lay
from tests.scene_text import PLAIN, changed

STOCKS = {"left": "foam", "right": "foam", "floor": "foam", "ceiling": "card", "back": "card", "front": "card"}
TWO_STOCKS = (
    PLAIN
    + "\n[materials.card]\nthickness = 1.0\nsheet = [210, 297]\n"
    + "".join(f'\n[{side}]\nmaterial = "{stock}"\n' for side, stock in STOCKS.items())
)


def test_every_material_is_told_with_its_sheets_and_what_is_left_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line each, as many sheets as the file lists; no search in no time, so first and last are alike."""
    room = tmp_path / "room.toml"
    room.write_text(TWO_STOCKS)
    assert main(["nest", str(room), "--seconds", "0"]) == 0
    heading, *lines = capsys.readouterr().out.splitlines()
    assert heading.startswith(f"{tmp_path / 'room.layout.json'}: used from now on")
    laid = json.loads((tmp_path / "room.layout.json").read_bytes())["materials"]
    shaped = shape(TWO_STOCKS.encode(), (), {})
    piles = pile_up(shaped.pieces, shaped.scene.materials)
    assert [line.split(":")[0].strip() for line in lines] == [pile.stock.name for pile in piles]
    assert laid.keys() == {"foam", "card"}
    for line, pile in zip(lines, piles, strict=True):
        count = len(lay(pile.stock, list(pile.shapes)).sheets)
        assert len(laid[pile.stock.name]["sheets"]) == count
        told = r"(\d+) (sheets?) with (\d+) cm2 left whole"
        found = re.fullmatch(rf"  {pile.stock.name}: {told} at first, {told} after (\d+) tries", line)
        assert found is not None, line
        assert found.groups()[:3] == found.groups()[3:6]
        assert (int(found[1]), found[2]) == (count, "sheet" if count == 1 else "sheets")
        assert found[7] == "0"
        sheet = pile.stock.size[0] * pile.stock.size[1] / 100
        assert 0 <= int(found[3]) < sheet


def test_asked_to_be_quiet_it_writes_its_file_and_says_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same file as when it speaks."""
    room = tmp_path / "room.toml"
    room.write_text(PLAIN)
    assert main(["nest", str(room), "--seconds", "0", "--quiet"]) == 0
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", "")
    expected, _ = searched_layout(room, PLAIN.encode(), {}, seconds=0.0, seed=1)
    assert (tmp_path / "room.layout.json").read_bytes() == expected


def test_a_scene_of_which_nothing_is_cut_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2 and no file."""
    room = tmp_path / "room.toml"
    bare = "".join(f"\n[{side}]\nbuild = false\n" for side in ("left", "right", "back", "floor", "ceiling", "front"))
    room.write_text(PLAIN + bare)
    assert main(["nest", str(room), "--seconds", "0"]) == 2
    said = capsys.readouterr()
    assert f"{room}: nothing in it is cut from sheet" in said.err
    assert said.out == ""
    assert [path.name for path in tmp_path.iterdir()] == ["room.toml"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("distance = 420", "distance = -4", "room.toml:11:1: eye.distance"),
        ('process = "knife"', 'process = "axe"', "room.toml:20:1: materials.foam.process"),
    ],
)
def test_a_wrong_scene_is_refused_in_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, said: str
) -> None:
    """With line and column, and no file."""
    room = tmp_path / "room.toml"
    room.write_text(changed(PLAIN, old, new))
    assert main(["nest", str(room), "--seconds", "0"]) == 2
    assert said in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["room.toml"]


def test_a_mesh_that_is_not_there_is_refused_in_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The scene is read, and its files before anything is laid."""
    room = tmp_path / "room.toml"
    room.write_text(PLAIN + '\n[[meshes]]\nname = "jug"\nfile = "jug.stl"\nat = [0.0, 4.0]\n')
    assert main(["nest", str(room), "--seconds", "0"]) == 2
    assert "jug.stl" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["room.toml"]


@pytest.mark.parametrize("text", ["-1", "86401", "nan", "inf", "soon", ""])
def test_a_time_is_seconds_of_a_day_at_most(text: str) -> None:
    """Both ends may be asked for."""
    assert (seconds("0"), seconds("86400"), seconds("2.5")) == (0.0, 86400.0, 2.5)
    with pytest.raises(Exception, match="is not a number of seconds from 0 to 86400, as in 60"):
        seconds(text)


@pytest.mark.parametrize(
    "text", ["-1", "1.5", "1234567890", "x", "", "\N{SUPERSCRIPT TWO}", "\N{ARABIC-INDIC DIGIT ONE}"]
)
def test_a_seed_is_a_whole_number_of_few_digits(text: str) -> None:
    """In plain digits."""
    assert (seed("0"), seed("123456789")) == (0, 123456789)
    with pytest.raises(Exception, match="is not a whole number of up to nine digits, as in 7"):
        seed(text)
