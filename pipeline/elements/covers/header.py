"""Header bond: every course of headers, half a header on from the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Series, lay_courses
from pipeline.elements.covers.table import Cover
from pipeline.elements.model import Family


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return perpends at m (w + j) - j/2 on even courses and half a header further on odd ones, and the beds."""
    header, middle = cover_mm.width + cover_mm.joint, -cover_mm.joint / 2
    bond = ((Series(pitch=header, shift=middle),), (Series(pitch=header, shift=middle - header / 2),))
    return lay_courses(cover_mm.height, cover_mm.joint, bond, extent_u, extent_v, fit=cover_mm.fit_gauge)
