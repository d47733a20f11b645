"""Numbers as every flat format writes them: fixed decimals, no minus zero, never nan."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def rounded(values: ArrayLike, decimals: int) -> Array:
    """Return the values rounded, minus zero made zero, in their shape.

    Raises
    ------
    ValueError
        If one is not finite.
    """
    array = np.asarray(values, dtype=np.float64)
    if not np.isfinite(array).all():
        raise ValueError("a number that is not finite cannot be written")
    out: Array = np.round(array, decimals) + 0.0
    return out
