"""Points all over a surface, near enough to each other to stand for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


def spread_points(mesh: Mesh, step: float) -> Array:
    """Return points ``(n, 3)`` of a surface: its corners, and points along its edges and all over its facets.

    Every corner is one of them. On an edge none is farther than ``step / 2`` from a point of that edge, and on a facet
    than ``step / sqrt(2)`` from one of its plane; so, d the distance from anywhere to the surface and s to the points,

        s^2 - step^2 / 2 <= d^2 <= s^2

    as the way to the nearest point of a surface is square to the facet or the edge it lies on, or ends at a corner.
    """
    return np.concatenate([mesh.vertices, _along_edges(mesh, step), _over_facets(mesh.corners, step)])


def _along_edges(mesh: Mesh, step: float) -> Array:
    t = mesh.triangles
    ends = np.unique(np.sort(np.vstack([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]), axis=1), axis=0)
    one, two = mesh.vertices[ends[:, 0]], mesh.vertices[ends[:, 1]]
    return _between(one, two, step)


def _between(one: Array, two: Array, step: float) -> Array:
    """Return points inside the lines from ``one`` to ``two``, ``(k, 3)`` each, no more than ``step`` apart."""
    parts = np.maximum(np.ceil(np.linalg.norm(two - one, axis=1) / step).astype(np.int64), 1)
    owner, number = _counted(parts - 1)
    share = ((number + 1) / parts[owner])[:, None]
    points: Array = (1 - share) * one[owner] + share * two[owner]
    return points


def _over_facets(corners: Array, step: float) -> Array:
    """Return points of rows along the longest side of each facet, half a step apart; a row ends on the other sides."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    first = sides.argmax(axis=1)
    base, end, apex = (corners[np.arange(len(corners)), (first + k) % 3] for k in range(3))
    longest = sides.max(axis=1)
    heights = np.linalg.norm(np.cross(end - base, apex - base), axis=1) / np.maximum(longest, 1e-300)
    rows = np.maximum(np.ceil(2 * heights / step).astype(np.int64), 1)
    owner, number = _counted(rows - 1)
    up = ((number + 1) / rows[owner])[:, None]
    starts = (1 - up) * base[owner] + up * apex[owner]
    ends = (1 - up) * end[owner] + up * apex[owner]
    return np.concatenate([starts, ends, _between(starts, ends, step)])


def _counted(counts: Indices) -> tuple[Indices, Indices]:
    """Return, for things that have so many parts each, whose part and its number from 0, ``(n,)``."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
