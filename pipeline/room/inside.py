"""The inside of the real box: its opening, its back, and the four walls between them.

Terms
-----
border
    The four inside corners at the opening or at the back: lower left, lower right, upper right, upper left.
arris
    The line where two of the box's walls meet, from a corner of the opening to that of the back.
wall
    What spans an edge of the opening and the same edge of the back. Where the two are not in one plane it is twisted:
    folded along that of its diagonals which lies farther in, it takes no less room than any surface through its border.

The box stands in the built frame with the bottom edge of its opening on z = 0 and the middle of that edge at x = 0. Its
bottom is flat, so the back's bottom edge lies on z = 0 too; its middle, which no measure tells, is taken to lie at
x = 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]

EDGES = {"floor": (0, 1), "right-wall": (1, 2), "ceiling": (2, 3), "left-wall": (3, 0)}
"""Corners of the border's edge that each wall of the box begins at, by the hall's surface before it."""

SIDES = ("left-wall", "right-wall", "floor", "ceiling")

FLAT = 1e-9
"""mm; a wall twisted by less is a plane."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Inside:
    """The inside of a box.

    Attributes
    ----------
    opening, back
        ``(4, 3)`` borders, built mm.
    measured
        Whether it was measured; else it is the rectangular one of ``[box]``.
    """

    opening: Array
    back: Array
    measured: bool

    @property
    def depth(self) -> float:
        """Least depth of the box, mm."""
        return float(self.back[:, 1].min())

    @property
    def bounds(self) -> tuple[float, float, float]:
        """Width, height and depth of the least rectangular box, middle on x = 0, that holds this one, mm."""
        corners = np.vstack([self.opening, self.back])
        return 2 * float(np.abs(corners[:, 0]).max()), float(corners[:, 2].max()), float(corners[:, 1].max())

    @cached_property
    def walls(self) -> Mapping[str, tuple[Array, ...]]:
        """One built plane ``(4,)`` of each wall, normal inward, or two where it is twisted: inside before either."""
        return {host: self._wall(*edge) for host, edge in EDGES.items()}

    @cached_property
    def planes(self) -> Mapping[str, Array]:
        """One built plane ``(4,)`` before every wall and the back, unit normal inward, that keeps clear of it all."""
        return {**{host: self._before(*edge) for host, edge in EDGES.items()}, "back-wall": self._back}

    @cached_property
    def _back(self) -> Array:
        return _plane(*self.back[:3]) if self.measured else np.array([0.0, -1.0, 0.0, self.depth])

    def _wall(self, first: int, second: int) -> tuple[Array, ...]:
        corners = self._corners(first, second)
        a, b, c, d = corners
        planes = [(a, b, c), (a, c, d)]
        middle = _plane(a, b, c)[:3] + _plane(a, c, d)[:3]
        if middle @ ((a + c) / 2 - (b + d) / 2) < 0:
            planes = [(a, b, d), (b, c, d)]
        if np.abs(corners @ (flat := _plane(a, b, d))[:3] + flat[3]).max() <= FLAT:
            return (self._square(first, flat),)
        return tuple(_plane(*three) for three in planes)

    def _before(self, first: int, second: int) -> Array:
        a, b, c, d = corners = self._corners(first, second)
        normal = frames.unit(np.cross(c - a, d - b))
        plane = np.array([*normal, -float((corners @ normal).max())])
        return self._square(first, plane)

    def _corners(self, first: int, second: int) -> Array:
        """Return the corners of a wall, round so that its normal points inward."""
        return np.array([self.opening[first], self.opening[second], self.back[second], self.back[first]])

    def _square(self, first: int, plane: Array) -> Array:
        """Return a wall's plane, to the last figure where the box is rectangular."""
        if self.measured:
            return plane
        axis, way = {0: (2, 1.0), 1: (0, -1.0), 2: (2, -1.0), 3: (0, 1.0)}[first]
        exact = np.zeros(4)
        exact[axis], exact[3] = way, -way * self.opening[first, axis]
        return exact

    def section(self, y: float) -> Array:
        """Return the corners ``(4, 2)`` (x, z) where the arrises pass a built depth."""
        share = (y - self.opening[:, 1]) / (self.back[:, 1] - self.opening[:, 1])
        out: Array = (self.opening + share[:, None] * (self.back - self.opening))[:, [0, 2]]
        return out

    def beside(self, host: str, y: float, z: float) -> float:
        """Return the x of a side of the box at a built depth and height, mm.

        Of a twisted side that of its two planes is taken that leaves more room half way back: before one of them is
        inside, and along the box its x goes in a straight line.
        """
        side = 1.0 if host == "right-wall" else -1.0
        plane = max(self.walls[host], key=lambda plane: side * _x_on(plane, self.depth / 2, z))
        return _x_on(plane, y, z)

    def past(self, body: Mesh) -> float:
        """Return how far a body reaches out of the box, mm; below zero where it keeps clear of all walls by so much.

        Out of a twisted wall is what lies behind both its planes; over a facet that is farthest at a corner, or where
        an edge passes from before the one plane to before the other.
        """
        points = body.vertices
        front = np.array([0.0, 1.0, 0.0, 0.0])
        single = [front, self._back, *(planes[0] for planes in self.walls.values() if len(planes) == 1)]
        reach = [float(-(points @ plane[:3] + plane[3]).min()) for plane in single]
        reach += [_past_both(points, body.triangles, *planes) for planes in self.walls.values() if len(planes) == 2]
        return max(reach) + 0.0


def rectangular(width: float, height: float, depth: float) -> Inside:
    """Return the inside of a box that is square everywhere; mm."""
    half = width / 2
    border = [(-half, 0.0), (half, 0.0), (half, height), (-half, height)]
    return Inside(
        opening=np.array([(x, 0.0, z) for x, z in border]),
        back=np.array([(x, depth, z) for x, z in border]),
        measured=False,
    )


def inset(corners: Array, clearance: float) -> Array:
    """Return a border's corners ``(4, 2)`` brought in by a clearance from its sides and its top, not its bottom."""
    bottom, *others = border_lines(corners)
    lines = [bottom, *(line - np.array([0.0, 0.0, clearance]) for line in others)]
    out = []
    for before, after in zip([lines[-1], *lines[:-1]], lines, strict=True):
        out.append(np.linalg.solve([before[:2], after[:2]], [-before[2], -after[2]]))
    return np.array(out)


def border_lines(corners: Array) -> list[Array]:
    """Return the lines (n, c) with |n| = 1 along a border's edges, bottom first: inside n . x + c >= 0."""
    ways = [frames.unit(end - start) for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    normals = [np.array([-way[1], way[0]]) for way in ways]
    return [np.array([*n, -n @ start]) for n, start in zip(normals, corners, strict=True)]


def _x_on(plane: Array, y: float, z: float) -> float:
    return float(-(plane[1] * y + plane[2] * z + plane[3]) / plane[0])


def _plane(a: Array, b: Array, c: Array) -> Array:
    normal = frames.unit(np.cross(b - a, c - a))
    return np.array([*normal, -normal @ a])


def _past_both(points: Array, triangles: NDArray[np.int64], one: Array, other: Array) -> float:
    """Return how far at most a surface lies behind two planes at once, mm."""
    first, second = (-(points @ plane[:3] + plane[3]) for plane in (one, other))
    reach = float(np.minimum(first, second).max())
    i, j = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]).T
    gap = first - second
    turns = gap[i] * gap[j] < 0
    if turns.any():
        i, j = i[turns], j[turns]
        share = gap[i] / (gap[i] - gap[j])
        reach = max(reach, float((first[i] + share * (first[j] - first[i])).max()))
    return reach
