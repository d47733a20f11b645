"""What is wrong with cut lines is counted, and nothing else: written drawings made by hand."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from pipeline.checks.panel_outline import SAME, SHORTEST, faults
from pipeline.checks.written import WrittenDrawing, WrittenLayer, WrittenPolyline, WrittenSpline

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


def polyline(*corners: tuple[float, float], closed: bool = True) -> WrittenPolyline:
    return WrittenPolyline(points=np.array([(x, y, 0.0) for x, y in corners]), closed=closed)


def spline(*corners: tuple[float, float], closed: bool = True) -> WrittenSpline:
    """Return straight lines through the corners, as a spline of degree 1."""
    inner = np.arange(len(corners), dtype=float)
    return WrittenSpline(
        degree=1,
        flags=int(closed),
        knots=np.concatenate([[inner[0]], inner, [inner[-1]]]),
        weights=np.ones(len(corners)),
        control=np.array(corners),
    )


def drawing(**layers: WrittenLayer) -> WrittenDrawing:
    return WrittenDrawing(layers=layers, insunits=4, measurement=1)


def test_nothing_drawn_has_no_faults() -> None:
    """No layer, and layers with nothing on them."""
    assert faults(drawing()) == []
    assert faults(drawing(OUTLINE=WrittenLayer(), HOLES=WrittenLayer(), GUIDE=WrittenLayer())) == []


@pytest.mark.parametrize("layer", ["OUTLINE", "HOLES"])
def test_loose_lines_and_open_outlines_are_told_with_their_layer(layer: str) -> None:
    """Two lines, an open polyline, and a spline of each kind that is open: by its flag, or by its ends."""
    lines = WrittenLayer(lines=np.zeros((2, 2, 2)))
    assert faults(drawing(**{layer: lines})) == [f"2 loose lines on {layer}"]
    assert faults(drawing(**{layer: WrittenLayer(polylines=(polyline(*SQUARE),))})) == []
    opened = WrittenLayer(polylines=(polyline(*SQUARE, closed=False),))
    assert faults(drawing(**{layer: opened})) == [f"an open outline on {layer}"]
    ring = (*SQUARE, SQUARE[0])
    assert faults(drawing(**{layer: WrittenLayer(splines=(spline(*ring),))})) == []
    assert faults(drawing(**{layer: WrittenLayer(splines=(spline(*ring, closed=False),))})) == [
        f"an open spline on {layer}"
    ]


@pytest.mark.parametrize(("apart", "wrong"), [(0.9 * SAME, []), (1.1 * SAME, ["an open spline on OUTLINE"])])
def test_a_spline_is_closed_where_its_ends_agree(apart: float, wrong: list[str]) -> None:
    """To SAME, away from the origin too."""
    corners = [(x + 30, y + 50) for x, y in (*SQUARE, (apart, 0.0))]
    assert faults(drawing(OUTLINE=WrittenLayer(splines=(spline(*corners),)))) == wrong


@pytest.mark.parametrize(("length", "count"), [(0.99 * SHORTEST, 1), (1.01 * SHORTEST, 0)])
def test_pieces_too_short_are_counted(length: float, count: int) -> None:
    """One corner of a square cut off, by a piece just under or just over the shortest."""
    side = length / np.sqrt(2)
    corners = ((side, 0.0), *SQUARE[1:], (0.0, side))
    layer = WrittenLayer(polylines=(polyline(*((x + 30, y + 50) for x, y in corners)),))
    expected = [f"{count} pieces shorter than 0.1 mm on OUTLINE"] if count else []
    assert faults(drawing(OUTLINE=layer)) == expected


def test_outlines_that_meet_are_told_by_pairs() -> None:
    """A hole across the outline's edge, as a polyline or a spline; one within it is no fault."""

    def either(corners: tuple[tuple[float, float], ...]) -> tuple[WrittenLayer, WrittenLayer]:
        return WrittenLayer(polylines=(polyline(*corners),)), WrittenLayer(splines=(spline(*corners, corners[0]),))

    for x, wrong in ((4.0, []), (9.0, ["two outlines touch, cross or run on one another"])):
        hole = ((x, 4.0), (x, 6.0), (x + 2, 6.0), (x + 2, 4.0))
        for outline, holes in product(either(SQUARE), either(hole)):
            assert faults(drawing(OUTLINE=outline, HOLES=holes)) == wrong


def test_all_faults_are_told_together() -> None:
    """Of every layer, in their order."""
    twice = WrittenLayer(lines=np.array([[(0.0, 0.0), (5.0, 5.0)]] * 2))
    loose = WrittenLayer(lines=np.zeros((1, 2, 2)), polylines=(polyline(*SQUARE, closed=False),))
    assert faults(drawing(OUTLINE=loose, GUIDE=twice)) == [
        "1 loose lines on OUTLINE",
        "an open outline on OUTLINE",
        "1 guides are drawn twice",
    ]


def test_an_outline_that_crosses_itself_is_told_by_its_number() -> None:
    """The second of two, a bow tie."""
    tie = ((20.0, 0.0), (30.0, 10.0), (30.0, 0.0), (20.0, 10.0))
    layer = WrittenLayer(polylines=(polyline(*SQUARE), polyline(*tie)))
    assert faults(drawing(OUTLINE=layer)) == ["outline 2 crosses itself"]


@pytest.mark.parametrize("end", [(5.0, 0.0), (0.0, 5.0), (5.0, 5.0), (5.0, -5.0)], ids=str)
def test_a_guide_drawn_back_and_forth_is_drawn_twice(end: tuple[float, float]) -> None:
    """Level, upright, rising or falling; from 1, 1 either way, to SAME; a third time counts again."""
    start = np.array([1.0, 1.0])
    there = np.array([start, start + end])
    back = there[::-1] + 0.2 * SAME
    other = there + np.array([0.0, 3.0])
    for lines, times in (([there], 0), ([there, other], 0), ([there, other, back], 1), ([back, there, there], 2)):
        expected = [f"{times} guides are drawn twice"] if times else []
        assert faults(drawing(GUIDE=WrittenLayer(lines=np.array(lines)))) == expected


def test_guides_that_lie_across_one_another_are_two() -> None:
    """The diagonals of a square have the same two abscissae and the same two ordinates."""
    lines = np.array([[(0.0, 0.0), (5.0, 5.0)], [(0.0, 5.0), (5.0, 0.0)]])
    assert faults(drawing(GUIDE=WrittenLayer(lines=lines))) == []
