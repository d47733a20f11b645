"""Whether a part can be pushed straight into the box past others that are in their places.

Pulled straight out of its place, a part sweeps a body; it is free if that body leaves the others alone. Along every
line of the pull the part begins at its hindmost point and the other ends at its foremost one, so the other is in the
way exactly where

    h_other(p) > h_part(p)

with h measured along the pull, p a point of the plane square to it, h_part the lower envelope of the part's faces that
look inward and h_other the upper one of the other's that look outward. Both are linear over every pair of triangles,
and so is their difference over what two triangles have in common: its greatest value stands at one of the corners.

Terms
-----
pull
    The unit direction, built, that a part leaves its place by; it is pushed in along the reverse.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh, normals
from pipeline.geometry.vectors import cross, lengths

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

STRAIGHT_OUT = (0.0, -1.0, 0.0)
"""Square out of the opening, built."""

GRAZE = 0.1
"""mm; a part that meets another by less slides past: small things are made no truer (ISO 2768-1 m), and sheet gives."""

TOUCH = 1e-3
"""mm; parts nearer than this touch: a joint is drawn once for both its sides, and each rounds it for itself."""

ALONG = 1e-4
"""Sine; a face that looks this little along the pull is slid along: over 100 mm it gains a hundredth of one."""

FIRST, ATATIME = 64, 4096
"""Pairs of facets clipped at first, since few are enough to find what is badly in the way, and then at once."""

SHORT = 1e-12
"""mm; an edge shorter than this has no direction."""

HALF = 0.5
"""A pull this much more sideways than upright takes its frame from the vertical."""

MOST_BOXES = 4_000_000
"""Pairs of boxes compared at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Facets:
    """Triangles that look one way along a pull, in its frame: z is the pull; mm.

    ``corners`` ``(n, 3, 3)``, their bounds ``low`` and ``high`` ``(n, 3)``; the plane of each is
    z = ``at`` + ``tilt`` . (x, y), and ``facing`` the cosine of its angle to the pull. Seen along the pull, a facet
    lies where ``sides`` . (x, y) >= ``reach`` for each of its three edges, ``(n, 3, 2)`` of unit length and ``(n, 3)``.
    """

    corners: Array
    low: Array
    high: Array
    at: Array
    tilt: Array
    facing: Array
    sides: Array
    reach: Array

    @property
    def spans(self) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
        """Return from where to where each reaches, ``(n,)``, across and up."""
        return (self.low[:, 0], self.high[:, 0]), (self.low[:, 1], self.high[:, 1])

    def moved(self, step: Array) -> Facets:
        """Return the facets moved in their frame, ``(3,)`` mm."""
        return replace(
            self,
            corners=self.corners + step,
            low=self.low + step,
            high=self.high + step,
            at=self.at + (step[2] - self.tilt @ step[:2]),
            reach=self.reach + self.sides @ step[:2],
        )

    def within(self, low: Array, high: Array, kept: NDArray[np.bool_]) -> Indices:
        """Return which of the ``kept`` reach into a rectangle."""
        x, y = self.spans
        kept = kept & (x[0] < high[0] - GRAZE) & (x[1] > low[0] + GRAZE)
        return np.flatnonzero(kept & (y[0] < high[1] - GRAZE) & (y[1] > low[1] + GRAZE))


class Pulled:
    """A closed body, built mm, as it is seen along a pull: its bounds in the pull's frame, its facets when asked."""

    def __init__(self, body: Mesh, pull: Array) -> None:
        hint = [1.0, 0.0, 0.0] if abs(pull[0]) < abs(pull[2]) + HALF else [0.0, 0.0, 1.0]
        across = frames.unit(cross(pull, np.array(hint)))
        self._frame: Array = np.column_stack([across, cross(pull, across), pull])
        turned = body.vertices @ self._frame
        self._mesh = Mesh(vertices=turned, triangles=body.triangles)
        self.low: Array = turned.min(axis=0)
        self.high: Array = turned.max(axis=0)

    def moved(self, way: Array) -> Pulled:
        """Return the body moved, ``(3,)`` built mm."""
        return _Moved(self, way @ self._frame)

    @cached_property
    def _facing(self) -> tuple[Array, Array, Array]:
        corners, crossed = self._mesh.corners, normals(self._mesh)
        size = lengths(crossed)
        return corners, crossed, np.divide(crossed[:, 2], size, out=np.zeros_like(size), where=size > 0)

    @cached_property
    def inward(self) -> Facets:
        """Those that look along the push."""
        return _facets(*self._facing, self._facing[2] < -ALONG)

    @cached_property
    def outward(self) -> Facets:
        """Those that look along the pull."""
        return _facets(*self._facing, self._facing[2] > ALONG)


class _Moved(Pulled):
    """A body moved by a step in the pull's frame."""

    def __init__(self, home: Pulled, step: Array) -> None:
        self._home, self._step = home, step
        self.low, self.high = home.low + step, home.high + step

    @cached_property
    def inward(self) -> Facets:
        return self._home.inward.moved(self._step)

    @cached_property
    def outward(self) -> Facets:
        return self._home.outward.moved(self._step)


def _facets(corners: Array, crossed: Array, facing: Array, kept: NDArray[np.bool_]) -> Facets:
    corners, crossed = corners[kept], crossed[kept]
    tilt = -crossed[:, :2] / crossed[:, 2:]
    at = corners[:, 0, 2] - (corners[:, 0, :2] * tilt).sum(axis=1)
    edges = corners[:, [1, 2, 0], :2] - corners[..., :2]
    turn = np.sign(crossed[:, 2])[:, None] / np.maximum(lengths(edges), SHORT)
    sides = np.stack([-edges[..., 1] * turn, edges[..., 0] * turn], axis=2)
    reach = (sides * corners[..., :2]).sum(axis=2)
    one, two, three = corners[:, 0], corners[:, 1], corners[:, 2]
    low, high = np.minimum(np.minimum(one, two), three), np.maximum(np.maximum(one, two), three)
    return Facets(corners, low, high, at, tilt, np.abs(facing[kept]), sides, reach)


def in_the_way(part: Pulled, other: Pulled) -> bool:
    """Return whether a part meets another on its way out by more than ``GRAZE``, square to the faces that meet.

    A common figure of two triangles that is narrower than ``GRAZE`` does not count: parts that lie side by side share
    such figures of rounding.
    """
    low, high = np.maximum(part.low, other.low), np.minimum(part.high, other.high)
    if _beside(low, high) or other.high[2] - part.low[2] < GRAZE:
        return False
    mine = part.inward.within(low, high, part.inward.low[:, 2] < other.high[2] - GRAZE)
    theirs = other.outward.within(low, high, other.outward.high[:, 2] > part.low[2] + GRAZE)
    return _some_ahead(part.inward, other.outward, mine, theirs, math.inf)


def lifted_into(part: Pulled, other: Pulled, lift: float) -> bool:
    """Return whether a part meets another, again by more than ``GRAZE``, when it is lifted ``lift`` mm off its place.

    Its leading facets then reach the other's trailing ones that stand less than that ahead, or touch.
    """
    low, high = np.maximum(part.low, other.low), np.minimum(part.high, other.high)
    if _beside(low, high) or other.low[2] - part.high[2] > lift or part.low[2] > other.high[2]:
        return False
    mine = part.outward.within(low, high, part.outward.high[:, 2] + lift > other.low[2])
    theirs = other.inward.within(low, high, other.inward.low[:, 2] < part.high[2] + lift)
    return _some_ahead(other.inward, part.outward.moved(np.array([0.0, 0.0, lift])), theirs, mine, lift)


def _beside(low: Array, high: Array) -> bool:
    return bool(high[0] - low[0] < GRAZE or high[1] - low[1] < GRAZE)


def _some_ahead(behind: Facets, front: Facets, i: Indices, k: Indices, most: float) -> bool:
    """Return whether any of the facets ``k`` stands in front of one of ``i``, by at most ``most`` mm along the pull."""
    if not len(i) or not len(k):
        return False
    step = max(1, MOST_BOXES // len(k))
    for start in range(0, len(i), step):
        few, many = _boxed(behind, front, i[start : start + step], k)
        if not len(few):
            continue
        ahead = _ahead(behind, front, few, many)
        few, many = _widest_first(behind, front, few[ahead], many[ahead])
        at, size = 0, FIRST
        while at < len(few):
            pairs = _overlapping(behind, front, few[at : at + size], many[at : at + size])
            if len(pairs[0]) and _any_meet(behind, front, *pairs, most):
                return True
            at, size = at + size, ATATIME
    return False


def _boxed(mine: Facets, theirs: Facets, i: Indices, k: Indices) -> tuple[Indices, Indices]:
    """Return the pairs of facets whose boxes overlap and of which theirs may reach farther out."""
    low, high = mine.low[i], mine.high[i] - GRAZE
    other_low, other_high = theirs.low[k], theirs.high[k] - GRAZE
    near = low[:, 2, None] < other_high[:, 2]
    for axis in (0, 1):
        near &= low[:, axis, None] < other_high[:, axis]
        near &= high[:, axis, None] > other_low[:, axis]
    rows, columns = near.nonzero()
    return i[rows], k[columns]


def _widest_first(mine: Facets, theirs: Facets, i: Indices, k: Indices) -> tuple[Indices, Indices]:
    """Return pairs with the ``FIRST`` put in front that share the widest rectangles: where any meet, these most do."""
    if len(i) <= FIRST:
        return i, k
    widths = [
        np.minimum(mine.high[i, axis], theirs.high[k, axis]) - np.maximum(mine.low[i, axis], theirs.low[k, axis])
        for axis in (0, 1)
    ]
    order = np.argpartition(-np.minimum(*widths), FIRST)
    return i[order], k[order]


def _overlapping(mine: Facets, theirs: Facets, i: Indices, k: Indices) -> tuple[Indices, Indices]:
    """Return those of pairs of facets that overlap."""
    kept = _shared(mine, theirs, i, k)
    i, k = i[kept], k[kept]
    kept = _shared(theirs, mine, k, i)
    return i[kept], k[kept]


def _ahead(mine: Facets, theirs: Facets, i: Indices, k: Indices) -> NDArray[np.bool_]:
    """Return of which pairs theirs can be ahead at all: somewhere over the common rectangle its plane is."""
    gained = theirs.at[k] - mine.at[i]
    for axis in (0, 1):
        tilt = theirs.tilt[k, axis] - mine.tilt[i, axis]
        low = np.maximum(mine.low[i, axis], theirs.low[k, axis])
        high = np.minimum(mine.high[i, axis], theirs.high[k, axis])
        gained += np.where(tilt > 0, tilt * high, tilt * low)
    out: NDArray[np.bool_] = gained * np.minimum(mine.facing[i], theirs.facing[k]) > GRAZE
    return out


def _shared(one: Facets, other: Facets, i: Indices, k: Indices) -> NDArray[np.bool_]:
    """Return which pairs no edge of the first facet parts, by ``GRAZE``."""
    corners, sides, reach = other.corners[k], one.sides[i], one.reach[i]
    x, y = np.ascontiguousarray(corners[..., 0].T), np.ascontiguousarray(corners[..., 1].T)
    out = np.ones(len(i), dtype=bool)
    for edge in range(3):
        away = sides[:, edge, 0] * x + sides[:, edge, 1] * y
        out &= np.maximum(np.maximum(away[0], away[1]), away[2]) - reach[:, edge] > GRAZE
    return out


def _any_meet(mine: Facets, theirs: Facets, i: Indices, k: Indices, most: float) -> bool:
    points, inside = _common_corners(mine.corners[i], theirs.corners[k])
    tilt = (theirs.tilt[k] - mine.tilt[i])[:, None]
    ahead = (theirs.at[k] - mine.at[i])[:, None] + tilt[..., 0] * points[..., 0] + tilt[..., 1] * points[..., 1]
    highest, lowest = np.where(inside, ahead, 0.0).max(axis=1), np.where(inside, ahead, np.inf).min(axis=1)
    met = highest * np.minimum(mine.facing[i], theirs.facing[k]) > GRAZE
    if most < math.inf:  # the whole figure within that, or a strip of it that is wide enough to count
        near = most + TOUCH
        met &= (highest <= near) | (near - lowest > GRAZE * lengths(tilt[:, 0]))
    if not met.any():
        return False
    normal = np.concatenate([mine.sides[i[met]], theirs.sides[k[met]]], axis=1)
    return bool((_width(points[met], inside[met], normal) > GRAZE).any())


def _common_corners(mine: Array, theirs: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return candidates ``(n, 15, 2)`` for the corners of what two triangles have in common, and which of them are."""
    a, b = mine[:, :, :2], theirs[:, :, :2]
    met, hits = _crossings(a, b)
    points = np.concatenate([a, b, met], axis=1)
    inside = np.concatenate([_within(a, b), _within(b, a), hits], axis=1)
    return points, inside


def _within(points: Array, triangles: Array) -> NDArray[np.bool_]:
    """Return which of ``(n, k, 2)`` points lie in ``(n, 3, 2)`` triangles, their border included."""
    edges = triangles[:, [1, 2, 0]] - triangles
    away = points[:, :, None] - triangles[:, None]
    side = edges[:, None, :, 0] * away[..., 1] - edges[:, None, :, 1] * away[..., 0]
    left, right = side >= 0, side <= 0
    within: NDArray[np.bool_] = np.logical_and.reduce(left.transpose(2, 0, 1))
    within |= np.logical_and.reduce(right.transpose(2, 0, 1))
    return within


def _crossings(a: Array, b: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return where the edges' lines of triangles meet ``(n, 9, 2)``, and which of these lie on both edges."""
    u, v = a[:, [1, 2, 0]] - a, b[:, [1, 2, 0]] - b
    u, v, away = u[:, :, None], v[:, None], b[:, None] - a[:, :, None]
    across = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    slanted = across != 0
    safe = np.where(slanted, across, 1.0)
    s = (away[..., 0] * v[..., 1] - away[..., 1] * v[..., 0]) / safe
    t = (away[..., 0] * u[..., 1] - away[..., 1] * u[..., 0]) / safe
    hit = slanted & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    points = a[:, :, None] + s[..., None] * u
    return points.reshape(len(a), 9, 2), hit.reshape(len(a), 9)


def _width(points: Array, inside: NDArray[np.bool_], normals: Array) -> Array:
    """Return the least width ``(n,)`` of common figures: a convex figure is narrowest square to one of its edges."""
    reach = points[:, None, :, 0] * normals[..., :1] + points[:, None, :, 1] * normals[..., 1:]
    kept = inside[:, None]
    spread = np.where(kept, reach, -np.inf).max(axis=2) - np.where(kept, reach, np.inf).min(axis=2)
    out: Array = spread.min(axis=1)
    return out
