"""Plane paths of lines and arcs, each segment with its bulge.

Terms
-----
bulge
    tan(theta / 4) of an arc that turns by theta from one vertex to the next, positive counter-clockwise, 0 for a line
    (DXF reference, LWPOLYLINE group 42).
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bulges:
    """A path of lines and arcs.

    Attributes
    ----------
    points
        ``(n, 3)`` x, y of each vertex and the bulge of the segment that starts there, mm; an open path's last is 0.
    closed
        Whether the last vertex runs on to the first.
    """

    points: Array
    closed: bool

    def __post_init__(self) -> None:
        self.points.setflags(write=False)


def arc_samples(start: complex, end: complex, bulge: float, count: int) -> Array:
    """Return ``(count, 2)`` points from start to end.

    At the share s the chord from the start makes the angle theta (1 - s) / 2 with the whole chord and is shorter by
    sin(theta s / 2) / sin(theta / 2).
    """
    half = 2 * math.atan(bulge)
    share = np.linspace(0, 1, count)
    ratio = share if abs(half) < 1e-9 else np.sin(half * share) / math.sin(half)
    points = start + (end - start) * ratio * np.exp(-1j * half * (1 - share))
    points[-1] = end
    return np.column_stack([points.real, points.imag])


def off_arc(points: Array, start: complex, end: complex, bulge: float) -> Array:
    """Return signed distances ``(k,)`` of points to the circle (or line) of an arc, well behaved for any radius.

    With d = p - start, N the left normal of the arc there and kappa its curvature:
    (kappa d^2 - 2 d.N) / (1 + sqrt(1 + kappa (kappa d^2 - 2 d.N))).
    """
    chord = end - start
    if chord == 0:
        return np.abs(points[:, 0] + 1j * points[:, 1] - start)
    kappa = 4 * bulge / ((1 + bulge * bulge) * abs(chord))
    normal = 1j * chord / abs(chord) * cmath.exp(-2j * math.atan(bulge))
    away = points[:, 0] + 1j * points[:, 1] - start
    inner = kappa * np.abs(away) ** 2 - 2 * (away * normal.conjugate()).real
    out: Array = inner / (1 + np.sqrt(np.maximum(1 + kappa * inner, 0.0)))
    return out


def point_off_arc(point: complex, start: complex, end: complex, bulge: float) -> float:
    """Return `off_arc` of one point."""
    chord = end - start
    if chord == 0:
        return abs(point - start)
    kappa = 4 * bulge / ((1 + bulge * bulge) * abs(chord))
    normal = 1j * chord / abs(chord) * cmath.exp(-2j * math.atan(bulge))
    away = point - start
    inner = kappa * abs(away) ** 2 - 2 * (away * normal.conjugate()).real
    return inner / (1 + math.sqrt(max(1 + kappa * inner, 0.0)))


def _segments(bulges: Bulges) -> list[tuple[complex, complex, float]]:
    rows = bulges.points.tolist()
    following = rows[1:] + rows[:1] if bulges.closed else rows[1:]
    return [(complex(x, y), complex(u, v), b) for (x, y, b), (u, v, _) in zip(rows, following, strict=False)]


def bulge_points(bulges: Bulges, tolerance: float) -> Array:
    """Return ``(n, 2)`` points whose chords stay within ``tolerance``; a closed path's first is not repeated."""
    parts = []
    for start, end, bulge in _segments(bulges):
        steps = 1
        if abs(bulge) * abs(end - start) / 2 > tolerance:
            half = 2 * abs(math.atan(bulge))
            radius = abs(end - start) / (2 * math.sin(half))
            # The sagitta of an angle a is 2 r sin(a / 4)^2.
            steps = math.ceil(half / (2 * math.asin(math.sqrt(min(1.0, tolerance / (2 * radius))))))
        parts.append(arc_samples(start, end, bulge, 1 + max(1, steps))[:-1])
    if not bulges.closed:
        parts.append(bulges.points[-1:, :2])
    return np.vstack(parts)


def bulge_length(bulges: Bulges) -> float:
    """Return the exact length: chord times half / sin(half) with half = theta / 2 = 2 atan(bulge)."""
    total = 0.0
    for start, end, bulge in _segments(bulges):
        half = 2 * math.atan(bulge)
        total += abs(end - start) * (half / math.sin(half) if half else 1.0)
    return total


def bulge_area(bulges: Bulges) -> float:
    """Return the exact area inside a closed path, positive when it runs counter-clockwise.

    The polygon's area and, for each arc, that between it and its chord c: c^2 (theta - sin theta) / (8 sin^2(theta/2)).
    """
    total = 0.0
    for start, end, bulge in _segments(bulges):
        total += (start.conjugate() * end).imag / 2
        theta = 4 * math.atan(bulge)
        # Under 1e-3 the difference loses digits; the segment is then a parabola's, 2/3 chord times height.
        share = bulge / 3 if abs(bulge) < 1e-3 else (theta - math.sin(theta)) / (8 * math.sin(theta / 2) ** 2)
        total += abs(end - start) ** 2 * share
    return total
