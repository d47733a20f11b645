"""Whether a plane parts two bodies: most neighbours lie on either side of a flat side of one of them.

Terms
-----
broad way
    The outward direction of one of a body's broadest sides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.mending.welding import alike
from pipeline.geometry.meshes import Mesh, normals
from pipeline.geometry.vectors import lengths

Array = NDArray[np.float64]

MOST_WAYS = 12
"""Of one body; a sheet has its two faces, its cut edges, and those of its holes."""
ONE_WAY = 0.02
"""Directions whose components round to the same multiples are looked along once."""


def broad_ways(body: Mesh) -> Array:
    """Return the broad ways of a body, ``(k, 3)`` of length 1: of each side that of its largest facet."""
    crossed = normals(body)
    sizes = lengths(crossed)
    whole = np.flatnonzero(sizes > 0)
    units = crossed[whole] / sizes[whole, None]
    side = alike(np.round(units / ONE_WAY)) - 1
    areas = np.bincount(side, weights=sizes[whole])
    order = np.lexsort((sizes[whole], side))
    last = np.cumsum(np.bincount(side)) - 1  # the largest facet of each side
    broadest = np.argsort(-areas, kind="stable")[:MOST_WAYS]
    out: Array = units[order[last[broadest]]]
    return out


def parted(one: Mesh, other: Mesh, ways_one: Array, ways_other: Array) -> float:
    """Return the widest gap between two bodies along their broad ways, mm.

    The ways are those that `broad_ways` tells of each, ``(k, 3)``. Above zero a plane parts the bodies, and they are at
    least so far apart. Else they share at most a slab so thick.
    """
    gaps = [
        float(((b.vertices @ ways.T).min(axis=0) - (a.vertices @ ways.T).max(axis=0)).max())
        for a, b, ways in ((one, other, ways_one), (other, one, ways_other))
    ]
    return max(gaps)
