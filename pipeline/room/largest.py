"""The largest upright rectangle, middle on x = 0 and foot on z = 0, within the borders of a box that is not square.

With half width X and height H every side of every border says, of each corner of the rectangle, a X + b H <= k. Of such
straight limits the area (2 X - across) (H - up) is largest on one of them or where two meet; across and up are what
sheets take of the width and the height.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pipeline.room.inside import Inside, border_lines

Array = NDArray[np.float64]

ROUNDING = 1e-9
"""mm; limits that meet in one point are all kept by it."""
PARALLEL = 1e-12


def limits(inside: Inside, clearance: float) -> Array:
    """Return rows ``(n, 3)`` (a, b, k) for both borders, keeping a clearance from their sides and tops."""
    rows = []
    for border in (inside.opening, inside.back):
        for nx, nz, c in border_lines(border[:, [0, 2]])[1:]:
            rows += [(-nx * side, -nz * up, c - clearance) for side in (-1.0, 1.0) for up in (0.0, 1.0)]
    return np.array(rows)


def widest(rows: Array, height: float) -> float:
    """Return twice the greatest X at a height, mm; 0 where there is none."""
    return 2 * _farthest(rows[:, 0], rows[:, 2] - rows[:, 1] * height)


def highest(rows: Array, width: float) -> float:
    """Return the greatest H at a width, mm; 0 where there is none."""
    return _farthest(rows[:, 1], rows[:, 2] - rows[:, 0] * width / 2)


def _farthest(slopes: Array, left: Array) -> float:
    """Return the greatest t with slopes t <= left, 0 where none above it does."""
    most = float((left[slopes > 0] / slopes[slopes > 0]).min())
    return most if most > 0 and (slopes * most <= left + ROUNDING).all() else 0.0


def largest(rows: Array, across: float, up: float) -> tuple[float, float]:
    """Return width and height, mm, of the rectangle that leaves the most between what sheets take of either."""
    found = []
    for one, other in combinations(rows, 2):
        matrix = np.array([one[:2], other[:2]])
        if abs(np.linalg.det(matrix)) > PARALLEL:
            found.append(np.linalg.solve(matrix, [one[2], other[2]]))
    u, v = across / 2, up
    for a, b, k in rows:
        if a > 0 and b > 0:
            spare = k - a * u - b * v
            found.append(np.array([u + spare / (2 * a), v + spare / (2 * b)]))
    kept = [p for p in found if (rows[:, :2] @ p <= rows[:, 2] + ROUNDING).all() and p[0] > u and p[1] > v]
    if not kept:
        return across, up
    x, h = max(kept, key=lambda p: (round((p[0] - u) * (p[1] - v), 9), p[0]))
    return 2 * float(x), float(h)
