"""Figures as the manifest has them: rounded to fixed decimals, and zero never with a minus."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

DECIMALS = 6
"""Lengths in mm and areas in mm^2; a nanometre."""
MATRIX_DECIMALS = 12
"""Directions and the projective row: an error of 1e-12 times a metre stays below a nanometre."""


def rounded(value: float) -> float:
    """Return a figure."""
    return round(float(value), DECIMALS) + 0.0


def rounded_all(values: Iterable[float]) -> list[float]:
    """Return figures, or the coordinates of a point."""
    return [rounded(value) for value in values]


def rounded_rows(points: Iterable[Iterable[float]]) -> list[list[float]]:
    """Return points, a row each."""
    return [[round(x, DECIMALS) + 0.0 for x in point] for point in np.asarray(points, dtype=np.float64).tolist()]


def rounded_matrix(matrix: NDArray[np.float64]) -> list[list[float]]:
    """Return a matrix, row by row."""
    return [[round(float(x), MATRIX_DECIMALS) + 0.0 for x in row] for row in matrix]
