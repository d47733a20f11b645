"""Sections of barrels, ``(a, z)`` with a from the middle, parted where lines cross them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path

Array = NDArray[np.float64]

APART = 1e-9
"""Share of a curve; pieces shorter than this are rounding."""


def halves(path: Path) -> Path:
    """Return a section parted at its crown."""
    return split(path, [0.0])


def split(path: Path, places: Sequence[float]) -> Path:
    """Return a section parted where a passes the places."""
    return split_along(path, [np.array([1.0, 0.0, -place]) for place in places])


def split_along(path: Path, lines: Sequence[Array]) -> Path:
    """Return a section parted where it crosses lines ``(3,)``, (n, c) with n . (a, z) + c = 0."""
    out: list[Curve] = []
    for curve in path:
        inner = sorted(t for line in lines for t in curves.crossings(curve, line) if APART < t < 1 - APART)
        out += [curves.piece(curve, t0, t1) for t0, t1 in pairwise([0.0, *inner, 1.0]) if t1 - t0 > APART]
    return tuple(out)
