"""English bond: a course of headers, then a course of stretchers, with a queen closer next to the quoin header.

With h = w + j, a header course is a header (to h), a queen closer (to 3h/2), then headers; a stretcher course has its
perpends at 2h, 4h, .... Every perpend then stands h/2, a quarter of a stretcher, from those above and below.
"""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of a course of headers and of one of stretchers."""
    header, middle = cover_mm.width + cover_mm.joint, -cover_mm.joint / 2
    headers = (
        Series(pitch=header, shift=middle + header / 2),
        Series(pitch=header, shift=middle, last=1, beside=header / 2),
    )
    stretchers = (Series(pitch=cover_mm.length + cover_mm.joint, shift=middle),)
    return headers, stretchers


LAYING = in_courses(bond)
