"""Header bond: every course of headers, half a header on from the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of two courses, half a header apart."""
    header, middle = cover_mm.width + cover_mm.joint, -cover_mm.joint / 2
    return ((Series(pitch=header, shift=middle),), (Series(pitch=header, shift=middle - header / 2),))


LAYING = in_courses(bond)
