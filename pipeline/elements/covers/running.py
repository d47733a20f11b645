"""Running (stretcher) bond: every course of stretchers, half a unit on from the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Series, lay_courses
from pipeline.elements.covers.table import Cover
from pipeline.elements.model import Family


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return perpends at m (l + j) - j/2 on even courses and half a unit further on odd ones, and the beds."""
    unit, middle = cover_mm.length + cover_mm.joint, -cover_mm.joint / 2
    bond = ((Series(pitch=unit, shift=middle),), (Series(pitch=unit, shift=middle - unit / 2),))
    return lay_courses(cover_mm.height, cover_mm.joint, bond, extent_u, extent_v, fit=cover_mm.fit_gauge)
