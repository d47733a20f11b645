"""Walls by brute force: every facet against every facet opposed to it, as two triangles in space; and balls in bodies.

Nothing here is shared with the program, but what a wall is: two facets less than 30 degrees from opposed, the way from
one to the other leaving both by less than that.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

OPPOSED = math.cos(math.radians(30))
"""Facets whose outward directions are less than 30 degrees from opposite are the two sides of a wall."""
AT_ONCE = 20_000
"""Pairs measured together."""
LATTICE, KEPT, FINER = 7, 4, 5
"""Places along each axis in which a ball is sought, how many are looked at more finely, and how often."""
TOUCHING = 1e-6
"""mm; corners nearer than this are one: an STL's single numbers differ by more or not at all."""


def walls(triangles: Array, reach: float, across: float = OPPOSED) -> tuple[Array, Array]:
    """Return the gaps ``(k,)`` within a reach between facets that are the two sides of a wall, and their middles.

    Facets that touch are the two sides of an edge, not of a wall. Of each pair the nearest points are taken from all
    corners against the other facet and all edges against all edges, one before the other through the material, and not
    aslant: what is nearest along a face, round an edge, is no wall.

    Parameters
    ----------
    triangles
        ``(m, 3, 3)`` of a closed body, outward, mm.
    reach
        Gaps from here on are left out, mm.
    across
        Least cosine between the way from one to the other and either's inward direction.
    """
    units = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    sizes = np.linalg.norm(units, axis=1)
    triangles, units = triangles[sizes > 0], units[sizes > 0] / sizes[sizes > 0, None]
    one, other = np.nonzero(np.triu(units @ units.T <= -OPPOSED))
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    apart = np.maximum(low[one] - high[other], low[other] - high[one]).clip(0)
    near = np.linalg.norm(apart, axis=1) < reach
    one, other = one[near], other[near]
    gaps, middles = [np.zeros(0)], [np.zeros((0, 3))]
    for begin in range(0, len(one), AT_ONCE):
        a, b = one[begin : begin + AT_ONCE], other[begin : begin + AT_ONCE]
        touch = np.linalg.norm(triangles[a][:, :, None] - triangles[b][:, None], axis=3).min(axis=(1, 2)) < TOUCHING
        a, b = a[~touch], b[~touch]
        gap, middle = _through(triangles[a], triangles[b], units[a], units[b], across)
        found = gap < reach
        gaps.append(gap[found])
        middles.append(middle[found])
    return np.concatenate(gaps), np.concatenate(middles)


def _through(a: Array, b: Array, unit_a: Array, unit_b: Array, across: float) -> tuple[Array, Array]:
    """Return how near triangles come that are one behind the other, and the middles; infinite where they are not."""
    gaps, middles = np.full(len(a), np.inf), np.zeros((len(a), 3))
    for start, end in _nearest_points(a, b):
        way = end - start
        gap = np.linalg.norm(way, axis=1)
        leaving = np.minimum(-np.einsum("ij,ij->i", way, unit_a), np.einsum("ij,ij->i", way, unit_b))
        better = (leaving > 0) & (leaving >= across * gap) & (gap < gaps)
        gaps[better] = gap[better]
        middles[better] = (start[better] + end[better]) / 2
    return gaps, middles


def _nearest_points(a: Array, b: Array) -> Iterator[tuple[Array, Array]]:
    """Yield points of triangles ``(n, 3, 3)`` among which the nearest two are."""
    for k in range(3):
        yield a[:, k], _foot(a[:, k], b)
        yield _foot(b[:, k], a), b[:, k]
    for i, j in itertools.product(range(3), repeat=2):
        yield _edges(a[:, i], a[:, (i + 1) % 3], b[:, j], b[:, (j + 1) % 3])


def _foot(points: Array, corners: Array) -> Array:
    """Return the nearest point of each triangle to its point: on the plane if that is inside, else on a side."""
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    share = np.einsum("ij,ij->i", corners[:, 0] - points, normals) / np.einsum("ij,ij->i", normals, normals)
    best = points + share[:, None] * normals
    inside = np.ones(len(points), dtype=bool)
    gaps = np.full(len(points), np.inf)
    sides = np.empty_like(points)
    for k in range(3):
        start, way = corners[:, k], corners[:, (k + 1) % 3] - corners[:, k]
        inside &= np.einsum("ij,ij->i", np.cross(way, best - start), normals) >= 0
        along = np.einsum("ij,ij->i", points - start, way) / np.einsum("ij,ij->i", way, way)
        at = start + along.clip(0, 1)[:, None] * way
        gap = np.linalg.norm(at - points, axis=1)
        sides[gap < gaps], gaps = at[gap < gaps], np.minimum(gap, gaps)
    return np.where(inside[:, None], best, sides)


def _edges(a: Array, b: Array, c: Array, d: Array) -> tuple[Array, Array]:
    """Return the nearest points of segments ``a b`` and ``c d``, ``(n, 3)`` each.

    Where the lines cross nearest within both; otherwise an end is nearest, which corners against facets have found.
    """
    u, v, w = b - a, d - c, a - c
    uu, uv, vv = (np.einsum("ij,ij->i", x, y) for x, y in ((u, u), (u, v), (v, v)))
    uw, vw = np.einsum("ij,ij->i", u, w), np.einsum("ij,ij->i", v, w)
    bottom = np.maximum(uu * vv - uv * uv, 1e-300)
    s, t = ((uv * vw - vv * uw) / bottom).clip(0, 1), ((uu * vw - uv * uw) / bottom).clip(0, 1)
    return a + s[:, None] * u, c + t[:, None] * v


def widest_ball(triangles: Array, middle: Array, reach: float) -> float:
    """Return the diameter of the widest ball found in a body whose middle lies within a reach of a place, mm.

    A lattice is looked at, and then finer ones round the roomiest places of the one before.
    """
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    near = triangles[((low <= middle + 3 * reach) & (high >= middle - 3 * reach)).all(axis=1)]
    steps = np.stack(np.meshgrid(*[np.linspace(-1, 1, LATTICE)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    places, step = middle + reach * steps, reach
    best = 0.0
    for _ in range(FINER):
        places = places[np.linalg.norm(places - middle, axis=1) <= reach]
        room = np.where(_inside(triangles, places), _to_surface(near, places), 0.0)
        best = max(best, 2 * float(room.max()))
        step *= 2 / (LATTICE - 1)
        places = (places[np.argsort(-room)[:KEPT], None] + step * steps).reshape(-1, 3)
    return best


def _to_surface(triangles: Array, points: Array) -> Array:
    """Return how far ``(n,)`` points are from the nearest triangle."""
    out = np.empty(len(points))
    for begin in range(0, len(points), max(1, AT_ONCE * 10 // len(triangles))):
        some = points[begin : begin + max(1, AT_ONCE * 10 // len(triangles))]
        at = np.repeat(some, len(triangles), axis=0)
        feet = _foot(at, np.tile(triangles, (len(some), 1, 1)))
        out[begin : begin + len(some)] = np.linalg.norm(feet - at, axis=1).reshape(len(some), -1).min(axis=1)
    return out


def _inside(triangles: Array, points: Array) -> NDArray[np.bool_]:
    """Return whether ``(n,)`` points lie in a closed body: the solid angles of its facets fill the sphere.

    A. van Oosterom and J. Strackee, *The Solid Angle of a Plane Triangle*, 1983.
    """
    out = np.empty(len(points), dtype=bool)
    for k, point in enumerate(points):
        a, b, c = np.moveaxis(triangles - point, 1, 0)
        la, lb, lc = (np.linalg.norm(one, axis=1) for one in (a, b, c))
        top = np.einsum("ij,ij->i", a, np.cross(b, c))
        bottom = la * lb * lc + sum(np.einsum("ij,ij->i", x, y) * z for x, y, z in ((a, b, lc), (b, c, la), (c, a, lb)))
        out[k] = np.arctan2(top, bottom).sum() > np.pi
    return out
