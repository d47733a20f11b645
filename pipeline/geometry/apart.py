"""How far the lines of one drawing lie from those of another, exactly but for a named rounding.

Along a straight piece the distance to one other straight piece is convex, so its largest value stands at an end. A
piece whose two ends are nearest to the same other one is therefore told by them; only where they differ is it halved,
until halving could not add more than ``WITHIN``, since no distance changes faster than the way along the piece.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.nearest import Chords

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

WITHIN = 1e-3
"""mm; the distance told is at most this much too small."""


def apart(lines: Array, target: Chords) -> tuple[float, Array]:
    """Return the largest distance of any place of ``lines`` ``(n, 2, 2)`` from a target, mm, and the place ``(2,)``."""
    starts, ends = lines[:, 0], lines[:, 1]
    at_start, at_end = _look(starts, target), _look(ends, target)
    worst, place = 0.0, np.zeros(2)
    while len(starts):
        for points, (distances, _) in ((starts, at_start), (ends, at_end)):
            first = int(distances.argmax())
            if distances[first] > worst:
                worst, place = float(distances[first]), points[first]
        most = (at_start[0] + at_end[0] + np.linalg.norm(ends - starts, axis=1)) / 2
        open_yet = (at_start[1] != at_end[1]) & (most > worst + WITHIN)
        starts, ends = starts[open_yet], ends[open_yet]
        at_start, at_end = _some(at_start, open_yet), _some(at_end, open_yet)
        middles = (starts + ends) / 2
        at_middle = _look(middles, target)
        starts, ends = np.concatenate([starts, middles]), np.concatenate([middles, ends])
        at_start, at_end = _both(at_start, at_middle), _both(at_middle, at_end)
    return worst, place


def _some(looked: tuple[Array, Indices], rows: NDArray[np.bool_]) -> tuple[Array, Indices]:
    return looked[0][rows], looked[1][rows]


def _both(one: tuple[Array, Indices], other: tuple[Array, Indices]) -> tuple[Array, Indices]:
    return np.concatenate([one[0], other[0]]), np.concatenate([one[1], other[1]])


def _look(points: Array, target: Chords) -> tuple[Array, Indices]:
    """Return distance and number of the nearest piece of the target, each ``(n,)``."""
    if len(points) == 0:
        return np.zeros(0), np.zeros(0, dtype=np.int64)
    places, which = target.nearest(points)
    distances: Array = np.linalg.norm(points - places, axis=1)
    return distances, which
