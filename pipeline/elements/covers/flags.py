"""Flags: rows of length x width with broken joints, from the floor's front left corner.

Rows run along host u (across the hall on a floor) and are ``width`` deep; each starts half a flag on from the last.
"""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series
from pipeline.elements.covers.laying import in_rows
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the joints of two rows, half a flag apart."""
    flag, middle = cover_mm.length + cover_mm.joint, -cover_mm.joint / 2
    return ((Series(pitch=flag, shift=middle),), (Series(pitch=flag, shift=middle - flag / 2),))


LAYING = in_rows(bond)
