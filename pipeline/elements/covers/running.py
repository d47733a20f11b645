"""Running (stretcher) bond: every course of stretchers, half a unit on from the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of two courses, half a unit apart."""
    unit, middle = cover_mm.length + cover_mm.joint, -cover_mm.joint / 2
    return ((Series(pitch=unit, shift=middle),), (Series(pitch=unit, shift=middle - unit / 2),))


LAYING = in_courses(bond)
