"""How thin a body is, and where it is as sharp as a knife.

Terms
-----
chord
    The straight way through the material, square to the facet it starts on, to the facet it leaves by.
opposed
    Two facets whose planes are within ``OPPOSED_DEG`` of parallel: the two sides of a wall. Steeper pairs are the two
    sides of an edge, whose chord tends to nothing at every edge and says nothing of a wall.
knife edge
    A convex edge whose two facets enclose less than ``KNIFE_DEG`` of material.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.sight.rays import cast

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

OPPOSED_DEG = 30.0
KNIFE_DEG = 30.0
INSET = 1e-3
"""mm rays start inside the facet's border and under its plane: one micron, which no printer sees."""
SLIVER = 1e-4
"""mm; a facet less high than this over its longest edge has no direction that survives rounding."""
FLAT = 1e-9
"""1 - cosine under which two facets lie in one plane."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thinnest:
    """The thinnest wall found: its thickness, mm, and the points ``(3,)`` where the chord enters and leaves."""

    thickness: float
    enters: Array
    leaves: Array


def thinnest_wall(body: Mesh) -> Thinnest | None:
    """Return the thinnest wall of a closed outward body, or nothing when no two facets are opposed.

    Rays start at the corners and edge middles of every facet, set in by a micron, square to it into the material. With
    ``t`` the chord and ``a`` the angle between the two facets the wall is measured along the line that meets both at
    the same slope:

        wall = t cos(a) / cos(a / 2)

    which on a wedge is the distance square to its middle plane.
    """
    corners = body.corners
    units, heights = _unit_normals(corners)
    whole = heights > SLIVER
    corners, units = corners[whole], units[whole]
    origins = _starts(corners)
    inward = np.repeat(-units, origins.shape[1], axis=0)
    starts = origins.reshape(-1, 3) + INSET * inward
    # Rays are found in single precision: nearer the origin it is finer.
    middle = (corners.reshape(-1, 3).min(axis=0) + corners.reshape(-1, 3).max(axis=0)) / 2
    index, distance = cast(corners - middle, starts - middle, inward)
    cosine = np.einsum("ij,ij->i", inward, units[index])
    good = (index >= 0) & np.isfinite(distance) & (cosine >= np.cos(np.radians(OPPOSED_DEG)))
    if not good.any():
        return None
    cosine = np.clip(cosine[good], -1.0, 1.0)
    chords = distance[good] + INSET
    walls = chords * cosine / np.sqrt((1 + cosine) / 2)
    k = int(walls.argmin())
    enters = starts[good][k] - INSET * inward[good][k]
    return Thinnest(thickness=float(walls[k]), enters=enters, leaves=enters + chords[k] * inward[good][k])


def knife_edges(body: Mesh) -> tuple[Array, Array]:
    """Return edges ``(k, 2, 3)`` sharper than ``KNIFE_DEG`` and their angles ``(k,)`` in degrees, mm."""
    edges, left, right = _edges(body.triangles)
    units, heights = _unit_normals(body.corners)
    cosine = np.einsum("ij,ij->i", units[left], units[right])
    opposite = body.vertices[_apexes(body.triangles[right], edges)]
    above = np.einsum("ij,ij->i", units[left], opposite - body.vertices[edges[:, 0]])
    angle = 180.0 - np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    whole = np.minimum(heights[left], heights[right]) > SLIVER
    sharp = whole & (above < 0) & (1 - cosine > FLAT) & (angle < KNIFE_DEG)
    return body.vertices[edges[sharp]], angle[sharp]


def _unit_normals(corners: Array) -> tuple[Array, Array]:
    """Return unit normals ``(m, 3)`` and heights over the longest edge ``(m,)``, mm."""
    crossed = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(crossed, axis=1)
    longest = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2).max(axis=1)
    return crossed / np.maximum(sizes, 1e-300)[:, None], sizes / np.maximum(longest, 1e-300)


def _starts(corners: Array) -> Array:
    """Return ``(m, 6, 3)`` corners and edge middles of facets, each a micron toward the facet's middle."""
    points = np.concatenate([corners, (corners + np.roll(corners, -1, axis=1)) / 2], axis=1)
    inward = corners.mean(axis=1)[:, None] - points
    lengths = np.linalg.norm(inward, axis=2, keepdims=True)
    moved: Array = points + inward * np.minimum(INSET / np.maximum(lengths, 1e-300), 0.5)
    return moved


def _edges(triangles: Indices) -> tuple[Indices, Indices, Indices]:
    """Return the edges ``(k, 2)`` of a closed mesh and the facets on either side."""
    half = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles)), 3)
    forward = half[:, 0] < half[:, 1]
    ends = np.sort(half, axis=1)
    order = np.lexsort((~forward, ends[:, 1], ends[:, 0]))
    pairs = order[: len(order) // 2 * 2].reshape(-1, 2)
    if len(order) % 2 or not np.array_equal(ends[pairs[:, 0]], ends[pairs[:, 1]]):
        raise ValueError("the mesh is not closed")
    return ends[pairs[:, 0]], owner[pairs[:, 0]], owner[pairs[:, 1]]


def _apexes(triangles: Indices, edges: Indices) -> Indices:
    """Return the corner ``(k,)`` of each facet that is not on its edge."""
    return np.asarray(triangles.sum(axis=1) - edges.sum(axis=1), dtype=np.int64)
