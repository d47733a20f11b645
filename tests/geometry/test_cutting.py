"""One region out of another, against areas in closed form and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.cutting import CutError, subtract
from pipeline.geometry.heads import head_path
from pipeline.geometry.regions import Edge, Region, path_of

WALL = Region(
    tuple(
        Edge(c, a)
        for c, a in zip(
            curves.polygon([(0, 0), (100, 0), (100, 60), (0, 60)]), ("floor", "back", "ceiling", ""), strict=True
        )
    )
)


def area(region: Region) -> float:
    return sum(curves.signed_area(path_of(loop)) for loop in region.loops)


def arch(middle: float, sill: float, width: float, straight: float) -> Path:
    """Return a round-headed opening of a given straight height."""
    left, right, spring = middle - width / 2, middle + width / 2, sill + straight
    shift = np.array([[1.0, 0, middle], [0, 1, spring], [0, 0, 1]])
    over = curves.transform_path(head_path("round", width, width / 2), shift)
    jambs = [curves.line((left, sill), (right, sill)), curves.line((right, sill), (right, spring))]
    return (*jambs, *over, curves.line((left, spring), (left, sill)))


def test_a_hole_takes_its_area() -> None:
    """A half circle on a rectangle has pi r^2 / 2 + b h."""
    left = subtract(WALL, arch(50, 10, 20, 15), "door")
    assert len(left.holes) == 1
    assert area(left) == pytest.approx(6000 - 300 - math.pi * 50, abs=1e-9)
    assert {edge.against for edge in left.holes[0]} == {"door"}


def test_an_opening_on_the_floor_becomes_a_notch() -> None:
    """A hole that touches an edge is a notch of the outline, and the edge it took is gone."""
    left = subtract(WALL, arch(50, 0, 20, 15), "door")
    assert left.holes == ()
    assert area(left) == pytest.approx(6000 - 300 - math.pi * 50, abs=1e-9)
    floor = [edge.curve for edge in left.outline if edge.against == "floor"]
    assert sum(curves.length(curve) for curve in floor) == pytest.approx(80)


def test_a_half_circle_on_the_floor_has_no_jambs() -> None:
    """A round head that springs from the floor leaves an arc between two straight pieces."""
    over = curves.transform_path(head_path("round", 20, 10), np.array([[1.0, 0, 50], [0, 1, 0], [0, 0, 1]]))
    left = subtract(WALL, (curves.line((40, 0), (60, 0)), *over), "drain")
    assert area(left) == pytest.approx(6000 - math.pi * 50, abs=1e-9)


def test_curves_of_the_cut_stay_exact() -> None:
    """The new edges are the cut's own control points run backwards, not chords."""
    cut = arch(50, 10, 20, 15)
    bent = [edge.curve for edge in subtract(WALL, cut, "door").holes[0] if not edge.curve.straight]
    assert len(bent) == 2
    for curve in bent:
        radius = np.linalg.norm(curves.evaluate(curve, np.linspace(0, 1, 9)) - (50, 25), axis=1)
        assert radius == pytest.approx(np.full(9, 10.0), abs=1e-12)


def test_two_notches_and_a_hole_keep_apart() -> None:
    """Cuts one after the other leave one outline and one hole."""
    left = subtract(subtract(subtract(WALL, arch(20, 0, 10, 5), "a"), arch(80, 0, 10, 5), "b"), arch(50, 20, 8, 8), "c")
    assert len(left.holes) == 1
    assert [edge.against for edge in left.outline].count("floor") == 3


def test_a_notch_in_a_corner_takes_the_corner() -> None:
    """A cut along two edges leaves an L."""
    left = subtract(WALL, curves.polygon([(90, 0), (100, 0), (100, 20), (90, 20)]), "door")
    assert area(left) == pytest.approx(5800)
    assert len(left.outline) == 6


def test_a_cut_from_floor_to_ceiling_is_refused() -> None:
    """A wall in two pieces is not one panel."""
    with pytest.raises(CutError, match="2 pieces"):
        subtract(WALL, curves.polygon([(40, 0), (60, 0), (60, 60), (40, 60)]), "gap")


def test_a_cut_of_everything_is_refused() -> None:
    """Nothing is left of a wall that is all opening."""
    with pytest.raises(CutError, match="nothing"):
        subtract(WALL, curves.polygon([(0, 0), (100, 0), (100, 60), (0, 60)]), "gap")


NEARLY = (0.0, 1e-13, 4e-8, 1e-7, 3e-7, 1e-6, 1.9e-6, 2e-6, 3e-6, 1e-5)
"""mm by which a cut misses an edge or a corner: below, between and above what counts as touching."""


@pytest.mark.parametrize("u", NEARLY)
@pytest.mark.parametrize("v", NEARLY)
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("beside", [0.0, 5.0, -5.0])
def test_a_cut_that_all_but_touches_an_edge_is_cut_whole(u: float, v: float, sign: float, beside: float) -> None:
    """No gap is too small or too large to be told: the area is shapely's, within slivers that nobody can cut."""
    x, y = sign * u + beside, sign * v
    cut = [(x, y), (x + 20, y), (x + 20, y + 30), (x, y + 30)]
    expected = shapely.box(0, 0, 100, 60).difference(shapely.Polygon(cut)).area
    assert area(subtract(WALL, curves.polygon(cut), "cut")) == pytest.approx(expected, abs=3e-4)


@given(st.floats(-20, 120), st.floats(-20, 80), st.floats(1, 50), st.floats(1, 40))
def test_areas_agree_with_shapely(u: float, v: float, width: float, height: float) -> None:
    """shapely's difference of the same rectangles has the same area, wherever the cut lies."""
    cut = [(u, v), (u + width, v), (u + width, v + height), (u, v + height)]
    expected = shapely.box(0, 0, 100, 60).difference(shapely.Polygon(cut))
    assume(expected.geom_type == "Polygon" and expected.area >= 1)
    assert area(subtract(WALL, curves.polygon(cut), "cut")) == pytest.approx(expected.area, abs=1e-4)
