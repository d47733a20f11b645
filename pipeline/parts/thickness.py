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

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.parts.lips import ball_beside, lip_reach, nearest_points
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

OPPOSED_DEG = 30.0
KNIFE_DEG = 30.0
INSET = 1e-3
"""mm rays start inside the facet's border and under its plane: one micron, which no printer sees."""
SLIVER = 1e-4
"""mm; a facet less high than this over its longest edge has no direction that survives rounding."""
NO_GAIN = 1e-6
"""mm; a wall that could only be so much thinner is not measured: parallel sides differ by rounding alone."""
COPLANAR = 1e-7
"""1 - cosine under which neighbours count as one plane cut up: rounding reaches it, facets of curves do not."""
AT_ONCE = 256
"""Walls measured together at most; memory stays near some tens of megabytes."""
FLAT = 1e-9
"""1 - cosine under which two facets lie in one plane."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thinnest:
    """The thinnest wall found: its thickness, mm, and the points ``(3,)`` where the chord enters and leaves."""

    thickness: float
    enters: Array
    leaves: Array


def thinnest_wall(
    body: Mesh, enough: float = math.inf, needed: float = 0.0, target: Target | None = None
) -> Thinnest | None:
    """Return the thinnest wall of a closed outward body, or nothing when no two facets are opposed.

    Rays start at the corners and edge middles of every facet, set in by a micron, square to it into the material. With
    ``t`` the chord and ``a`` the angle between the two facets, the wall there is estimated as

        t cos(a) / cos(a / 2)

    which is exact where a wedge ends. The least estimates are then measured, from the start of the chord to the
    nearest point of all facets opposed to the first, so that a sharply bent hollow is not taken for a wedge. Facets
    that meet in a knife edge are no wall.

    Estimates from ``enough`` mm on are not measured, as on a thick round body they are as many as its facets; the
    thickness is then the least of them and of what was measured. An estimate may be over the wall by 1 / cos(a / 2),
    3.5 % at most, and so may the thickness; tests hold it against every two facets of every print of the demo scenes.

    Lips of a body that needs walls of ``needed`` mm are no walls; each is told by a ball that was found to fit.

    Whoever has the body's facets ready for rays hands them in as ``target``.
    """
    if not len(body.triangles):
        return None
    facets = _Facets.of(body)
    starts, owners = _starts(facets.corners)
    inward = -facets.units[owners]
    origins = starts + INSET * inward
    met, distance = (Target.on(body) if target is None else target).cast(origins, inward)
    index = np.where(met >= 0, facets.numbers[met], -1)
    cosine = np.clip(np.einsum("ij,ij->i", inward, facets.units[index]), -1.0, 1.0)
    good = (index >= 0) & np.isfinite(distance) & (cosine >= np.cos(np.radians(OPPOSED_DEG)))
    good &= ~facets.meet_in_a_knife(owners, index)
    walls = (distance + INSET)[good] * cosine[good] / np.sqrt((1 + cosine[good]) / 2)
    return _measured(facets, (starts[good], owners[good], walls), enough, needed)


def _measured(facets: _Facets, chords: tuple[Array, Indices, Array], enough: float, needed: float) -> Thinnest | None:
    """Return the least measured wall, estimates taken in growing order until none can beat it.

    ``chords`` are where each starts, on which facet, and the estimate of the wall there.
    """
    starts, owners, estimates = chords
    best: Thinnest | None = None
    balls = np.zeros((0, 3))
    order = np.argsort(estimates, kind="stable")
    near, at, some = _Near.of(facets.corners), 0, 1
    while at < len(order):
        batch = order[at : at + some]
        reach = math.inf if best is None else best.thickness
        apart, feet = _to_opposed(facets, near, starts[batch], owners[batch], reach)
        for k, gap, foot in zip(batch, apart.tolist(), feet, strict=True):
            if best is not None and estimates[k] >= best.thickness - NO_GAIN:
                return best
            if best is not None and estimates[k] >= enough:
                return replace(best, thickness=float(estimates[k]))
            if gap >= (math.inf if best is None else best.thickness):
                continue
            if gap < needed:
                middle, around = (starts[k] + foot) / 2, lip_reach(gap, needed)
                if (np.linalg.norm(balls - middle, axis=1) <= around).any():
                    continue
                ball = ball_beside(facets.corners, facets.units, middle, needed, around)
                if ball is not None:
                    balls = np.vstack([balls, ball])
                    continue
            best = Thinnest(thickness=gap, enters=starts[k], leaves=foot)
        at, some = at + some, 1 if best is None else min(2 * some, AT_ONCE)
    return best


def _to_opposed(facets: _Facets, near: _Near, points: Array, owners: Indices, reach: float) -> tuple[Array, Array]:
    """Return how far points ``(n, 3)`` on facets are from the opposed ones, and where there; infinite past a reach."""
    which, other = near.pairs(points, reach)
    ways, point = facets.units[owners[which]], points[which]
    kept = np.einsum("ij,ij->i", facets.units[other], -ways) >= np.cos(np.radians(OPPOSED_DEG))
    kept &= np.einsum("ij,ij->i", facets.units[other], point - facets.corners[other, 0]) < 0
    which, other = which[kept], other[kept]
    kept = ~facets.meet_in_a_knife(owners[which], other)
    which, other = which[kept], other[kept]
    feet = nearest_points(points[which], facets.corners[other])
    kept = np.einsum("ij,ij->i", feet - points[which], facets.units[owners[which]]) < 0
    which, feet = which[kept], feet[kept]
    gaps = np.linalg.norm(feet - points[which], axis=1)
    first = np.lexsort((gaps, which))
    owner, place = np.unique(which[first], return_index=True)
    apart, foot = np.full(len(points), np.inf), np.zeros((len(points), 3))
    apart[owner], foot[owner] = gaps[first[place]], feet[first[place]]
    return apart, foot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Near:
    """Boxes round facets, to find those near a point: a tree over the two ``axes`` in which the body is largest."""

    low: Array
    high: Array
    axes: Indices
    tree: shapely.STRtree

    @classmethod
    def of(cls, corners: Array) -> _Near:
        low, high = corners.min(axis=1), corners.max(axis=1)
        axes = np.sort(np.argsort(np.ptp(corners.reshape(-1, 3), axis=0), kind="stable")[1:])
        return cls(low=low, high=high, axes=axes, tree=shapely.STRtree(_boxes(low[:, axes], high[:, axes])))

    def pairs(self, points: Array, reach: float) -> tuple[Indices, Indices]:
        """Return the numbers of points ``(n, 3)`` and of facets whose boxes come within a reach of them, ``(k,)``."""
        if not math.isfinite(reach):
            which, other = np.divmod(np.arange(len(points) * len(self.low)), len(self.low))
            return which, other
        flat = points[:, self.axes]
        which, other = self.tree.query(_boxes(flat - reach, flat + reach))
        kept = ((self.low[other] <= points[which] + reach) & (self.high[other] >= points[which] - reach)).all(axis=1)
        return which[kept], other[kept]


def _boxes(low: Array, high: Array) -> NDArray[np.object_]:
    out: NDArray[np.object_] = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    return out


def knife_edges(body: Mesh) -> tuple[Array, Array]:
    """Return edges ``(k, 2, 3)`` sharper than ``KNIFE_DEG`` and their angles ``(k,)`` in degrees, mm."""
    units, heights = _unit_normals(body.corners)
    edges, left, right, angle = _convex_edges(body, units)
    sharp = (angle < KNIFE_DEG) & (np.minimum(heights[left], heights[right]) > SLIVER)
    return body.vertices[edges[sharp]], angle[sharp]


def _convex_edges(body: Mesh, units: Array) -> tuple[Indices, Indices, Indices, Array]:
    """Return all edges, the facets on either side, and the angle of material between, degrees; 360 where hollow."""
    edges, left, right = _edges(body.triangles)
    cosine = np.einsum("ij,ij->i", units[left], units[right])
    opposite = body.vertices[_apexes(body.triangles[right], edges)]
    above = np.einsum("ij,ij->i", units[left], opposite - body.vertices[edges[:, 0]])
    angle = 180.0 - np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return edges, left, right, np.where((above < 0) & (1 - cosine > FLAT), angle, 360.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Facets:
    """The facets that have a direction.

    ``numbers`` tells the place of every facet of the body among them, -1 of those that have none. ``planes`` ``(m,)``
    numbers the plane each lies in, below ``total``; ``knives`` holds the keys, least number times ``total`` plus the
    other, of pairs of planes that meet in a knife edge.
    """

    corners: Array
    units: Array
    numbers: Indices
    planes: Indices
    knives: Indices
    total: int

    @classmethod
    def of(cls, body: Mesh) -> _Facets:
        corners = body.corners
        units, heights = _unit_normals(corners)
        whole = heights > SLIVER
        _, left, right, angle = _convex_edges(body, units)
        count = len(corners)
        slivers = ~whole[left] | ~whole[right]
        level = np.einsum("ij,ij->i", units[left], units[right]) > 1 - COPLANAR
        planes = _spread(count, left[level | slivers], right[level | slivers])
        sharp = (angle < KNIFE_DEG) & ~slivers
        one, two = planes[left[sharp]], planes[right[sharp]]
        keys = np.unique(np.minimum(one, two) * count + np.maximum(one, two))
        numbers = np.where(whole, np.cumsum(whole) - 1, -1)
        return cls(
            corners=corners[whole],
            units=units[whole],
            numbers=numbers,
            planes=planes[whole],
            knives=keys,
            total=count,
        )

    def meet_in_a_knife(self, one: Indices, two: Indices) -> NDArray[np.bool_]:
        """Return whether the planes of facets ``one`` and ``two`` meet in a knife edge, ``(n,)`` each."""
        if len(self.knives) == 0:
            return np.zeros(len(one), dtype=bool)
        a, b = self.planes[one], self.planes[two]
        return np.isin(np.minimum(a, b) * self.total + np.maximum(a, b), self.knives)


def _spread(count: int, left: Indices, right: Indices) -> Indices:
    """Return a number ``(count,)`` for each facet, the same for facets joined by any chain of pairs."""
    label = np.arange(count)
    while True:
        least = np.minimum(label[left], label[right])
        spread = label.copy()
        np.minimum.at(spread, left, least)
        np.minimum.at(spread, right, least)
        spread = spread[spread]
        if np.array_equal(spread, label):
            return label
        label = spread


def _unit_normals(corners: Array) -> tuple[Array, Array]:
    """Return unit normals ``(m, 3)`` and heights over the longest edge ``(m,)``, mm."""
    crossed = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(crossed, axis=1)
    longest = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2).max(axis=1)
    return crossed / np.maximum(sizes, 1e-300)[:, None], sizes / np.maximum(longest, 1e-300)


def _starts(corners: Array) -> tuple[Array, Indices]:
    """Return ``(6 m, 3)`` corners and edge middles of facets, each a micron toward the facet's middle, and whose."""
    points = np.concatenate([corners, (corners + np.roll(corners, -1, axis=1)) / 2], axis=1)
    inward = corners.mean(axis=1)[:, None] - points
    lengths = np.linalg.norm(inward, axis=2, keepdims=True)
    moved = points + inward * np.minimum(INSET / np.maximum(lengths, 1e-300), 0.5)
    return moved.reshape(-1, 3), np.repeat(np.arange(len(corners)), points.shape[1])


def _edges(triangles: Indices) -> tuple[Indices, Indices, Indices]:
    """Return the edges ``(k, 2)`` of a closed mesh and the facets on either side."""
    half = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles)), 3)
    low, high = half.min(axis=1), half.max(axis=1)
    ends = np.column_stack([low, high])
    # One number for both ends and the way along: sorted in a third of the time that one after the other takes.
    order = np.argsort(
        (low * (int(triangles.max(initial=0)) + 1) + high) * 2 + (half[:, 0] > half[:, 1]), kind="stable"
    )
    pairs = order[: len(order) // 2 * 2].reshape(-1, 2)
    if len(order) % 2 or not np.array_equal(ends[pairs[:, 0]], ends[pairs[:, 1]]):
        raise ValueError("the mesh is not closed")
    return ends[pairs[:, 0]], owner[pairs[:, 0]], owner[pairs[:, 1]]


def _apexes(triangles: Indices, edges: Indices) -> Indices:
    """Return the corner ``(k,)`` of each facet that is not on its edge."""
    return np.asarray(triangles.sum(axis=1) - edges.sum(axis=1), dtype=np.int64)
