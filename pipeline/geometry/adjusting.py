"""Lengths measured with more or less of a slip, adjusted by least squares to the shape they belong to.

Terms
-----
shape
    A few figures from which every length follows.
adjusted
    The figures whose lengths lie nearest to the measured ones: the sum of squares of what is between them is least.
misclosure
    The root of that sum; nothing where the lengths just fix the shape.
closing value
    What one length would have to be for all to agree.

Figures are found by Gauss and Newton's steps (C. F. Gauss, *Theoria motus*, 1809, the least squares), from a shape
near enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Lengths = Callable[[Array], Array]
"""From the figures of a shape ``(k,)`` to all its lengths ``(n,)``, mm."""

MOST_STEPS = 60
STEP = 1e-4
"""mm or rad by which a figure is moved to see what lengths do; central differences err by its square."""
SETTLED = 1e-10
"""mm; steps shorter than this change nothing any more."""
FARTHEST = 1e9
"""mm; figures that run off have no shape."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjusted:
    """The figures ``(k,)``, what each measured length is over its own ``(n,)``, and the root of its squares, mm."""

    figures: Array
    over: Array
    misclosure: float


def adjust(lengths: Lengths, start: ArrayLike, measured: ArrayLike) -> Adjusted | None:
    """Return the shape nearest to what was measured, or nothing where the steps come to no end.

    Parameters
    ----------
    lengths
        What follows from the figures.
    start
        ``(k,)`` figures near enough.
    measured
        ``(n,)`` mm; what is not a number was not measured.
    """
    figures, wanted = np.array(start, dtype=np.float64), np.asarray(measured, dtype=np.float64)
    known = ~np.isnan(wanted)
    if known.sum() < len(figures):
        return None
    for _ in range(MOST_STEPS):
        short = (wanted - lengths(figures))[known]
        step, *_ = np.linalg.lstsq(_slopes(lengths, figures)[known], short, rcond=None)
        figures = figures + step
        if not np.abs(figures).max() < FARTHEST:
            return None
        if np.abs(step).max() < SETTLED:
            over = np.where(known, wanted - lengths(figures), 0.0)
            return Adjusted(figures=figures, over=over, misclosure=float(np.linalg.norm(over)))
    return None


def closing_values(lengths: Lengths, start: ArrayLike, measured: ArrayLike) -> Array:
    """Return ``(n,)`` what each length would have to be for the others to be right, mm; nan where that is unknown.

    Where one length more was measured than fixes the shape, the others agree whichever is left out: all are to blame
    alike, and only what one knows besides can choose.
    """
    wanted = np.asarray(measured, dtype=np.float64)
    out = np.full(len(wanted), np.nan)
    for index in np.flatnonzero(~np.isnan(wanted)):
        without = wanted.copy()
        without[index] = np.nan
        shape = adjust(lengths, start, without)
        if shape is not None:
            out[index] = lengths(shape.figures)[index]
    return out


def _slopes(lengths: Lengths, figures: Array) -> Array:
    """Return ``(n, k)`` how fast every length grows with every figure."""
    steps = STEP * np.eye(len(figures))
    slopes: Array = np.column_stack([(lengths(figures + s) - lengths(figures - s)) / (2 * STEP) for s in steps])
    return slopes
