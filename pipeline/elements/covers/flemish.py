"""Flemish bond: stretcher and header in turn in each course, each header over the middle of a stretcher.

With h = w + j, even courses are stretcher (to 2h), header (to 3h), stretcher (to 5h), ...; odd ones header (to h),
queen closer (to 3h/2), stretcher (to 7h/2), header (to 9h/2), .... A header's middle is then at 4h + 3hk on odd
courses, where even ones have the middle of a stretcher.
"""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series
from pipeline.elements.covers.laying import in_courses
from pipeline.elements.covers.table import Cover


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of two courses of stretchers and headers in turn."""
    header, middle = cover_mm.width + cover_mm.joint, -cover_mm.joint / 2
    even = (
        Series(pitch=3 * header, shift=middle - header),
        Series(pitch=3 * header, shift=middle, beside=header),
    )
    odd = (
        Series(pitch=3 * header, shift=middle + header / 2),
        Series(pitch=3 * header, shift=middle - 3 * header / 2, beside=header),
        Series(pitch=header, shift=middle, last=1, beside=header / 2),
    )
    return even, odd


LAYING = in_courses(bond)
