"""Layouts written, read, used while they fit, and refused where they are of something else."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from pipeline.build import build_scene, make
from pipeline.cli import main
from pipeline.exports.cut_sheets import fill_sheets
from pipeline.geometry.frames import moved
from pipeline.sheets.layouts import LaidScene, misfit, read_layout, written_layout
from pipeline.sheets.nesting import Layout
from pipeline.sheets.refusals import LayoutError
from pipeline.sheets.searching import search, worth
from pipeline.sheets.stock import Stock, lay
from pipeline.sheets.strips import available, squeeze

from ..scene_text import COVERED, DOOR

STOCK = Stock(name="foam", size=(300.0, 200.0), kerf=0.2, spacing=2.0, margin=5.0, grain=False)
MADE = make((COVERED + DOOR).encode())
WRITTEN = written_layout(MADE.sheets)


NEIGHBOUR = json.loads(WRITTEN)["materials"]["foam"]["sheets"][0]["parts"][1]["at"]
"""Where another part lies."""


def changed(**edits: Any) -> LaidScene:
    """Return the layout with the first part of the first sheet changed."""
    data = json.loads(WRITTEN)
    data["materials"]["foam"]["sheets"][0]["parts"][0] |= edits
    return read_layout(json.dumps(data).encode())


def lying(layout: Layout, shapes: list[shapely.Polygon]) -> list[list[shapely.Polygon]]:
    return [
        [moved(shapes[p.part], p.sheet_from_flat) for p in layout.placed if p.sheet == number]
        for number in range(len(layout.sheets))
    ]


def triangles() -> list[shapely.Polygon]:
    """Return right-angled triangles that pack well in pairs and badly alone."""
    return [shapely.Polygon([(0, 0), (90 - 4 * i, 0), (0, 60 + 3 * i)]) for i in range(9)]


def test_a_layout_read_back_is_the_layout() -> None:
    """Written to a micron, read, used: every part where it lay."""
    sheets, notes = fill_sheets(MADE.cut_parts, MADE.scene.materials, read_layout(WRITTEN))
    assert notes == ()
    for one, other in zip(MADE.sheets, sheets, strict=True):
        assert [name for name, _ in one.placed] == [name for name, _ in other.placed]
        for (_, a), (_, b) in zip(one.placed, other.placed, strict=True):
            assert np.abs(a - b).max() < 1e-3
    assert written_layout(sheets) == WRITTEN


def test_a_part_moved_by_hand_lies_there() -> None:
    """Corner at 20, 30 after a half turn: shapely's bounds of what is on the sheet."""
    data = json.loads(WRITTEN)
    data["materials"]["foam"]["sheets"] = [
        {"size": [300, 200], "parts": [part | {"at": [20, 30], "turn": 180}]}
        for sheet in data["materials"]["foam"]["sheets"]
        for part in sheet["parts"]
    ]
    sheets, notes = fill_sheets(MADE.cut_parts, MADE.scene.materials, read_layout(json.dumps(data).encode()))
    assert notes == ()
    assert len(sheets) == len(MADE.cut_parts)
    for sheet in sheets:
        assert sheet.footprints[0].bounds[:2] == pytest.approx((20, 30))
        assert sheet.placed[0][1][0, 0] == pytest.approx(-1)


@pytest.mark.parametrize(
    ("edits", "why"),
    [({"at": [0, 0]}, "into the margin"), ({"at": NEIGHBOUR, "turn": 0}, "would lie")],
)
def test_a_layout_that_no_longer_fits_is_laid_anew_and_said(edits: dict[str, Any], why: str) -> None:
    """Parts grown, the eye moved: the default layout, and a note that says what is in the way."""
    sheets, notes = fill_sheets(MADE.cut_parts, MADE.scene.materials, changed(**edits))
    assert len(notes) == 1
    assert why in notes[0]
    assert written_layout(sheets) == WRITTEN


def test_a_layout_of_other_parts_is_refused_by_name() -> None:
    """It says which part it has too many and which it lacks."""
    with pytest.raises(LayoutError, match=r"it has attic of foam; it lacks \S+ of foam"):
        fill_sheets(MADE.cut_parts, MADE.scene.materials, changed(id="attic"))


def test_smaller_stock_is_no_layout_of_other_parts() -> None:
    """With sheets that the floor no longer fits, its layout is let go and the missing sheets are named."""
    small = {"foam": MADE.scene.materials["foam"].model_copy(update={"sheet": (180.0, 130.0)})}
    sheets, notes = fill_sheets(MADE.cut_parts, MADE.scene.materials | small, changed())
    assert len(notes) == 1
    assert "there is no foam of 300 x 200 mm" in notes[0]
    assert {sheet.size for sheet in sheets} == {(180.0, 130.0)}
    assert "floor" not in {name for sheet in sheets for name, _ in sheet.placed}


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"[]",
        b"{",
        b"[" * 100_000,
        b"\xff\xfe",
        WRITTEN.replace(b'"format": 1', b'"format": 2'),
        WRITTEN.replace(b'"turn": ', b'"turn": 4'),
        WRITTEN.replace(b'"at": [', b'"at": [NaN, '),
        WRITTEN.replace(b'"at": [', b'"at": [1e999, '),
        WRITTEN.replace(b'"id"', b'"name"', 1),
        WRITTEN.replace(b'"sheets"', b'"extra": 1, "sheets"'),
    ],
)
def test_what_is_no_layout_is_refused(data: bytes) -> None:
    """Never a traceback, never a guess."""
    with pytest.raises(LayoutError, match="not a layout"):
        read_layout(data)


def test_sheets_that_are_not_there_do_not_fit() -> None:
    """An offcut counts once, and only where the material has it."""
    shapes = [shapely.box(0, 0, 30, 30)] * 2
    stock = replace(STOCK, offcuts=((50.0, 50.0), (50.0, 50.0)))
    layout = lay(stock, shapes)
    assert layout.sheets == ((50.0, 50.0),) * 2
    assert misfit(layout, stock, ["a", "b"], shapes) == ""
    assert "no more" in misfit(layout, replace(stock, offcuts=((50.0, 50.0),)), ["a", "b"], shapes)


def test_a_part_across_the_grain_does_not_fit() -> None:
    """A quarter turn is no way to lie on a sheet with a grain."""
    shapes = [shapely.box(0, 0, 20, 180)]
    layout = lay(replace(STOCK, size=(200.0, 60.0)), shapes)
    assert "grain" in misfit(layout, replace(STOCK, size=(200.0, 60.0), grain=True), ["plank"], shapes)


def test_the_search_never_makes_it_worse_and_keeps_parts_apart() -> None:
    """Twelve tries: nothing lost, all at least the gap apart by shapely, worth at most that of the start."""
    shapes = triangles()
    start = lay(STOCK, shapes)
    left = iter([True] * 12)
    found, tries = search(STOCK, shapes, start, 3, lambda: next(left, False))
    assert tries == 12
    assert worth(found, STOCK, shapes) <= worth(start, STOCK, shapes)
    assert sorted(p.part for p in found.placed) == list(range(len(shapes)))
    for sheet in lying(found, shapes):
        for i, a in enumerate(sheet):
            assert all(a.distance(b) >= STOCK.gap - 1e-9 for b in sheet[:i])


def test_the_same_seed_and_tries_find_the_same() -> None:
    """Chance is drawn from the seed alone."""
    shapes = triangles()
    start = lay(STOCK, shapes)
    one, other = (search(STOCK, shapes, start, 5, iter([True] * 9 + [False]).__next__)[0] for _ in range(2))
    for a, b in zip(one.placed, other.placed, strict=True):
        assert np.array_equal(a.sheet_from_flat, b.sheet_from_flat)


@pytest.mark.skipif(not available(), reason="spyrrow, the extra of foreshorten[nest], is not installed")
def test_strips_fit_and_are_no_worse() -> None:
    """Two sheets' worth on two sheets or fewer; what came back passes the same checks as a file."""
    shapes = triangles() * 2
    start = lay(STOCK, shapes)
    found = squeeze(STOCK, shapes, start, 1, 3)
    assert misfit(found, STOCK, [str(i) for i in range(len(shapes))], shapes) == ""
    assert worth(found, STOCK, shapes) <= worth(start, STOCK, shapes)
    assert sorted(p.part for p in found.placed) == list(range(len(shapes)))


def test_nest_writes_a_file_that_builds_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command, then a build: the sheets lie as the file says, and the manifest names it."""
    room = tmp_path / "room.toml"
    room.write_text(COVERED + DOOR)
    assert main(["nest", str(room), "--seconds", "1"]) == 0
    path = tmp_path / "room.layout.json"
    assert str(path) in capsys.readouterr().out
    made = build_scene(room.read_bytes(), "room", layout=path.read_bytes())
    assert "room.layout.json" in made.manifest["read"]
    laid = json.loads(path.read_bytes())["materials"]["foam"]["sheets"]
    assert [[part["id"] for part in sheet["parts"]] for sheet in laid] == [
        [part["id"] for part in sheet["parts"]] for sheet in made.manifest["sheets"]
    ]


def test_a_build_refuses_a_layout_of_other_parts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2; the file, the part and the remedy are named; nothing is written."""
    room = tmp_path / "room.toml"
    room.write_text(COVERED + DOOR)
    (tmp_path / "room.layout.json").write_bytes(WRITTEN.replace(b'"floor"', b'"attic"'))
    assert main(["build", str(room), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "room.layout.json: a layout of other parts: it has attic of foam; it lacks floor of foam" in said
    assert "foreshorten nest" in said
    assert not (tmp_path / "out" / "room").exists()
