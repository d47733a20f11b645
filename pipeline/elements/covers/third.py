"""Third bond: courses step by a third of a unit, 0, 1/3, 2/3."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, stepped
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of three courses."""
    return stepped(cover_mm.length, cover_mm.joint, 0.0, -2 / 3, -1 / 3)


LAYING = in_courses(bond)
