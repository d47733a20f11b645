"""Flags: rows of length x width with broken joints, from the floor's front left corner.

Rows run along host u (across the hall on a floor) and are ``width`` deep; each starts half a flag on from the last.
"""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, stepped
from pipeline.elements.covers.laying import in_rows
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the joints of two rows, half a flag apart."""
    return stepped(cover_mm.length, cover_mm.joint, 0.0, -1 / 2)


LAYING = in_rows(bond)
