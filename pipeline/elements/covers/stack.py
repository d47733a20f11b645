"""Stack bond: every unit straight over the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, stepped
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of every course."""
    return stepped(cover_mm.length, cover_mm.joint, 0.0)


LAYING = in_courses(bond)
