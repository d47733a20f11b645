"""A tree of boxes over triangles, walked for all rays at once: ray casting in plain numpy.

Terms
-----
leaf
    ``LEAF`` triangles that lie together. The triangles are sorted so that every node of the tree is a run of them.
level
    All nodes of one depth; level k has 2^k nodes, node i has the children 2 i and 2 i + 1 on the next.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

LEAF = 4
"""Triangles to a leaf."""
RAYS_AT_ONCE = 1 << 15
"""Bounds the memory of one walk."""
EDGE = 1e-12
"""Barycentric slack, so that no ray slips between two triangles that share an edge."""


def caster(corners: Array) -> Callable[[NDArray[np.floating], NDArray[np.floating]], Indices]:
    """Return a function from rays ``(n, 3)``, ``(n, 3)`` to the index of the triangle hit first, or -1."""
    order = _sorted(corners)
    levels = _boxes(corners[order])

    def first(origins: NDArray[np.floating], directions: NDArray[np.floating]) -> Indices:
        starts, ways = np.asarray(origins, dtype=np.float64), np.asarray(directions, dtype=np.float64)
        pieces = [
            _first(corners, order, levels, starts[at : at + RAYS_AT_ONCE], ways[at : at + RAYS_AT_ONCE])
            for at in range(0, len(starts), RAYS_AT_ONCE)
        ]
        return np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.int64)

    return first


def _sorted(corners: Array) -> Indices:
    count = LEAF
    while count < len(corners):
        count *= 2
    # The last triangle fills up the tree: hitting it twice changes nothing.
    order = np.minimum(np.arange(count), len(corners) - 1)
    middles = corners.mean(axis=1)
    run = count
    while run > LEAF:
        runs = middles[order].reshape(-1, run, 3)
        widest = np.ptp(runs, axis=1).argmax(axis=1)
        keys = np.take_along_axis(runs, widest[:, None, None], axis=2)[:, :, 0]
        order = np.take_along_axis(order.reshape(-1, run), keys.argsort(axis=1, kind="stable"), axis=1).ravel()
        run //= 2
    return order


def _boxes(corners_sorted: Array) -> list[tuple[Array, Array]]:
    low = corners_sorted.min(axis=1).reshape(-1, LEAF, 3).min(axis=1)
    high = corners_sorted.max(axis=1).reshape(-1, LEAF, 3).max(axis=1)
    levels = [(low, high)]
    while len(low) > 1:
        low, high = low.reshape(-1, 2, 3).min(axis=1), high.reshape(-1, 2, 3).max(axis=1)
        levels.append((low, high))
    return levels[::-1]


def _first(
    corners: Array, order: Indices, levels: list[tuple[Array, Array]], origins: Array, directions: Array
) -> Indices:
    inverse = 1 / np.where(directions == 0, 1e-300, directions)
    rays: Indices = np.arange(len(origins))
    nodes: Indices = np.zeros(len(origins), dtype=np.int64)
    for depth, (low, high) in enumerate(levels):
        if depth:
            rays, nodes = np.repeat(rays, 2), (2 * nodes[:, None] + np.arange(2)).ravel()
        with np.errstate(over="ignore"):
            one = (low[nodes] - origins[rays]) * inverse[rays]
            two = (high[nodes] - origins[rays]) * inverse[rays]
        enter, leave = np.minimum(one, two).max(axis=1), np.maximum(one, two).min(axis=1)
        met = leave >= np.maximum(enter * (1 - EDGE), 0)
        rays, nodes = rays[met], nodes[met]
    triangles = order.reshape(-1, LEAF)[nodes].ravel()
    return _nearest(corners, triangles, np.repeat(rays, LEAF), origins, directions)


def _nearest(corners: Array, triangles: Indices, rays: Indices, origins: Array, directions: Array) -> Indices:
    a, b, c = (corners[triangles, k] for k in range(3))
    way = directions[rays]
    # T. Moeller and B. Trumbore, Fast, Minimum Storage Ray/Triangle Intersection (1997).
    p = np.cross(way, c - a)
    size = np.einsum("ij,ij->i", b - a, p)
    away = origins[rays] - a
    q = np.cross(away, b - a)
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.einsum("ij,ij->i", away, p) / size
        v = np.einsum("ij,ij->i", way, q) / size
        t = np.einsum("ij,ij->i", c - a, q) / size
        inside = (size != 0) & (u >= -EDGE) & (v >= -EDGE) & (u + v <= 1 + EDGE) & (t >= 0)
    triangles, rays = triangles[inside], rays[inside]
    farthest_first: Indices = np.lexsort((triangles, t[inside]))[::-1]
    hit = np.full(len(origins), -1, dtype=np.int64)
    hit[rays[farthest_first]] = triangles[farthest_first]  # the last one written, the nearest, stays
    return hit
