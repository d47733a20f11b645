"""Which facets meet along which edges.

Terms
-----
side
    An edge as one facet runs along it: from ``triangles[t, k]`` to ``triangles[t, k + 1]``, numbered ``3 t + k``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """The edges of a mesh.

    Attributes
    ----------
    neighbours
        ``(m, 3)`` the facet across each side; -1 where there is none, or more than one.
    same
        ``(m, 3)`` whether that facet runs along the edge the same way, so that the two disagree which side is out.
    open
        ``(k, 2)`` from and to of the sides of one facet alone.
    odd
        ``(j,)`` sides along edges of three facets, or five, ...: no body has such.
    """

    neighbours: Indices
    same: NDArray[np.bool_]
    open: Indices
    odd: Indices


def find_edges(triangles: Indices) -> Edges:
    """Return the edges of ``(m, 3)`` triangles."""
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.lexsort([high, low])
    new = np.ones(len(order), dtype=bool)
    new[1:] = (low[order][1:] != low[order][:-1]) | (high[order][1:] != high[order][:-1])
    first = np.flatnonzero(new)
    count = np.diff(np.append(first, len(order)))
    pair = first[count == 2]
    one, other = order[pair], order[pair + 1]
    neighbours = np.full(len(order), -1, dtype=np.int64)
    same = np.zeros(len(order), dtype=bool)
    neighbours[one], neighbours[other] = other // 3, one // 3
    same[one] = same[other] = start[one] == start[other]
    alone = order[first[count == 1]]
    return Edges(
        neighbours=neighbours.reshape(-1, 3),
        same=same.reshape(-1, 3),
        open=np.column_stack([start[alone], end[alone]]),
        odd=np.sort(order[np.repeat((count > 2) & (count % 2 == 1), count)]),
    )


def shells(neighbours: Indices) -> Indices:
    """Return a number ``(m,)`` for each facet, alike for facets joined across edges."""
    label = np.arange(len(neighbours))
    across = np.where(neighbours >= 0, neighbours, np.arange(len(neighbours))[:, None])
    while True:
        least = np.minimum(label, label[across].min(axis=1))
        np.minimum.at(least, label, least.copy())
        least = least[least]
        if np.array_equal(least, label):
            return label
        label = least
