"""Running (stretcher) bond: every course of stretchers, half a unit on from the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, stepped
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of two courses, half a unit apart."""
    return stepped(cover_mm.length, cover_mm.joint, 0.0, -1 / 2)


LAYING = in_courses(bond)
