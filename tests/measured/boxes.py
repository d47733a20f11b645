"""Boxes that are not square, as one would measure them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tests.scene_text import PLAIN, changed

Array = NDArray[np.float64]

OPENING = np.array([(-90.2, 0.0), (90.2, 0.0), (91.1, 150.3), (-88.4, 149.6)])
BACK = np.array([(-89.9, 0.0), (89.9, 0.0), (88.8, 150.1), (-91.3, 149.7)])
"""Corners (x, z) of a box 180 x 150 whose opening leans right, and whose back leans left."""

BETWEEN = ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))
KEYS = ("bottom", "right", "top", "left", "rising", "falling")


def border(corners: Array, **slips: float) -> str:
    """Return the measures of a border as an inline table, a slip added to some."""
    sizes = {key: float(np.hypot(*(corners[j] - corners[i]))) for key, (i, j) in zip(KEYS, BETWEEN, strict=True)}
    return "{ " + ", ".join(f"{key} = {size + slips.get(key, 0.0):.6f}" for key, size in sizes.items()) + " }"


def measured(opening: str, back: str, depths: Sequence[float] = (), text: str = PLAIN) -> str:
    """Return a scene whose box was measured, with or without the four depths."""
    more = f", depths = {list(depths)}" if depths else ""
    table = f"measured = {{ opening = {opening}, back = {back}{more} }}"
    return changed(text, "back_gap = 4\n", f"back_gap = 4\n{table}\n")
