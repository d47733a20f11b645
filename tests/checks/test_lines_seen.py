"""The steps by which written lines are compared with imagined ones, each on lines whose figures are plain."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import panel_faithful as check
from pipeline.checks.written import WrittenDrawing, WrittenLayer, WrittenPolyline, WrittenSpline, spline_points
from pipeline.geometry import curves
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.model import Panel

from ..scene_text import PLAIN

Array = NDArray[np.float64]

SQUARE = [(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)]


def line(*ends: tuple[float, float]) -> Array:
    return np.array(ends)


def test_points_are_seen_where_rays_to_them_pass_the_opening() -> None:
    """Similar triangles: D / (D + y) of what it is off the eye's axis; a point of the opening stays where it is."""
    eye = np.array([5.0, -400.0, 70.0])
    lines = np.array([[[25.0, 0.0, 90.0], [25.0, 100.0, 95.0]]])
    assert check.seen(lines, eye).tolist() == [[[20.0, 20.0], [16.0, 20.0]]]


@pytest.mark.parametrize("turned", [0, 30, 90, 180, 225])
@pytest.mark.parametrize("backward", [False, True], ids=["", "fold drawn backward"])
def test_a_fold_is_bent_where_the_sheet_is(turned: int, backward: bool) -> None:
    """10 mm of the sheet lie level before the fold; behind it the sheet rises 3 in 5. Whichever way the drawing lies,
    and whichever way its fold is drawn, the leaf nearer the opening is the near one."""
    near, far = np.eye(4), np.eye(4)
    far[1:3, 1:] = [[0.8, -0.6, 2.0], [0.6, 0.8, -6.0]]  # (x, y) to (x, 10 + 0.8 (y - 10), 0.6 (y - 10))
    flat = np.array([[[1.0, 2.0], [3.0, 10.0]], [[1.0, 10.0], [1.0, 15.0]], [[0.0, 20.0], [9.0, 20.0]]])
    fold = line((0.0, 10.0), (50.0, 10.0))
    cos, sin = math.cos(math.radians(turned)), math.sin(math.radians(turned))
    turn = np.array([[cos, sin], [-sin, cos]])  # points are rows
    flat, fold = flat @ turn, fold @ turn
    near[:, :2], far[:, :2] = near[:, :2] @ turn, far[:, :2] @ turn
    if backward:
        fold = fold[::-1]
    entry = {"built_from_flat": far.tolist(), "fold": {"line": fold.tolist(), "near_from_flat": near.tolist()}}
    expected = [[[1, 2, 0], [3, 10, 0]], [[1, 10, 0], [1, 14, 3]], [[0, 18, 6], [9, 18, 6]]]
    assert check.place(flat, entry) == pytest.approx(np.array(expected, dtype=float), abs=1e-12)
    assert check.place(np.zeros((0, 2, 2)), entry).shape == (0, 2, 3)
    level = check.place(flat, {"built_from_flat": far.tolist()})
    assert level[2] == pytest.approx(np.array(expected[2], dtype=float), abs=1e-12)
    assert level[0, 0] == pytest.approx([1, 10 - 0.8 * 8, -0.6 * 8], abs=1e-12)


def edge(start: tuple[float, float], end: tuple[float, float], back: float) -> dict[str, Any]:
    return {"start": list(start), "end": list(end), "back": back}


def test_lines_of_an_edge_that_stands_back_are_moved_to_where_it_is_seen_to_end() -> None:
    """Square out of the sheet, whose material lies on the left of the edge; of each chord only its middle half counts.
    What lies beside the edge, or on its line past its ends, stays."""
    chords = np.array(
        [
            [(4.0, 0.0), (8.0, 0.0)],  # on the lower edge, 2 mm back
            [(36.0, 0.09), (32.0, -0.09)],  # on it but for tidied steps
            [(41.0, 0.0), (49.0, 0.0)],  # on its line, past its end
            [(-6.0, 0.0), (-2.0, 0.0)],  # and before its start
            [(4.0, 0.0), (8.0, 0.2)],  # beside it with one end
            [(40.0, 31.0), (40.0, 39.0)],  # past the right edge's end
            [(40.0, 8.0), (40.0, 4.0)],  # on the right edge, 0.5 mm past where it is seen to end
        ]
    )
    found = check._forward(chords, [edge((0, 0), (40, 0), 2.0), edge((40, 0), (40, 30), -0.5)])
    expected = [
        [(5.0, -2.0), (7.0, -2.0)],
        [(35.0, 0.045 - 2), (33.0, -0.045 - 2)],
        [(43.0, 0.0), (47.0, 0.0)],
        [(-5.0, 0.0), (-3.0, 0.0)],
        [(5.0, 0.05), (7.0, 0.15)],
        [(40.0, 33.0), (40.0, 37.0)],
        [(39.5, 7.0), (39.5, 5.0)],
    ]
    assert found == pytest.approx(np.array(expected), abs=1e-12)
    assert chords[0].tolist() == [[4, 0], [8, 0]], "what was given is not changed"


def test_lines_are_drawn_out_both_ways_by_as_much() -> None:
    """5 mm by 2; one without a direction stays."""
    found = check._lengthened(np.array([[(1.0, 1.0), (4.0, 5.0)], [(2.0, 2.0), (2.0, 2.0)]]), 2.0)
    assert found == pytest.approx(np.array([[(-0.2, -0.6), (5.2, 6.6)], [(2, 2), (2, 2)]]), abs=1e-12)


def test_lines_along_the_fold_are_no_border() -> None:
    """Within CHORD_MM of it with both ends; without a fold all count."""
    off = 2 * check.CHORD_MM
    chords = np.array(
        [
            [(3.0, 4.0 + off / 4), (6.0, 8.0)],
            [(3.0, 4.0 + off), (6.0, 8.0)],
            [(3.0, 4.0), (6.0, 8.0 - off)],
            [(3.0, 4.0 + 2 * off), (6.0, 8.0 + 2 * off)],
        ]
    )
    fold = {"fold": {"line": [[0.0, 0.0], [30.0, 40.0]]}}
    assert check._off_fold(chords, fold).tolist() == chords[1:].tolist()
    assert check._off_fold(chords, {}).tolist() == chords.tolist()


def test_steps_between_edges_that_stand_back_unlike_are_no_border() -> None:
    """The short line from one edge's end to the next one's start, drawn either way; not where both stand back alike,
    and not where they all but meet."""
    entry = {
        "edges": [
            edge((0, 0), (40, 0), 2.0),
            edge((40, 1), (40, 30), 0.0),  # a step of 1 mm before it
            edge((39, 30), (0, 30), 0.0),  # a gap, but both alike
            edge((0, 29.95), (0, 0.5), 2.0),  # a step of 0.05, tidied away; and one of 0.5 to the first, alike
        ]
    }
    steps = [line((40, 0), (40, 1)), line((40, 1.05), (40, 0.05))]
    others = [
        line((40, 30), (39, 30)),
        line((0, 30), (0, 29.95)),
        line((0, 0.5), (0, 0)),
        line((40, 0), (40, 2)),
        line((0, 0), (40, 0)),
    ]
    kept = check._off_steps(np.array([*steps, *others]), entry)
    assert kept.tolist() == [one.tolist() for one in others]
    entry["edges"][3]["end"], entry["edges"][3]["back"] = [0, 0.5], 1.0
    kept = check._off_steps(np.array([*steps, *others]), entry)
    assert kept.tolist() == [one.tolist() for one in others if one.tolist() != [[0, 0.5], [0, 0]]], "last and first too"


def test_nothing_against_nothing_is_true_and_against_something_is_missing() -> None:
    """Half a turn either way."""
    none, some = np.zeros((0, 2, 2)), np.array([[(0.0, 0.0), (1.0, 0.0)]])
    assert check.two_way_arcmin(none, none, 400.0) == 0.0
    assert check.two_way_arcmin(none, some, 400.0) == check.two_way_arcmin(some, none, 400.0) == 10800.0


@pytest.mark.parametrize("share", [0.9, 1.1])
def test_line_by_line_and_by_search_the_figure_is_the_same(share: float) -> None:
    """Two lines, the second moved square to itself by 3-4-5ths of the limit at the eye: below it their ends are
    compared, above it the nearest lines are searched for."""
    distance = 420.0
    off = share * math.radians(check.LIMIT_ARCMIN / 60) * distance
    true = np.array([[(0.0, 0.0), (8.0, 0.0)], [(0.0, 3.0), (4.0, 0.0)]])
    moved = true + np.array([[[0.0, 0.0]], [[0.6 * off, 0.8 * off]]])
    assert check.two_way_arcmin(moved, true, distance) == pytest.approx(share * check.LIMIT_ARCMIN, rel=1e-9)
    more = np.concatenate([moved, moved[:1]])
    assert check.two_way_arcmin(more, true, distance) == pytest.approx(share * check.LIMIT_ARCMIN, rel=1e-9)


def test_the_limit_itself_passes() -> None:
    """Said with three digits, and what is off with two."""
    good = check.verdict("id", "part", "lines", check.LIMIT_ARCMIN)
    bad = check.verdict("id", "part", "lines", 0.51)
    assert (good.status, good.message) == ("pass", "lines are seen within 0.500 arc minutes of the imagined lines")
    assert (bad.status, bad.value, bad.limit, bad.unit) == ("fail", 0.51, 0.5, "arcmin")
    assert bad.message.startswith("lines are seen 0.51 arc minutes off the imagined lines; do not cut this")


def test_distances_are_those_to_the_nearest_place_of_a_line() -> None:
    """By shapely, for chance points and lines, one of them a point."""
    rng = np.random.default_rng(2)
    points, lines = rng.normal(size=(6, 5, 2)), rng.normal(size=(6, 3, 2, 2))
    lines[2, 1, 1] = lines[2, 1, 0]
    expected = shapely.distance(shapely.points(points)[:, :, None], shapely.linestrings(lines)[:, None, :])
    assert check._distances(points, lines) == pytest.approx(expected, abs=1e-12)


@pytest.fixture(scope="module")
def panel() -> Panel:
    return next(panel for panel in make(PLAIN.encode()).panels if panel.id == "back-wall")


def plate(*holes: list[tuple[float, float]]) -> Region:
    return Region(loop_of(curves.polygon(SQUARE)), tuple(loop_of(curves.polygon(hole)) for hole in holes))


HOLE = [(10.0, 10.0), (10.0, 20.0), (15.0, 20.0), (15.0, 10.0)]
OTHER = [(25.0, 10.0), (25.0, 20.0), (30.0, 20.0), (30.0, 10.0)]


def polyline(corners: list[tuple[float, float]]) -> WrittenPolyline:
    return WrittenPolyline(points=np.array([(x, y, 0.0) for x, y in corners]), closed=True)


SPLINE = WrittenSpline(
    degree=2,
    flags=0,
    knots=np.array([0.0, 0, 0, 1, 1, 2, 2, 2]),
    weights=np.array([1, math.sqrt(0.5), 1, math.sqrt(0.5), 1]),
    control=20 * np.array([[1.0, 0], [1, 1], [0, 1], [-1, 1], [-1, 0]]),
)
"""Half a circle of 20 mm about the origin."""


def test_as_many_holes_must_be_written_as_were_imagined(panel: Panel) -> None:
    """Splines and polylines together."""
    two = WrittenLayer(polylines=(polyline(HOLE),), splines=(SPLINE,))
    for holes, layer, same in (
        ((HOLE, OTHER), two, True),
        ((HOLE,), two, False),
        ((), None, True),
        ((HOLE,), None, False),
    ):
        layers = {} if layer is None else {"HOLES": layer}
        drawing = WrittenDrawing(layers=layers, insunits=4, measurement=1)
        assert check._same_holes(drawing, replace(panel, region=plate(*holes))) == same


def test_everything_on_the_cut_layers_is_outline() -> None:
    """Polylines with the line that closes them, splines as chords, loose lines; holes alone where that is asked."""
    layers = {
        "OUTLINE": WrittenLayer(polylines=(polyline(SQUARE),), lines=np.array([[(1.0, 1.0), (2.0, 2.0)]])),
        "HOLES": WrittenLayer(polylines=(polyline(HOLE),)),
        "GUIDE": WrittenLayer(lines=np.array([[(3.0, 3.0), (4.0, 4.0)]])),
    }
    drawing = WrittenDrawing(layers=layers, insunits=4, measurement=1)
    around = [[SQUARE[k], SQUARE[(k + 1) % 4]] for k in range(4)]
    inside = [[HOLE[k], HOLE[(k + 1) % 4]] for k in range(4)]
    assert check.flat_outline(drawing, False) == pytest.approx(np.array([*around, [(1, 1), (2, 2)], *inside]))
    assert check.flat_outline(drawing, True) == pytest.approx(np.array(inside))
    assert check._guides(drawing).tolist() == [[[3, 3], [4, 4]]]
    assert check._guides(WrittenDrawing(layers={}, insunits=4, measurement=1)).shape == (0, 2, 2)


def test_chords_of_a_spline_keep_to_it() -> None:
    """A circle of 20 mm: no chord's middle is farther inside than CHORD_MM, and both knots and ends are met."""
    chords = check.chords_of(
        WrittenDrawing(layers={"OUTLINE": WrittenLayer(splines=(SPLINE,))}, insunits=4, measurement=1), ("OUTLINE",)
    )
    assert np.hypot(*chords.reshape(-1, 2).T) == pytest.approx(20.0, rel=1e-12)
    assert np.hypot(*chords.mean(axis=1).T).min() > 20 - check.CHORD_MM
    assert chords[0, 0].tolist() == [20, 0]
    assert chords[-1, 1] == pytest.approx([-20, 0], abs=1e-12)
    assert (chords[1:, 0] == chords[:-1, 1]).all()
    assert spline_points(SPLINE, np.array([1.0])).tolist() in chords[:, :1].round(12).tolist()


def test_holes_that_are_not_cut_square_are_left_out_under_a_finish(panel: Panel) -> None:
    """Their written lines go, within NEAR_MM; those of square holes and the rest stay."""
    wider = [(x + (0.01 if x > 12 else 0.0), y) for x, y in OTHER]
    fewer = HOLE[:3]
    square = replace(panel, cut=plate(HOLE, OTHER), hidden=plate(HOLE, OTHER))
    lines = np.array([[a, b] for hole in (HOLE, OTHER) for a, b in zip(hole, [*hole[1:], hole[0]], strict=True)])
    assert check._bevelled(square) == []
    assert check._beside_bevelled(lines, square).tolist() == lines.tolist()
    for hidden in (plate(HOLE, wider), plate(HOLE, OTHER[:3])):
        bevelled = replace(square, hidden=hidden)
        assert check._bevelled(bevelled) == [1]
        aside = lines + np.array([0.0, 0.8 * check.NEAR_MM])
        beside = lines + np.array([0.0, 1.5 * check.NEAR_MM])
        assert check._beside_bevelled(aside, bevelled).tolist() == aside[:4].tolist()
        # Level ones stand off by the whole of it, upright ones slide along themselves.
        assert check._beside_bevelled(beside, bevelled)[:4].tolist() == beside[:4].tolist()
        assert len(check._beside_bevelled(beside, bevelled)) == 6
    assert check._bevelled(replace(square, hidden=plate(fewer, OTHER))) == [0]
