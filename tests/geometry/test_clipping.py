"""Clipping exact paths by half planes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.geometry import curves
from pipeline.geometry.clipping import TOUCH, clip


@given(st.floats(-0.95, 0.95), st.floats(0, 6.3))
@example(height=-1e-9, way=0.0)
@example(height=0.0, way=1.2368e-9)
@example(height=9e-8, way=0.0)
def test_circle_cut_by_a_line_is_a_segment(height: float, way: float) -> None:
    """Area acos(h) - h sqrt(1 - h^2) of the segment beyond a chord h from the middle, whatever way it lies.

    Where the line passes nearer than TOUCH to a joint of the circle it may be moved onto it: less than TOUCH along a
    chord of at most 2, as strips narrower than TOUCH are dropped.
    """
    circle = curves.arc((3.0, -2.0), 1.0, 0.0, 2 * math.pi)
    c, s = math.cos(way), math.sin(way)
    line = np.array((c, s, -(3.0 * c - 2.0 * s) - height))
    kept = clip(circle, [line])
    through_a_joint = any(abs(curve.start @ line[:2] + line[2]) <= TOUCH for curve in circle)
    segment = math.acos(height) - height * math.sqrt(1 - height**2)
    assert curves.signed_area(kept) == pytest.approx(segment, abs=2 * TOUCH if through_a_joint else 1e-9)


def test_line_through_the_joints_leaves_an_exact_half() -> None:
    """A cut where pieces meet leaves two of the four, closed by one straight."""
    half = clip(curves.arc((0.0, 0.0), 2.0, 0.0, 2 * math.pi), [(0.0, 1.0, 0.0)])
    assert [curve.straight for curve in half] == [False, False, True]
    assert curves.signed_area(half) == pytest.approx(2 * math.pi, rel=1e-12)


def test_path_outside_vanishes_and_inside_stays() -> None:
    """Nothing is kept beyond the line; a path within is not changed."""
    square = curves.polygon([(0, 0), (1, 0), (1, 1), (0, 1)])
    assert clip(square, [(1, 0, -2)]) == ()
    assert clip(square, [(1, 0, 1), (-1, 0, 2), (0, 1, 3)]) == square


def test_sides_on_the_line_are_drawn_again() -> None:
    """A path that touches the lines keeps its area and its number of sides."""
    square = curves.polygon([(0, 0), (1, 0), (1, 1), (0, 1)])
    kept = clip(square, [(1, 0, 0), (-1, 0, 1), (0, 1, 0)])
    assert (len(kept), curves.signed_area(kept)) == (4, 1.0)
