"""The outline of somebody who stands in a long coat.

Half of it is a quadratic B-spline (C. de Boor, *A Practical Guide to Splines*, 1978): a parabola between the middles of
neighbouring control points, so a corner is a point given twice. Its breadths follow the shares of stature of
``pipeline.elements.figure``.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.figure import SHOULDERS
from pipeline.geometry.curves import Curve, Path

Array = NDArray[np.float64]

SOLE = 0.085
"""Half the breadth of both feet, of the stature."""
_ARM = SHOULDERS / 2

CONTROL = (
    (0.040, 1.0), (0.064, 0.96), (0.058, 0.89), (0.030, 0.868), (0.034, 0.838), (0.095, 0.825),
    (_ARM - 0.004, 0.80), (_ARM, 0.70), (_ARM + 0.006, 0.56), (_ARM - 0.004, 0.44), (0.112, 0.43), (0.108, 0.38),
    (0.122, 0.22), (0.122, 0.22), (0.070, 0.225), (0.070, 0.225), (0.066, 0.10), (0.064, 0.035), (SOLE, 0.025),
    (SOLE, 0.0), (SOLE, 0.0),
)  # fmt: skip
"""Right half from the crown down, (from the middle, above the sole), shares of the stature: head, arm, coat, shoe."""


def figure_outline(height: float, foot: float = 0.0) -> Path:
    """Return the closed outline, counter-clockwise, with a foot that hangs ``foot`` below the floor at 0."""
    right = height * np.array(CONTROL)
    corner = np.array([[SOLE * height, -foot]] * 2)
    half = np.concatenate([right, corner])
    mirror = half[::-1] * (-1.0, 1.0)
    # Down on the right is clockwise, so the ring is taken the other way round.
    ring = np.concatenate([half, mirror])[::-1]
    middles = (ring + np.roll(ring, -1, axis=0)) / 2
    curves = []
    for index, (start, end) in enumerate(pairwise([middles[-1], *middles])):
        if np.abs(end - start).max() > 0:
            curves += _piece(start, ring[index], end)
    return tuple(curves)


def _piece(start: Array, control: Array, end: Array) -> list[Curve]:
    """Return the parabola between two middles, or a line where its control point lies at an end of it."""
    kept = (
        [start, end] if min(np.abs(control - start).max(), np.abs(control - end).max()) == 0 else [start, control, end]
    )
    points = np.array(kept)
    return [Curve(np.column_stack([points, np.ones(len(points))]))]
