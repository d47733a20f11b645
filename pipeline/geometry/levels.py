"""The surface on which a function known at the points of a grid has the value 0.

Terms
-----
cell
    A cube between eight neighbouring points of the grid, cut into six tetrahedra round its diagonal from the lowest
    corner (H. Freudenthal, *Simplizialzerlegungen von beschränkter Flachheit*, 1942). Neighbours cut the square they
    share alike, and the function is linear within every tetrahedron, so the surface closes by itself.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

NEAR_END = 1e-3
"""Share of an edge that the surface keeps from its ends, so that no facet shrinks to a point."""


def level_surface(values: NDArray[np.floating], origin: Array, step: float) -> Mesh:
    """Return the closed outward surface of where values are above zero.

    Parameters
    ----------
    values
        ``(l, m, n)`` at the points of the grid, z before y before x; not above zero on its six sides.
    origin, step
        ``(3,)`` (x, y, z) of the first point, and the way to the next, mm.
    """
    above = values > 0
    cells = _crossed(above)
    if len(cells) == 0:
        return Mesh(vertices=np.zeros((0, 3)), triangles=np.zeros((0, 3), dtype=np.int64))
    strides = np.array([values.shape[1] * values.shape[2], values.shape[2], 1])
    starts, ways = [], []
    for tetrahedron in _TETRAHEDRA:
        corners = cells[:, None] + tetrahedron @ strides
        code = above.ravel()[corners] @ np.array([1, 2, 4, 8])
        for case, triangles in _CASES.items():
            chosen = corners[code == case]
            for triangle in triangles:
                ends = chosen[:, triangle]
                starts.append(ends.min(axis=2))
                ways.append(ends.max(axis=2) - starts[-1])
    start, way = np.concatenate(starts), np.concatenate(ways)
    # No two of the seven ways out of a point lead to the same one, so point and way name an edge.
    keys, numbers = np.unique(start * (strides.sum() + 1) + way, return_inverse=True)
    one = keys // (strides.sum() + 1)
    two = one + keys % (strides.sum() + 1)
    at_one, at_two = values.ravel()[one].astype(np.float64), values.ravel()[two].astype(np.float64)
    share = np.clip(at_one / (at_one - at_two), NEAR_END, 1 - NEAR_END)[:, None]
    points = (1 - share) * _places(one, values.shape) + share * _places(two, values.shape)
    return Mesh(vertices=origin + step * points, triangles=numbers.reshape(-1, 3).astype(np.int64))


def _crossed(above: NDArray[np.bool_]) -> Indices:
    """Return the lowest corners of the cells that have corners of both kinds."""
    some = every = above[:-1, :-1, :-1]
    for z, y, x in np.ndindex(2, 2, 2):
        corner = above[z : above.shape[0] - 1 + z, y : above.shape[1] - 1 + y, x : above.shape[2] - 1 + x]
        some, every = some | corner, every & corner
    z, y, x = np.nonzero(some & ~every)
    cells: Indices = np.ravel_multi_index((z, y, x), above.shape).astype(np.int64)
    return cells


def _places(points: Indices, shape: tuple[int, ...]) -> Array:
    z, y, x = np.unravel_index(points, shape)
    return np.column_stack([x, y, z]).astype(np.float64)


def _tetrahedra() -> tuple[Indices, ...]:
    """Return the corners ``(4, 3)`` (z, y, x) of the six tetrahedra of a cell, each right-handed in (x, y, z)."""
    out = []
    for order in permutations(range(3)):
        corners = np.vstack([np.zeros(3, dtype=np.int64), np.cumsum(np.eye(3, dtype=np.int64)[list(order)], axis=0)])
        handed = np.linalg.det((corners[1:] - corners[0])[:, ::-1])
        out.append(corners if handed > 0 else corners[[0, 2, 1, 3]])
    return tuple(out)


def _cases() -> dict[int, list[Indices]]:
    """Return for each set of corners above zero, as bits, the triangles between: ``(3, 2)`` corners of their edges."""
    cases = {}
    for code in range(1, 15):
        inside = [k for k in range(4) if code >> k & 1]
        outside = [k for k in range(4) if not code >> k & 1]
        order = np.array(inside + outside)
        odd = np.linalg.det(np.eye(4)[order]) < 0
        a, b, c, d = order.tolist()
        if len(inside) == 2:
            ring = [(a, c), (a, d), (b, d), (b, c)]
        elif len(inside) == 1:
            ring = [(a, b), (a, c), (a, d)]
        else:
            ring = [(a, d), (b, d), (c, d)]
        ring = ring[::-1] if odd else ring
        cases[code] = [np.array([ring[0], ring[k], ring[k + 1]]) for k in range(1, len(ring) - 1)]
    return cases


_TETRAHEDRA, _CASES = _tetrahedra(), _cases()
