"""Sheets as a cutter runs them: nothing twice, nothing too short, names in the waste, bridges where nobody looks."""

from __future__ import annotations

from functools import reduce
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from pipeline.build import Build, make
from pipeline.geometry import curves
from pipeline.geometry.regions import Edge
from pipeline.sheets.bridges import bridged
from pipeline.sheets.labels import place_labels
from pipeline.sheets.letters import STROKES, letter_strokes, text_width
from pipeline.sheets.tidying import runs_without, without

from ..scene_text import COVERED, DOOR, PLAIN, changed
from .reading import chords, drawn_twice, shapes

DRAWN = ("OUTLINE", "HOLES", "FOLD", "GUIDE", "PLACE", "BEVEL")


def test_no_line_is_drawn_twice(demo: Build, tmp_path: Path) -> None:
    """GDAL's lines of every layer of every sheet together: none runs along another for more than 0.02 mm."""
    for sheet in demo.manifest["sheets"]:
        read = shapes(demo.files[sheet["file"]], tmp_path)
        assert drawn_twice(np.concatenate([chords(read.get(layer, [])) for layer in DRAWN])) == 0


@pytest.mark.parametrize("pattern", ["third", "flemish", "herringbone"])
def test_no_pattern_draws_a_line_twice(pattern: str, tmp_path: Path) -> None:
    """Every bond on three walls, a door cut through one."""
    made = make(changed(COVERED + DOOR, 'pattern = "english"', f'pattern = "{pattern}"').encode())
    for name in (name for name in made.files if name.startswith("sheets/") and name.endswith(".dxf")):
        read = shapes(made.files[name], tmp_path)
        assert drawn_twice(np.concatenate([chords(read.get(layer, [])) for layer in DRAWN])) == 0


def test_nothing_shorter_than_a_tenth_is_cut(demo: Build, tmp_path: Path) -> None:
    """Chords of lines and arcs as ezdxf reads them, names apart: 0.1 mm at least."""
    for sheet in demo.manifest["sheets"]:
        (tmp_path / "sheet.dxf").write_bytes(demo.files[sheet["file"]])
        for entity in ezdxf.readfile(tmp_path / "sheet.dxf").modelspace():
            if entity.dxf.layer == "NOTES":
                continue
            if entity.dxftype() == "LINE":
                assert entity.dxf.start.distance(entity.dxf.end) >= 0.1 - 1e-5
            else:
                points = np.array(list(entity.get_points("xy")))
                ends = np.vstack([points, points[:1]]) if entity.closed else points
                assert np.linalg.norm(np.diff(ends, axis=0), axis=1).min() >= 0.1 - 1e-5


def test_names_lie_in_the_waste(cistern: Build, tmp_path: Path) -> None:
    """Inside the stock, no stroke of NOTES touches an outline's inside, or leaves the sheet below its upper edge."""
    for sheet in cistern.manifest["sheets"]:
        read = shapes(cistern.files[sheet["file"]], tmp_path)
        width, height = sheet["size"]
        rings = [shapely.Polygon(line) for line in (*read["OUTLINE"], *read.get("HOLES", []))]
        parts = reduce(shapely.symmetric_difference, rings)  # a hole that holds parts is cut on OUTLINE, after them
        strokes = chords(read["NOTES"])
        inside = strokes[(strokes[..., 1] < height - 0.5).all(axis=1) & (strokes[..., 0] < width - 0.5).all(axis=1)]
        written = shapely.MultiLineString(list(inside[(inside > 0.5).all(axis=(1, 2))]))
        assert written.length > 20
        assert not shapely.intersects(written, parts)


def test_every_letter_of_a_part_id_has_strokes_within_its_cell() -> None:
    """Four units wide, six high; none empty but the blank."""
    assert set("abcdefghijklmnopqrstuvwxyz0123456789-") <= set(STROKES)
    for letter in STROKES:
        strokes = letter_strokes(letter, 6.0)
        assert (len(strokes) > 0) == (letter != " ")
        assert ((strokes >= 0) & (strokes <= [4, 6])).all()
    assert len({letter_strokes(letter, 6.0).tobytes() for letter in STROKES}) == len(STROKES)
    assert letter_strokes("a-1", 3.0)[..., 0].max() <= text_width("a-1", 3.0)


def test_a_packed_piece_is_named_by_a_leader_or_on_itself() -> None:
    """Nine squares 1 mm apart: those round the edge by names in the waste, the middle one has none to stand in."""
    squares = [shapely.box(40 + 21 * i, 40 + 21 * j, 60 + 21 * i, 60 + 21 * j) for i in range(3) for j in range(3)]
    labels = place_labels([f"square-{n}" for n in range(9)], squares, (150, 150), 0.0)
    assert [label.on_piece for label in labels] == [n == 4 for n in range(9)]
    everything = shapely.union_all(squares)
    for label in (label for label in labels if not label.on_piece):
        assert everything.disjoint(shapely.MultiLineString(list(label.strokes)))


def test_a_name_that_finds_no_room_beside_its_piece_stands_farther_off_with_a_leader() -> None:
    """A piece at the end of a slot of another: the line leads out of the slot, crosses nothing and ends just short."""
    slotted = shapely.box(10, 10, 110, 100) - shapely.box(58, 90, 61.5, 100)
    piece = shapely.box(58.75, 91, 60.75, 93)
    wall, bit = place_labels(["wall", "bit"], [slotted, piece], (150, 150), 0.0)
    assert not wall.on_piece
    assert not bit.on_piece
    name, leader = bit.strokes[:-1], shapely.LineString(bit.strokes[-1])
    assert len(name) == len(letter_strokes("b", 3.0)) + len(letter_strokes("i", 3.0)) + len(letter_strokes("t", 3.0))
    assert name[..., 1].min() > 100
    assert leader.disjoint(slotted)
    assert 0 < leader.distance(piece) < 1
    assert leader.distance(shapely.MultiLineString(list(name))) < 1


def test_a_name_on_a_piece_is_told_of_above_the_sheet() -> None:
    """A back wall of 135 x 112 mm, hidden edges and all, on a sheet that leaves half a millimetre round it."""
    alone = "".join(f"[{surface}]\nbuild = false\n" for surface in ("left", "right", "floor", "ceiling"))
    for sheet, told in (("[136, 113]", True), ("[160, 120]", False)):
        text = changed(PLAIN, "sheet = [300, 200]", f"sheet = {sheet}\nmargin = 0.5") + alone
        files = make(text.encode()).files
        (drawn,) = [files[name] for name in files if name.startswith("sheets/") and name.endswith(".dxf")]
        assert (b"a name on a part is for its hidden side: do not cut or draw it here" in drawn) == told


def test_what_lies_along_a_drawn_line_is_left_out() -> None:
    """0 to 10 less 2 to 5 is 0 to 2 and 5 to 10; a crossing line stays, and so does one 0.1 mm beside it."""
    drawn = np.array([[[5.0, 0.0], [2.0, 0.0]]])
    lines = np.array([[[0.0, 0], [10, 0]], [[3.0, -1], [3, 1]], [[0.0, 0.1], [10, 0.1]]])
    left = without(lines, drawn)
    assert len(left) == 4
    assert sorted(np.linalg.norm(left[:, 1] - left[:, 0], axis=1)) == pytest.approx([2, 2, 5, 10])


def test_a_mark_that_shares_curves_with_an_outline_becomes_runs() -> None:
    """A D of a half disc and its chord, its arc drawn already: the chord alone is left."""
    disc = curves.arc((0, 0), 5, 0, np.pi)
    mark = (*disc, curves.line((-5, 0), (5, 0)))
    assert runs_without(mark, np.zeros((0, 2, 2)), ()) is None
    runs = runs_without(mark, np.zeros((0, 2, 2)), tuple(curves.reverse(c) for c in disc))
    assert runs is not None
    assert [len(run) for run in runs] == [1]
    assert curves.length(runs[0][0]) == pytest.approx(10)


def test_an_open_mark_is_held_against_curves_too() -> None:
    """A single line, as registers of stencils are: far from the arc it stays, across it as well."""
    arc = curves.arc((0, 0), 5, 0, np.pi)
    assert runs_without((curves.line((20, 0), (30, 0)),), np.zeros((0, 2, 2)), arc) is None
    runs = runs_without((curves.line((-10, 1), (10, 1)),), np.zeros((0, 2, 2)), arc)
    assert runs is None or sum(curves.length(run[0]) for run in runs) == pytest.approx(20, abs=0.5)


def test_a_line_with_weights_is_shortened_where_the_drawn_one_ends() -> None:
    """A relief leaves lines with weights: half the parameter is not half the length. 0 to 10 less 4 to 10 is 0 to 4."""
    weighted = curves.Curve(np.array([[0.0, 0.0, 1.0], [5.0, 0.0, 0.5]]))
    assert weighted.end.tolist() == [10.0, 0.0]
    mark = (weighted, curves.line((10, 0), (10, 5)), curves.line((10, 5), (0, 0)))
    runs = runs_without(mark, np.array([[[4.0, 0.0], [10.0, 0.0]]]), ())
    assert runs is not None
    (run,) = runs
    assert run[0].start == pytest.approx([10.0, 0.0])
    assert run[-1].end == pytest.approx([4.0, 0.0])


def test_bridges_stand_on_long_hidden_edges() -> None:
    """Of 40 x 10 with its lower edge alone against a part, two bridges stand there at a third and two thirds."""
    path = curves.polygon([(0, 0), (40, 0), (40, 10), (0, 10)])
    border = tuple(Edge(curve, "floor" if number == 0 else "") for number, curve in enumerate(path))
    runs = bridged(path, border, away=0.0, width=0.6, count=2)
    gaps = sorted((float(a[-1].end[0]), float(b[0].start[0])) for a, b in zip(runs, runs[1:] + runs[:1], strict=True))
    assert np.array(gaps) == pytest.approx(np.array([[40 / 3 - 0.3, 40 / 3 + 0.3], [80 / 3 - 0.3, 80 / 3 + 0.3]]))
    assert sum(curves.length(curve) for run in runs for curve in run) == pytest.approx(100 - 1.2)


def test_bridges_are_gaps_of_the_written_outlines(tmp_path: Path) -> None:
    """GDAL's outlines of a sheet with bridges are shorter by two widths a part than those without."""
    lengths = []
    for asked in ("", "\n[make]\nbridges = 0.5\n"):
        made = make((COVERED + DOOR + asked).encode())
        read = [shapes(made.files[f"{sheet.file}.dxf"], tmp_path)["OUTLINE"] for sheet in made.sheets]
        lengths.append(sum(line.length for lines in read for line in lines))
        parts = sum(len(sheet.placed) for sheet in made.sheets)
    assert lengths[0] - lengths[1] == pytest.approx(parts * 2 * 0.5, abs=1e-3)
