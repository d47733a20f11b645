"""Flags: rows of length x width with broken joints, from the floor's front left corner.

Rows run along host u (across the hall on a floor) and are ``width`` deep; each starts half a flag on from the last.
"""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series, lay_courses
from pipeline.elements.covers.table import Cover
from pipeline.elements.covers.units import Array, cut_units
from pipeline.elements.surfaces import Family


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return the joints between rows, and between the flags of each row."""
    return lay_courses(cover_mm.width, cover_mm.joint, bond(cover_mm), extent_u, extent_v, fit=cover_mm.fit_gauge)


def units(cover_mm: Cover, extent_u: float, extent_v: float) -> Array:
    """Return the units that the guides of ``lay`` run between, ``(n, 4, 2)`` host coordinates."""
    return cut_units(cover_mm.width, cover_mm.joint, bond(cover_mm), extent_u, extent_v, fit=cover_mm.fit_gauge)


def bond(cover_mm: Cover) -> Bond:
    """Return the joints of two rows, half a flag apart."""
    flag, middle = cover_mm.length + cover_mm.joint, -cover_mm.joint / 2
    return ((Series(pitch=flag, shift=middle),), (Series(pitch=flag, shift=middle - flag / 2),))
