"""Joints between voussoirs: where they stand on the intrados, and the grooves that show them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Groove
from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path

Array = NDArray[np.float64]

TOUCH = 1e-6
"""mm; nearer than this to the middle a joint is the apex's."""


def joints(inner: Path, stones: int, ends: bool) -> list[tuple[Array, Array]]:
    """Return foot and outward unit normal of every joint, at equal lengths along the intrados."""
    lengths = np.array([curves.length(curve) for curve in inner])
    starts = np.concatenate([[0.0], np.cumsum(lengths)])
    found = []
    for number in range(0 if ends else 1, stones + 1 if ends else stones):
        at = starts[-1] * number / stones
        k = min(int(np.searchsorted(starts, at, side="right")) - 1, len(inner) - 1)
        t = _parameter(inner[k], at - starts[k], lengths[k])
        foot, way = curves.evaluate(inner[k], t)[0], curves.tangent(inner[k], t)
        normal = np.array([way[1], -way[0]]) / np.hypot(*way)
        if 2 * number == stones:
            normal = np.array([0.0, 1.0])
        found.append((foot, normal))
    return found


def _parameter(curve: Curve, distance: float, whole: float) -> float:
    """Return the parameter at a distance along the curve, by bisection to rounding."""
    if curve.straight:
        return distance / whole
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        if curves.length(curves.piece(curve, 0.0, middle)) < distance:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def thickness(outer: Path, foot: Array, normal: Array) -> float:
    """Return how far the extrados lies from a foot ``(2,)`` on the intrados, along the joint."""
    carrier = np.array([-normal[1], normal[0], normal[1] * foot[0] - normal[0] * foot[1]])
    points = [curves.evaluate(curve, t)[0] for curve in outer for t in curves.crossings(curve, carrier)]
    ahead = [float((point - foot) @ normal) for point in points]
    ends = [float((end - foot) @ normal) for end in (outer[0].start, outer[-1].end)]
    return min((d for d in ahead if d > TOUCH), default=max(ends))


def notch(inner: Path, foot: Array, half_joint: float) -> float:
    """Return how far under the apex the intrados is as wide as the joint there; 0 for joints elsewhere.

    Only sharp heads have a joint at the apex. A groove that started nearer would leave ledges standing in the angle.
    """
    if abs(foot[0]) > TOUCH:
        return 0.0
    upright = np.array([1.0, 0.0, -half_joint])
    return float(foot[1] - max(curves.evaluate(c, t)[0, 1] for c in inner for t in curves.crossings(c, upright)))


def groove(
    foot: Array,
    normal: Array,
    width: float,
    *,
    along: tuple[float, float],
    deep: tuple[float, float],
    base: float,
    seen: tuple[tuple[Array, Array], tuple[float, float]],
) -> Groove:
    """Return the box from ``along`` the joint, ``width`` across it, ``deep`` along the hall; z from ``base``.

    ``seen`` are the ends of the joint's line on the skin: two points (x, z) and their y.
    """
    across = np.array([-normal[1], normal[0]]) * width / 2
    corners = [foot + normal * d + side * across for d in along for side in (-1, 1)]
    line = [[x, y, z + base] for (x, z), y in zip(*seen, strict=True)]
    return Groove(corners=np.array([[x, y, z + base] for y in deep for x, z in corners]), line=np.array(line))
