"""Parts on stock: apart, inside, the same every time, and as few sheets as one would expect."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity

from pipeline.geometry.frames import moved
from pipeline.sheets.nesting import CELL, TURNS, Layout, _turns, nest

STOCK = (300.0, 200.0)


def laid(parts: list[shapely.Polygon], layout: Layout) -> dict[int, list[shapely.Polygon]]:
    """Return the parts where they lie, by sheet."""
    sheets: dict[int, list[shapely.Polygon]] = {}
    for one in layout.placed:
        m = one.sheet_from_flat
        moved = affinity.affine_transform(parts[one.part], [m[0, 0], m[0, 1], m[1, 0], m[1, 1], m[0, 2], m[1, 2]])
        sheets.setdefault(one.sheet, []).append(moved)
    return sheets


@st.composite
def trapezoids(draw: st.DrawFn) -> shapely.Polygon:
    width, height = draw(st.floats(8, 180)), draw(st.floats(8, 120))
    lean = draw(st.floats(0, 0.35)) * width
    return affinity.translate(
        shapely.Polygon([(0, 0), (width, 0), (width - lean, height), (lean, height)]), draw(st.floats(-50, 50)), 3.0
    )


@settings(max_examples=25, deadline=None)
@given(st.lists(trapezoids(), min_size=1, max_size=14), st.sampled_from([0.5, 2.0, 5.0]), st.booleans())
def test_parts_keep_apart_and_inside(parts: list[shapely.Polygon], spacing: float, turns: bool) -> None:
    """Every pair at least the spacing apart, everything inside the margin, nothing mirrored, nothing lost."""
    layout = nest(parts, STOCK, spacing=spacing, margin=6.0, turns=turns)
    assert {one.part for one in layout.placed} | set(layout.left_over) == set(range(len(parts)))
    for pieces in laid(parts, layout).values():
        for i, a in enumerate(pieces):
            low_x, low_y, high_x, high_y = a.bounds
            assert min(low_x, low_y) >= 6 - 1e-6
            assert high_x <= 294 + 1e-6
            assert high_y <= 194 + 1e-6
            assert all(a.distance(b) >= spacing - 1e-9 for b in pieces[:i])
    for one in layout.placed:
        turn = one.sheet_from_flat[:2, :2]
        assert np.linalg.det(turn) == pytest.approx(1.0)
        if not turns:
            assert abs(turn[0, 0]) == 1


def test_a_small_part_goes_into_the_hole_of_a_large_one() -> None:
    """A frame as large as the sheet leaves its inside for others."""
    frame = shapely.box(0, 0, 280, 180).difference(shapely.box(40, 40, 240, 140))
    layout = nest([frame, shapely.box(0, 0, 90, 60)], STOCK, spacing=2, margin=5)
    assert len(layout.sheets) == 1


def test_too_large_a_part_is_left_over() -> None:
    """Neither way round."""
    layout = nest([shapely.box(0, 0, 310, 20), shapely.box(0, 0, 20, 20)], STOCK, spacing=2, margin=5)
    assert layout.left_over == (0,)
    assert [one.part for one in layout.placed] == [1]


def test_the_same_parts_lie_the_same() -> None:
    """A pure function of outlines, stock and settings."""
    parts = [shapely.box(0, 0, 20 + i * 7, 15 + i * 3) for i in range(12)]
    a, b = (nest(parts, STOCK, spacing=2, margin=5) for _ in range(2))
    assert all(np.array_equal(x.sheet_from_flat, y.sheet_from_flat) for x, y in zip(a.placed, b.placed, strict=True))


def test_a_sheetful_of_squares_fits_a_sheet() -> None:
    """28 squares of 40 with 1 mm between (and the cells' 1 mm) fill 290 x 190 but for one row: 6 x 4 at least."""
    layout = nest([shapely.box(0, 0, 40, 40)] * 24, STOCK, spacing=1, margin=5)
    assert len(layout.sheets) == 1


def test_offcuts_are_used_before_a_sheet_is_begun() -> None:
    """Two squares of 60 go on two offcuts of 80 x 70, a third on a sheet; an offcut nothing fits is not listed."""
    layout = nest([shapely.box(0, 0, 60, 60)] * 3, STOCK, spacing=2, margin=5, offcuts=[(20, 20), (80, 70), (80, 70)])
    assert layout.sheets == ((80, 70), (80, 70), STOCK)
    assert sorted(one.sheet for one in layout.placed) == [0, 1, 2]


def test_a_part_may_fit_an_offcut_alone() -> None:
    """A strip of 320 is longer than the stock, not than a long offcut."""
    layout = nest([shapely.box(0, 0, 320, 20)], STOCK, spacing=2, margin=5, offcuts=[(340, 40)])
    assert layout.sheets == ((340, 40),)
    assert layout.left_over == ()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-30, 60), st.floats(-30, 60)), min_size=4, max_size=9, unique=True))
def test_the_cells_of_a_turned_part_are_those_shapely_finds(points: list[tuple[float, float]]) -> None:
    """A cell belongs to a part if its middle lies inside the part grown by the reach, holes and all turns."""
    part = shapely.MultiPoint(points).convex_hull
    assume(part.geom_type == "Polygon" and part.area > 50)
    part = part.difference(part.centroid.buffer(0.3 * part.area**0.5))
    assume(part.geom_type == "Polygon")
    for way in _turns(part, TURNS, 1.9, 3):
        grown = moved(part.buffer(1.9, quad_segs=8), way.to_corner)
        row, column = np.indices(way.cells.shape)
        x, y = (column - 2.5) * CELL, (row - 2.5) * CELL
        clear = np.asarray(shapely.distance(shapely.points(x, y), grown.boundary)) > 1e-9
        assert np.array_equal(way.cells[clear], np.asarray(shapely.contains_xy(grown, x, y))[clear])
