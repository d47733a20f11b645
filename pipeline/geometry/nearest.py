"""The nearest place of a drawing or a mesh to each of many points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_PAIRS = 4_000_000
"""Points times triangles looked at in one go: some hundred megabytes."""


class Target(Protocol):
    """Something that points can be near to."""

    def nearest(self, points: Array) -> tuple[Array, Indices]:
        """Return the nearest place ``(n, d)`` to each point, and which convex piece it lies on ``(n,)``."""

    def normals(self, which: Indices) -> Array:
        """Return the direction ``(n, d)`` in which one leaves each piece; zero where there is none."""

    def of_some(self, rows: Indices) -> Target:
        """Return the target of some of the points only."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chords:
    """Straight pieces ``(n, 2, 2)`` of a drawing, mm, with a tree over them."""

    ends: Array
    tree: shapely.STRtree

    @classmethod
    def of(cls, ends: Array) -> Chords:
        """Return chords ``(n, 2, 2)`` made ready; those of no length are left out."""
        long = ends[np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) > 0]
        return cls(ends=long, tree=shapely.STRtree(shapely.linestrings(long)))

    def nearest(self, points: Array) -> tuple[Array, Indices]:
        """Return the nearest place of any chord to each point ``(n, 2)``, and which chord."""
        which = self.tree.nearest(shapely.points(points)).astype(np.int64)
        start, way = self.ends[which, 0], self.ends[which, 1] - self.ends[which, 0]
        share = np.einsum("ij,ij->i", points - start, way) / np.einsum("ij,ij->i", way, way)
        places: Array = start + np.clip(share, 0.0, 1.0)[:, None] * way
        return places, which

    def normals(self, which: Indices) -> Array:
        """Return the unit normals of chords, ``(n, 2)``."""
        ways = (self.ends[which, 1] - self.ends[which, 0]) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
        out: Array = ways / np.linalg.norm(ways, axis=1)[:, None]
        return out

    def of_some(self, rows: Indices) -> Target:
        """Return itself: any point may be nearest to any piece."""
        return self


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corresponding:
    """Places ``(n, d)`` that belong to the points one by one, whatever lies nearer."""

    places: Array

    def nearest(self, points: Array) -> tuple[Array, Indices]:
        """Return the places themselves."""
        return self.places, np.arange(len(self.places))

    def normals(self, which: Indices) -> Array:
        """Return zeros: a point may leave its place any way."""
        return np.zeros((len(which), self.places.shape[1]))

    def of_some(self, rows: Indices) -> Target:
        """Return the places of those points."""
        return Corresponding(places=self.places[rows])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Skin:
    """Triangles ``(m, 3, 3)``, mm, with a tree over their boxes seen along one axis.

    Attributes
    ----------
    reach
        Within which the tree is asked; points farther off are held against every triangle.
    flat
        The two axes the boxes are told in.
    span
        ``(m, 2)`` from where to where each triangle runs along the third.
    """

    corners: Array
    reach: float
    flat: tuple[int, int]
    span: Array
    tree: shapely.STRtree

    @classmethod
    def of(cls, corners: Array, reach: float) -> Skin:
        """Return triangles ``(m, 3, 3)`` made ready, seen along the axis in which their boxes are smallest."""
        low, high = corners.min(axis=1), corners.max(axis=1)
        size = high - low + 2 * reach
        planes = ((0, 1), (0, 2), (1, 2))
        flat = min(planes, key=lambda axes: float((size[:, axes[0]] * size[:, axes[1]]).sum()))
        a, b = flat
        boxes = shapely.box(low[:, a] - reach, low[:, b] - reach, high[:, a] + reach, high[:, b] + reach)
        third = 3 - a - b
        span = np.column_stack([low[:, third], high[:, third]])
        return cls(corners=corners, reach=reach, flat=flat, span=span, tree=shapely.STRtree(boxes))

    def nearest(self, points: Array) -> tuple[Array, Indices]:
        """Return the nearest place of any triangle to each point ``(n, 3)``, and which triangle."""
        asked, which = self.tree.query(shapely.points(points[:, list(self.flat)]), predicate="intersects")
        third = points[asked, 3 - sum(self.flat)]
        level = (third >= self.span[which, 0] - self.reach) & (third <= self.span[which, 1] + self.reach)
        asked, which = asked[level], which[level]
        best = np.full(len(points), np.inf)
        places, index = np.zeros((len(points), 3)), np.zeros(len(points), dtype=np.int64)
        for part in _slices(len(asked)):
            _take_nearest(points, self.corners, asked[part], which[part], (best, places, index))
        far = np.flatnonzero(best > self.reach**2)
        everything = np.arange(len(self.corners))
        for rows in _slices(len(far), max(1, MOST_PAIRS // len(self.corners))):
            some = far[rows]
            _take_nearest(
                points,
                self.corners,
                np.repeat(some, len(everything)),
                np.tile(everything, len(some)),
                (best, places, index),
            )
        return places, index

    def normals(self, which: Indices) -> Array:
        """Return the unit normals of triangles, ``(n, 3)``; zero for those of no area."""
        a, b, c = (self.corners[which, k] for k in range(3))
        crossed = np.cross(b - a, c - a)
        size = np.linalg.norm(crossed, axis=1)[:, None]
        out: Array = np.divide(crossed, size, out=np.zeros_like(crossed), where=size > 0)
        return out

    def of_some(self, rows: Indices) -> Target:
        """Return itself: any point may be nearest to any piece."""
        return self


def _slices(count: int, size: int = MOST_PAIRS) -> list[slice]:
    return [slice(start, start + size) for start in range(0, count, size)]


def _take_nearest(
    points: Array, corners: Array, asked: Indices, which: Indices, found: tuple[Array, Array, Indices]
) -> None:
    """Put into what is found the nearest place of the pairs (point asked, triangle) where it is nearer."""
    best, places, index = found
    on = on_triangles(points[asked], corners[which])
    apart = ((points[asked] - on) ** 2).sum(axis=1)
    order = np.lexsort((apart, asked))
    first = order[np.flatnonzero(np.diff(asked[order], prepend=-1))]
    first = first[apart[first] < best[asked[first]]]
    rows = asked[first]
    best[rows], places[rows], index[rows] = apart[first], on[first], which[first]


def on_triangles(points: Array, corners: Array) -> Array:
    """Return the nearest place of a triangle ``(n, 3, 3)`` to each point ``(n, 3)``.

    Where the foot of the perpendicular falls within the triangle it is that, else the nearest of its three edges.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    normal = np.cross(b - a, c - a)
    size = np.einsum("ij,ij->i", normal, normal)
    flat = size > 0
    height = np.divide(np.einsum("ij,ij->i", points - a, normal), size, out=np.zeros(len(size)), where=flat)
    foot = points - height[:, None] * normal
    inside = flat.copy()
    best, out = np.full(len(points), np.inf), np.empty_like(points)
    for start, end in ((a, b), (b, c), (c, a)):
        way = end - start
        inside &= np.einsum("ij,ij->i", np.cross(way, foot - start), normal) >= 0
        length = np.einsum("ij,ij->i", way, way)
        share = np.divide(
            np.einsum("ij,ij->i", points - start, way), length, out=np.zeros(len(length)), where=length > 0
        )
        on = start + np.clip(share, 0.0, 1.0)[:, None] * way
        apart = ((points - on) ** 2).sum(axis=1)
        nearer = apart < best
        best[nearer], out[nearer] = apart[nearer], on[nearer]
    out[inside] = foot[inside]
    return out
