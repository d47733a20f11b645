"""The box's inside as plan and section cut it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.room.inside import Inside

Array = NDArray[np.float64]
Places = tuple[tuple[float, float], ...]


def plan_outline(inside: Inside, level: float) -> Places:
    """Return (depth, up) of the left side from front to back and of the right one back again; up is left, mm."""
    left, right = (_along(inside, host, level) for host in ("left-wall", "right-wall"))
    return (*((y, -x) for y, x in left), *((y, -x) for y, x in reversed(right)))


def section_outline(inside: Inside, across: float) -> Places:
    """Return (depth, height) of the top from front to back and of the bottom back again, at an x, mm."""
    ends = (0.0, _back(inside, across, inside.bounds[1]))
    top = [(y, max(-_rest(p, across, y) / float(p[2]) for p in inside.walls["ceiling"])) for y in ends]
    return (*top, (_back(inside, across, 0.0), 0.0), (0.0, 0.0))


def _rest(plane: Array, x: float, y: float) -> float:
    return float(plane[0] * x + plane[1] * y + plane[3])


def _along(inside: Inside, host: str, level: float) -> list[tuple[float, float]]:
    front = inside.beside(host, 0.0, level)
    back = _back(inside, front, level)
    return [(0.0, front), (back, inside.beside(host, back, level))]


def _back(inside: Inside, x: float, z: float) -> float:
    """Return how deep the box is at a place of its opening, mm."""
    plane = inside.planes["back-wall"]
    return float(-(plane[0] * x + plane[2] * z + plane[3]) / plane[1])
