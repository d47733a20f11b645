"""Where a surface runs through itself.

Terms
-----
tree
    Boxes over the facets in the order of a Morton curve (G. M. Morton, *A Computer Oriented Geodetic Data Base*,
    1966): box k of a level holds boxes 2 k and 2 k + 1 of the next finer one.
pair
    Two boxes of a level that overlap, in the end two facets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.mending.model import MendError
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Level = tuple[Array, Array]

DEEP = 1e-6
"""Share of the diagonal: facets that run through each other less far only touch, in single-precision figures."""
MORTON_BITS = 21
AT_ONCE = 400_000
"""Pairs looked at together; memory stays near 200 MB."""
MOST_PAIRS = 150_000_000
"""Pairs of boxes looked at in all; a surface wound up so tightly takes minutes."""


@dataclass(frozen=True, slots=True, eq=False)
class _Facets:
    """Facets at a diagonal of 1: ``(m, 3)`` vertices, ``(m,)`` shells, ``(m, 3, 3)`` corners, ``(m, 3)`` unit normals.

    The normal of a facet of no area is nothing, so that nothing lies above or below it.
    """

    triangles: NDArray[np.int32]
    shell: NDArray[np.int32]
    corners: Array
    normals: Array

    def heights(self, first: Indices, second: Indices) -> Array:
        """Return how high ``(k, 3)`` the corners of the first facets lie over the planes of the second."""
        away = self.corners[first] - self.corners[second, :1]
        out: Array = np.einsum("kij,kj->ki", away, self.normals[second])
        return out


def _facets(points: Array, triangles: Indices, shell: Indices) -> _Facets:
    corners = points[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = np.where(size > DEEP**2, normals / np.maximum(size, DEEP**2), 0.0)
    return _Facets(triangles.astype(np.int32), shell.astype(np.int32), corners, normals)


def find_crossing(mesh: Mesh, shell: Indices, diagonal: float) -> Array | None:
    """Return a point ``(3,)`` where two facets of one shell run through each other, or nothing.

    Raises
    ------
    MendError
        If too many facets lie in one another's boxes to say.
    """
    origin = mesh.vertices[mesh.triangles].min(axis=(0, 1))
    points = (mesh.vertices - origin) / diagonal
    order = np.argsort(_morton(points[mesh.triangles].mean(axis=1)), kind="stable")
    facets = _facets(points, mesh.triangles[order], shell[order])
    levels = _tree(facets.corners.min(axis=1), facets.corners.max(axis=1))
    stack, looked = [(len(levels) - 1, np.zeros((1, 2), dtype=np.int64))], 0
    while stack:
        level, pairs = stack.pop()
        looked += len(pairs)
        if looked > MOST_PAIRS:
            raise MendError("its facets lie in one another so thickly that nothing can be said of it")
        if level == 0:
            found = _crossing(facets, pairs)
            if found is not None:
                return np.asarray(found * diagonal + origin)
            continue
        finer = _descend(levels[level - 1], pairs)
        stack += [(level - 1, finer[at : at + AT_ONCE]) for at in range(0, len(finer), AT_ONCE)]
    return None


def _morton(points: Array) -> NDArray[np.uint64]:
    """Return the place ``(n,)`` of points in the unit cube on the Morton curve."""
    cells = np.clip(points * 2**MORTON_BITS, 0, 2**MORTON_BITS - 1).astype(np.uint64)
    out = np.zeros(len(points), dtype=np.uint64)
    for axis in range(3):
        spread = cells[:, axis]
        for shift, mask in (
            (32, 0x1F00000000FFFF), (16, 0x1F0000FF0000FF), (8, 0x100F00F00F00F00F),
            (4, 0x10C30C30C30C30C3), (2, 0x1249249249249249),
        ):  # fmt: skip
            spread = (spread | (spread << np.uint64(shift))) & np.uint64(mask)
        out |= spread << np.uint64(axis)
    return out


def _tree(low: Array, high: Array) -> list[Level]:
    """Return the boxes of every level, the facets' own first; levels of odd count end in a box of nothing."""
    levels = [(low, high)]
    while len(low) > 1:
        if len(low) % 2:
            low, high = np.vstack([low, np.full(3, np.inf)]), np.vstack([high, np.full(3, -np.inf)])
            levels[-1] = (low, high)
        low, high = np.minimum(low[::2], low[1::2]), np.maximum(high[::2], high[1::2])
        levels.append((low, high))
    return levels


def _descend(level: Level, pairs: Indices) -> Indices:
    """Return the pairs of the finer level within these that overlap."""
    a, b = 2 * pairs[:, 0], 2 * pairs[:, 1]
    apart = a != b
    first = np.concatenate([a, a, a + 1, (a + 1)[apart]])
    second = np.concatenate([b, b + 1, b + 1, b[apart]])
    low, high = level
    kept = ((low[first] <= high[second]) & (low[second] <= high[first])).all(axis=1)
    return np.column_stack([first[kept], second[kept]])


def _crossing(facets: _Facets, pairs: Indices) -> Array | None:
    """Return where two facets of one shell run through each other; those that share an edge only fold."""
    a, b = pairs.T
    shared = np.zeros(len(a), dtype=np.int8)
    for i in range(3):
        for k in range(3):
            shared += facets.triangles[a, i] == facets.triangles[b, k]
    kept = (shared < 2) & (facets.shell[a] == facets.shell[b])
    a, b = a[kept], b[kept]
    for _ in range(2):
        heights = facets.heights(a, b)
        split = (heights.max(axis=1) > DEEP) & (heights.min(axis=1) < -DEEP)
        a, b = b[split], a[split]
    for first, second in ((a, b), (b, a)):
        heights = facets.heights(first, second)
        for k in range(3):
            found = _pierced(facets, first, second, heights, k)
            if found is not None:
                return found
    return None


def _pierced(facets: _Facets, first: Indices, second: Indices, heights: Array, side: int) -> Array | None:
    """Return where a side of one of the first facets runs through its second one, ``DEEP`` inside and beyond it."""
    above, below = heights[:, side], heights[:, (side + 1) % 3]
    through = (above * below < 0) & (np.minimum(np.abs(above), np.abs(below)) > DEEP)
    first, second = first[through], second[through]
    share = (above[through] / (above[through] - below[through]))[:, None]
    start, end = facets.corners[first, side], facets.corners[first, (side + 1) % 3]
    at = start + share * (end - start)
    inside = np.ones(len(at), dtype=bool)
    for k in range(3):
        corner, following = facets.corners[second, k], facets.corners[second, (k + 1) % 3]
        inward = np.cross(facets.normals[second], following - corner)
        inside &= ((at - corner) * inward).sum(axis=1) > DEEP * np.linalg.norm(inward, axis=1)
    hits = np.flatnonzero(inside)
    return at[hits[0]] if len(hits) else None
