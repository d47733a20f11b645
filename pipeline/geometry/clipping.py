"""Keeping the part of an exact closed path on one side of a line."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.vectors import norm

Array = NDArray[np.float64]

TOUCH = 1e-7
"""mm; nearer than this two points are one: rounding of coordinates up to a few metres stays far below it."""


def clip(path: Path, half_planes: Iterable[ArrayLike]) -> Path:
    """Return what is left of a closed path within half planes, empty when nothing is.

    Parameters
    ----------
    path
        Closed; a line of ``half_planes`` may cut it into one piece only, as it does when the path is convex.
    half_planes
        ``(3,)`` each: (a, b, c) keeps ``a x + b y + c >= 0``.
    """
    for half_plane in half_planes:
        path = _within(path, np.asarray(half_plane, dtype=np.float64))
    return path


def _within(path: Path, normal: Array) -> Path:
    normal = normal / np.linalg.norm(normal[:2])
    kept = [part for curve in path for part in _split(curve, normal) if _side(part, normal) > TOUCH]
    closed: list[Curve] = []
    for part in kept:
        if closed:
            closed += _bridge(closed[-1], part)
        closed.append(part)
    return (*closed, *_bridge(closed[-1], closed[0])) if closed else ()


def _split(curve: Curve, normal: Array) -> list[Curve]:
    values = curve.points @ normal
    if curve.straight:
        roots = [float(values[0] / (values[0] - values[1]))] if values[0] * values[1] < 0 else []
    else:
        roots = sorted(t for t in curves.bezier_roots(values) if 0 < t < 1)
    ends = [0.0, *roots, 1.0]
    return [curves.piece(curve, a, b) for a, b in itertools.pairwise(ends) if b > a]


def _side(curve: Curve, normal: Array) -> float:
    """Return how far the curve reaches to the kept side, mm."""
    points = curves.evaluate(curve, np.array([0.0, 0.25, 0.5, 0.75, 1.0]))
    return float((points @ normal[:2] + normal[2]).max())


def _bridge(before: Curve, after: Curve) -> Path:
    if norm(after.start - before.end) <= TOUCH:
        return ()
    return (curves.line(before.end, after.start),)
