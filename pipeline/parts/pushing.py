"""Whether a part can be pushed straight into the box past others that are in their places.

Pulled straight out of its place, a part sweeps a body; it is free if that body leaves the others alone. Along every
line of the pull the part begins at its hindmost point and the other ends at its foremost one, so the other is in the
way exactly where

    h_other(p) > h_part(p)

with h measured along the pull, p a point of the plane square to it, h_part the lower envelope of the part's faces that
look inward and h_other the upper one of the other's that look outward. Both are linear over every pair of triangles,
and so is their difference over what two triangles have in common: its greatest value stands at one of the corners.

Most pairs are told apart by less: whether their boxes overlap, whether the one plane stands before the other anywhere
over what the boxes have in common, whether an edge parts them; and where much is in the way, by one point of it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.parts.facets import GRAZE, NEXT, Array, Facets, Indices

STRAIGHT_OUT = (0.0, -1.0, 0.0)
"""Square out of the opening, built."""

TOUCH = 1e-3
"""mm; parts nearer than this touch: a joint is drawn once for both its sides, and each rounds it for itself."""

FIRST, ATATIME = 64, 4096
"""Pairs of facets looked at first, since few are enough to find what is badly in the way, and then at once."""

MANY, EVERY = 5000, 8
"""Of so many pairs of facets every eighth of one body's shows soon whether much is in the way."""

CLEAR = 0.51 * GRAZE
"""mm; what two facets have in common round a point this far from all their edges is wider than ``GRAZE``."""

MOST_BOXES = 4_000_000
"""Pairs of boxes compared at once."""


def in_the_way(part: Facets, other: Facets) -> bool:
    """Return whether a part meets another on its way out by more than ``GRAZE``, square to the faces that meet.

    Of the part come the facets that look inward, of the other those that look outward. A common figure of two
    triangles that is narrower than ``GRAZE`` does not count: parts that lie side by side share such figures of
    rounding.
    """
    low, high = np.maximum(part.bounds[0], other.bounds[0]), np.minimum(part.bounds[1], other.bounds[1])
    if _beside(low, high) or other.bounds[1, 2] - part.bounds[0, 2] < GRAZE:
        return False
    mine = part.within(low, high, part.low[2] < other.bounds[1, 2] - GRAZE)
    theirs = other.within(low, high, other.high[2] > part.bounds[0, 2] + GRAZE)
    return _some_ahead(part, other, mine, theirs, math.inf)


def lifted_into(part: Facets, other: Facets, lift: float) -> bool:
    """Return whether a part meets another, again by more than ``GRAZE``, when it is lifted ``lift`` mm off its place.

    Its leading facets, which look along the lift, then reach the other's trailing ones that stand less than that ahead,
    or touch.
    """
    part = part.raised(lift)
    low, high = np.maximum(part.bounds[0], other.bounds[0]), np.minimum(part.bounds[1], other.bounds[1])
    ahead = part.bounds[::-1, 2] - other.bounds[:, 2]
    if _beside(low, high) or ahead[0] < GRAZE or ahead[1] > lift + TOUCH:
        return False
    mine = part.within(low, high, part.high[2] > other.bounds[0, 2])
    theirs = other.within(low, high, other.low[2] < part.bounds[1, 2])
    return _some_ahead(other, part, theirs, mine, lift)


def _beside(low: Array, high: Array) -> bool:
    return bool(high[0] - low[0] < GRAZE or high[1] - low[1] < GRAZE)


def _some_ahead(behind: Facets, front: Facets, i: Indices, k: Indices, most: float) -> bool:
    """Return whether any of the facets ``k`` stands in front of one of ``i``, by at most ``most`` mm along the pull."""
    if not len(i) or not len(k):
        return False
    if len(i) * len(k) > MANY and _shown_by_few(behind, front, i[::EVERY], k, most):
        return True
    step = max(1, MOST_BOXES // len(k))
    for start in range(0, len(i), step):
        pairs = _boxed(behind, front, i[start : start + step], k, most)
        if len(pairs[0]) and _some_of_these(behind, front, *pairs, most):
            return True
    return False


def _shown_by_few(behind: Facets, front: Facets, i: Indices, k: Indices, most: float) -> bool:
    """Return whether some pairs of these facets, taken as they come, show that any meet."""
    few, many = _boxed(behind, front, i[: MOST_BOXES // len(k) + 1], k, most)
    every = -(-len(few) // FIRST)
    return every > 0 and _surely_meet(behind, front, few[::every], many[::every], most)


def _some_of_these(behind: Facets, front: Facets, few: Indices, many: Indices, most: float) -> bool:
    """Return whether of any of these pairs the facet in front stands ahead."""
    ahead, widths = _ahead(behind, front, few, many, most)
    few, many = _widest_first(few[ahead], many[ahead], widths[ahead])
    if not len(few):
        return False
    if _surely_meet(behind, front, few[:FIRST], many[:FIRST], most):
        return True
    at, size = 0, FIRST
    while at < len(few):
        pairs = _overlapping(behind, front, few[at : at + size], many[at : at + size])
        if len(pairs[0]) and _any_meet(behind, front, *pairs, most):
            return True
        at, size = at + size, ATATIME
    return False


def _boxed(mine: Facets, theirs: Facets, i: Indices, k: Indices, most: float) -> tuple[Indices, Indices]:
    """Return the pairs of facets whose boxes overlap and of which theirs may reach farther out, by at most ``most``."""
    low, high = mine.low[:, i, None], mine.high[:, i, None]
    other_low, other_high = theirs.low[:, k] + GRAZE, theirs.high[:, k] - GRAZE
    near = low[2] < other_high[2]
    if most < math.inf:
        near &= high[2] > other_low[2] - (most + GRAZE + TOUCH)
    for axis in (0, 1):
        near &= low[axis] < other_high[axis]
        near &= high[axis] > other_low[axis]
    rows, columns = np.divmod(near.ravel().nonzero()[0], len(k))
    return i[rows], k[columns]


def _ahead(mine: Facets, theirs: Facets, i: Indices, k: Indices, most: float) -> tuple[NDArray[np.bool_], Array]:
    """Return of which pairs theirs can be ahead at all, by at most ``most``, and how wide their common rectangle is."""
    low, high = np.maximum(mine.low[:2, i], theirs.low[:2, k]), np.minimum(mine.high[:2, i], theirs.high[:2, k])
    tilt = theirs.tilt[:, k] - mine.tilt[:, i]
    one, two = tilt * low, tilt * high
    at = theirs.at[k] - mine.at[i]
    highest = at + np.maximum(one, two).sum(axis=0)
    out: NDArray[np.bool_] = highest * np.minimum(mine.facing[i], theirs.facing[k]) > GRAZE
    if most < math.inf:
        out &= at + np.minimum(one, two).sum(axis=0) <= most + TOUCH
    return out, (high - low).min(axis=0)


def _widest_first(i: Indices, k: Indices, widths: Array) -> tuple[Indices, Indices]:
    """Return pairs with the ``FIRST`` put in front that share the widest rectangles: where any meet, these most do."""
    if len(i) <= FIRST:
        return i, k
    order = np.argpartition(-widths, FIRST)
    return i[order], k[order]


def _surely_meet(mine: Facets, theirs: Facets, i: Indices, k: Indices, most: float) -> bool:
    """Return whether the middle of a facet shows that some pair meets; others may."""
    tilt, at = theirs.tilt[:, k] - mine.tilt[:, i], theirs.at[k] - mine.at[i]
    least = GRAZE / np.minimum(mine.facing[i], theirs.facing[k])
    for one, n, other, m in ((mine, i, theirs, k), (theirs, k, mine, i)):
        x, y = one.middle[:, n]
        ahead = at + tilt[0] * x + tilt[1] * y
        met = (ahead > least) & (ahead <= most) & (one.inset[n] > CLEAR)
        sides = other.sides[:, :, m]
        met &= (sides[0] * x + sides[1] * y - other.reach[:, m]).min(axis=0) > CLEAR
        if met.any():
            return True
    return False


def _overlapping(mine: Facets, theirs: Facets, i: Indices, k: Indices) -> tuple[Indices, Indices]:
    """Return those of pairs of facets that overlap."""
    kept = _shared(mine, theirs, i, k)
    i, k = i[kept], k[kept]
    kept = _shared(theirs, mine, k, i)
    return i[kept], k[kept]


def _shared(one: Facets, other: Facets, i: Indices, k: Indices) -> NDArray[np.bool_]:
    """Return which pairs no edge of the first facet parts, by ``GRAZE``."""
    sides, reach, x, y = one.sides[:, :, i], one.reach[:, i], other.x[:, k], other.y[:, k]
    away = sides[0] * x[0] + sides[1] * y[0]
    for corner in (1, 2):
        np.maximum(away, sides[0] * x[corner] + sides[1] * y[corner], out=away)
    out: NDArray[np.bool_] = (away - reach > GRAZE).all(axis=0)
    return out


def _any_meet(mine: Facets, theirs: Facets, i: Indices, k: Indices, most: float) -> bool:
    x, y, inside = _common_corners(mine, theirs, i, k)
    tilt, at = theirs.tilt[:, k] - mine.tilt[:, i], theirs.at[k] - mine.at[i]
    ahead = at + tilt[0] * x + tilt[1] * y
    highest, lowest = np.where(inside, ahead, 0.0).max(axis=0), np.where(inside, ahead, np.inf).min(axis=0)
    met = highest * np.minimum(mine.facing[i], theirs.facing[k]) > GRAZE
    if most < math.inf:  # the whole figure within that, or a strip of it that is wide enough to count
        near = most + TOUCH
        met &= (highest <= near) | (near - lowest > GRAZE * np.hypot(*tilt))
    if not met.any():
        return False
    normal = np.concatenate([mine.sides[:, :, i[met]], theirs.sides[:, :, k[met]]], axis=1)
    return bool((_width(x[:, met], y[:, met], inside[:, met], normal) > GRAZE).any())


def _common_corners(mine: Facets, theirs: Facets, i: Indices, k: Indices) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return candidates ``(15, n)`` for the corners of what two triangles have in common, and which of them are."""
    a, b = (mine.x[:, i], mine.y[:, i]), (theirs.x[:, k], theirs.y[:, k])
    x, y, hits = _crossings(a, b)
    inside = np.concatenate([_within(a, b), _within(b, a), hits])
    return np.concatenate([a[0], b[0], x]), np.concatenate([a[1], b[1], y]), inside


def _within(points: tuple[Array, Array], triangles: tuple[Array, Array]) -> NDArray[np.bool_]:
    """Return which of ``(3, n)`` points lie in triangles, their border included."""
    (x, y), (a, b) = points, triangles
    along, up = a[NEXT] - a, b[NEXT] - b
    side = along[:, None] * (y - b[:, None]) - up[:, None] * (x - a[:, None])
    within: NDArray[np.bool_] = np.logical_and.reduce(side >= 0)
    within |= np.logical_and.reduce(side <= 0)
    return within


def _crossings(a: tuple[Array, Array], b: tuple[Array, Array]) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return where the edges' lines of triangles meet, each ``(9, n)``, and which of these lie on both edges."""
    ux, uy, vx, vy = ((c[NEXT] - c) for c in (*a, *b))
    ux, uy = ux[:, None], uy[:, None]
    away_x, away_y = b[0] - a[0][:, None], b[1] - a[1][:, None]
    across = ux * vy - uy * vx
    slanted = across != 0
    safe = np.where(slanted, across, 1.0)
    s = (away_x * vy - away_y * vx) / safe
    t = (away_x * uy - away_y * ux) / safe
    hit = slanted & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    shape = 9, across.shape[-1]
    return (a[0][:, None] + s * ux).reshape(shape), (a[1][:, None] + s * uy).reshape(shape), hit.reshape(shape)


def _width(x: Array, y: Array, inside: NDArray[np.bool_], normals: Array) -> Array:
    """Return the least width ``(n,)`` of common figures: a convex figure is narrowest square to one of its edges."""
    reach = normals[0][:, None] * x + normals[1][:, None] * y
    spread = np.where(inside, reach, -np.inf).max(axis=1) - np.where(inside, reach, np.inf).min(axis=1)
    out: Array = spread.min(axis=0)
    return out
