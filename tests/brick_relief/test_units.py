"""The units of a cover lie between its guides."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
import shapely

from pipeline.elements.covers import CoverTable, lay_cover, lay_units
from pipeline.elements.covers.table import Pattern
from tests.covers.wall import all_lines, assert_equal, cells

WALL = (4500.0, 3000.0)
"""mm, at 1:1: whole bricks both ways (20 of 225 mm, 40 courses of 75 mm)."""


def units(table: CoverTable, extent: tuple[float, float] = WALL, *, level: bool = False) -> shapely.MultiPolygon:
    """Return the units as polygons."""
    return shapely.MultiPolygon(list(shapely.polygons(lay_units(table, 1.0, *extent, level=level))))


@pytest.mark.parametrize("level", [False, True])
@pytest.mark.parametrize("pattern", get_args(Pattern))
def test_a_unit_is_its_cell_less_half_a_joint_all_round(pattern: Pattern, *, level: bool) -> None:
    """Guides run along the middles of joints of 10 mm, so a cell between guides is the unit and 5 mm round it."""
    table = CoverTable(pattern=pattern)
    laid = units(table, level=level).geoms
    tree = shapely.STRtree(laid)
    inner = cells(lay_cover(table, 1.0, *WALL, level=level), *WALL)
    assert len(inner) > 300
    for cell in inner:
        within = tree.query(cell, predicate="contains")
        assert len(within) == 1, cell.wkt
        expected = cell.buffer(-5.0, join_style="mitre")
        # Cells are noded on a grid of a millionth of a millimetre; 1000 of it over a unit's border.
        assert expected.symmetric_difference(laid[within[0]]).area < 1e-3


@pytest.mark.parametrize("pattern", get_args(Pattern))
def test_no_guide_touches_a_unit(pattern: Pattern) -> None:
    """Also at the borders of the face, where cells are cut."""
    table = CoverTable(pattern=pattern, fit_gauge=pattern != "herringbone")
    extent = (3333.0, 2222.0)
    tree = shapely.STRtree(units(table, extent).geoms)
    lines = shapely.linestrings(all_lines(lay_cover(table, 1.0, *extent)))
    assert tree.query(lines, predicate="intersects").size == 0


@pytest.mark.parametrize("pattern", get_args(Pattern))
def test_units_run_counter_clockwise_and_apart(pattern: Pattern) -> None:
    """Between any two there is a joint of 10 mm."""
    table = CoverTable(pattern=pattern)
    laid = np.array(units(table, (2000.0, 1500.0)).geoms)
    assert shapely.is_ccw(shapely.get_exterior_ring(laid)).all()
    tree = shapely.STRtree(laid)
    one, two = tree.query(laid, predicate="dwithin", distance=9.999)
    assert_equal(two, one)


def test_stretchers_count_sixty_to_the_square_metre() -> None:
    """Half-brick wall of 215 x 102.5 x 65 mm with 10 mm joints: 60 to the m2 (Brick Development Association).

    Rounded up: the coordinating size is 225 x 75 mm, so 20 to a course of 4.5 m and 40 courses to 3 m.
    """
    boxes = shapely.bounds(np.array(units(CoverTable(pattern="running")).geoms))
    count = ((boxes[:, 2] - boxes[:, 0] + 10) / 225).sum()
    # Odd courses begin and end with a half, one joint over: the wall ends where that joint would begin.
    assert_equal(count, 20 * 40 + 20 * 10 / 225)
    assert math.ceil(count / (4.5 * 3.0)) == 60


def test_a_wall_in_english_bond_by_courses() -> None:
    """20 header courses of 39 headers, a queen closer and what is left of the last; 20 of 20 stretchers."""
    boxes = shapely.bounds(np.array(units(CoverTable(pattern="english")).geoms))
    course = [np.sort((boxes[:, 2] - boxes[:, 0])[np.isclose(boxes[:, 1], 75.0 * n)]) for n in (0, 1)]
    assert_equal(course[0], [46.25, 56.25, *[102.5] * 39])
    assert_equal(course[1], [215.0] * 20)
    assert len(boxes) == 20 * (len(course[0]) + len(course[1]))


def test_fitted_courses_keep_the_height_of_their_bricks() -> None:
    """Only the beds give: 2222 mm takes 30 courses of 74.07 mm, so the joints are 9.07 mm."""
    boxes = shapely.bounds(np.array(units(CoverTable(fit_gauge=True), (1000.0, 2222.0)).geoms))
    heights = boxes[:, 3] - boxes[:, 1]
    assert len(np.unique(np.round(boxes[:, 1], 6))) == 30
    # The first course has no bed below it, the others half of one on either side.
    assert_equal(heights, np.full(len(heights), 65.0))
