"""Surfaces that run through themselves, against every pair tried one by one."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.geometry.mending.crossings import find_crossing
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]
CLEAR = 1e-3
"""Share of a crossing that is beyond any doubt: the program's own limit is a thousandth of it."""


def pierced(segment: Array, triangle: Array, margin: float) -> bool:
    """Whether a segment runs through a triangle, by solving start + t d = a + u e + v f (Moeller, Trumbore 1997)."""
    way = segment[1] - segment[0]
    e, f = triangle[1] - triangle[0], triangle[2] - triangle[0]
    matrix = np.column_stack([-way, e, f])
    if abs(np.linalg.det(matrix)) < 1e-9:
        return False
    t, u, v = np.linalg.solve(matrix, segment[0] - triangle[0])
    return bool(margin < t < 1 - margin and u > margin and v > margin and u + v < 1 - margin)


def crosses(corners: Array, margin: float) -> bool:
    """Whether any side of any triangle runs through another."""
    return any(
        pierced(np.array([one[k], one[(k + 1) % 3]]), other, margin)
        for a, b in combinations(corners, 2)
        for one, other in ((a, b), (b, a))
        for k in range(3)
    )


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), count=st.integers(1, 9), size=st.floats(0.05, 0.6))
def test_a_crossing_is_found_exactly_where_there_is_one(seed: int, count: int, size: float) -> None:
    """Loose triangles in a unit cube: found if a pair crosses clearly, not found if none does at all."""
    rng = np.random.default_rng(seed)
    corners = rng.random((count, 1, 3)) + size * (rng.random((count, 3, 3)) - 0.5)
    mesh = Mesh(vertices=corners.reshape(-1, 3), triangles=np.arange(3 * count).reshape(-1, 3))
    found = find_crossing(mesh, np.zeros(count, dtype=np.int64), 1.0)
    if crosses(corners, CLEAR):
        assert found is not None
    if not crosses(corners, 0.0):
        assert found is None


def test_the_place_lies_on_both() -> None:
    """A triangle in x = 0.25 through one in z = 0: their common points have both."""
    flat = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
    upright = [(0.25, 0.1, -1), (0.25, 0.1, 1), (0.25, 0.6, 1)]
    mesh = Mesh(vertices=np.array(flat + upright, dtype=np.float64), triangles=np.arange(6).reshape(2, 3))
    found = find_crossing(mesh, np.zeros(2, dtype=np.int64), 1.0)
    assert found is not None
    assert found[[0, 2]] == pytest.approx([0.25, 0.0], abs=1e-15)


def test_shells_of_their_own_may_cross() -> None:
    """They are united later."""
    corners = np.array([[(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0.25, 0.1, -1), (0.25, 0.1, 1), (0.25, 0.6, 1)]])
    mesh = Mesh(vertices=corners.reshape(-1, 3), triangles=np.arange(6).reshape(2, 3))
    assert find_crossing(mesh, np.array([0, 1]), 1.0) is None
