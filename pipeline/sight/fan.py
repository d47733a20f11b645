"""Rays that spread from one point, as a picture's do, cast in plain numpy.

Terms
-----
place
    Where a ray passes the plane one mm in front of the point: (u, v) = (dx / dy, dz / dy). A triangle before the
    point is a triangle of places, and on it both the barycentric coordinates and 1 / depth are affine in (u, v).
cell
    A rectangle of places that holds some ``RAYS_TO_A_CELL`` rays.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

RAYS_TO_A_CELL = 48
TESTS_AT_ONCE = 1 << 20
"""Bounds the memory of one step."""
EDGE = 1e-12
"""Barycentric slack, so that no ray slips between two triangles that share an edge."""
SLIVER = 1e-18
"""Twice the area in places under which a triangle is seen edge on and hides nothing."""


def spreads(corners: Array, origins: Array, directions: Array) -> bool:
    """Return whether the rays leave one point with everything before it along y, so that ``first`` may cast them."""
    if len(origins) == 0 or not (directions[:, 1] > 0).all() or not (origins == origins[0]).all():
        return False
    return bool(corners[:, :, 1].min() > origins[0, 1])


def first(corners: Array, origin: Array, directions: Array) -> Indices:
    """Return the index of the triangle of ``corners`` ``(m, 3, 3)`` each ray ``(n, 3)`` meets first, or -1."""
    places = directions[:, [0, 2]] / directions[:, 1:2]
    away = corners - origin
    seen = away[:, :, [0, 2]] / away[:, :, 1:2]
    sides = np.concatenate([seen, np.ones((len(seen), 3, 1))], axis=2)
    chosen = np.flatnonzero(np.abs(np.linalg.det(sides)) > SLIVER)
    shares = np.linalg.inv(sides[chosen]).transpose(0, 2, 1)
    nearness = np.einsum("mk,mki->mi", 1 / away[chosen, :, 1], shares)
    low, size, counts = _grid(places)
    cell = np.clip((places - low) / size, 0, counts - 1).astype(np.int64) @ np.array([1, counts[0]])
    order = np.argsort(cell, kind="stable")
    starts = np.searchsorted(cell[order], np.arange(counts.prod() + 1))
    triangle, where = _overlaps(seen[chosen], shares, low, size, counts)
    held = starts[where + 1] - starts[where]
    best, hit = np.zeros(len(places)), np.full(len(places), -1, dtype=np.int64)
    for part in _parts(held):
        reach = held[part]
        ray = order[np.arange(reach.sum()) + np.repeat(starts[where[part]] - np.cumsum(reach) + reach, reach)]
        on = np.repeat(triangle[part], reach)
        u, v = places[ray, 0], places[ray, 1]
        inside = np.ones(len(ray), dtype=bool)
        for k in range(3):
            share = shares[on, k]
            inside &= share[:, 0] * u + share[:, 1] * v + share[:, 2] >= -EDGE
        ray, on = ray[inside], on[inside]
        near = nearness[on, 0] * u[inside] + nearness[on, 1] * v[inside] + nearness[on, 2]
        farther_first = np.argsort(near, kind="stable")
        ray, on, near = ray[farther_first], on[farther_first], near[farther_first]
        nearer = near > best[ray]
        # Of several on one ray the last one written, the nearest, stays.
        best[ray[nearer]] = near[nearer]
        hit[ray[nearer]] = chosen[on[nearer]]
    return hit


def _grid(places: Array) -> tuple[Array, Array, Indices]:
    """Return the lower corner, the size ``(2,)`` of a cell, and how many there are each way."""
    low, extent = places.min(axis=0), np.maximum(np.ptp(places, axis=0), 1e-9)
    wanted = max(1.0, len(places) / RAYS_TO_A_CELL)
    across = min(max(1, round(math.sqrt(wanted * extent[0] / extent[1]))), 1024)
    counts = np.array([across, min(max(1, round(wanted / across)), 1024)], dtype=np.int64)
    return low, extent / counts, counts


def _overlaps(seen: Array, shares: Array, low: Array, size: Array, counts: Indices) -> tuple[Indices, Indices]:
    """Return every pair of a triangle and a cell that may overlap."""
    least = np.floor((seen.min(axis=1) - low) / size)
    most = np.floor((seen.max(axis=1) - low) / size)
    within = np.flatnonzero(((most >= 0) & (least < counts)).all(axis=1))
    least, most = np.clip(least[within], 0, counts - 1), np.clip(most[within], 0, counts - 1)
    spans = (most - least).astype(np.int64) + 1
    many = spans.prod(axis=1)
    triangle = np.repeat(within, many)
    number = np.arange(len(triangle)) - np.repeat(np.cumsum(many) - many, many)
    wide = np.repeat(spans[:, 0], many)
    cell = np.repeat(least.astype(np.int64), many, axis=0) + np.column_stack([number % wide, number // wide])
    middle = low + (cell + 0.5) * size
    may = np.ones(len(triangle), dtype=bool)
    for k in range(3):
        share = shares[triangle, k]
        greatest = np.einsum("ij,ij->i", share[:, :2], middle) + share[:, 2] + np.abs(share[:, :2]) @ size / 2
        may &= greatest >= -1e-9
    return triangle[may], cell[may] @ np.array([1, counts[0]])


def _parts(held: Indices) -> list[slice]:
    """Return runs of pairs that hold about ``TESTS_AT_ONCE`` rays each."""
    total = np.cumsum(held)
    if len(total) == 0:
        return []
    cuts = np.searchsorted(total, np.arange(TESTS_AT_ONCE, total[-1], TESTS_AT_ONCE)) + 1
    edges = np.unique(np.concatenate([[0], cuts, [len(held)]]))
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]
