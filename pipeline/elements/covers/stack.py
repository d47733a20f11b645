"""Stack bond: every unit straight over the one below."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series, lay_courses
from pipeline.elements.covers.table import Cover
from pipeline.elements.covers.units import Array, cut_units
from pipeline.elements.surfaces import Family


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return perpends at m (l + j) - j/2 on every course, and the beds."""
    return lay_courses(cover_mm.height, cover_mm.joint, bond(cover_mm), extent_u, extent_v, fit=cover_mm.fit_gauge)


def units(cover_mm: Cover, extent_u: float, extent_v: float) -> Array:
    """Return the units that the guides of ``lay`` run between, ``(n, 4, 2)`` host coordinates."""
    return cut_units(cover_mm.height, cover_mm.joint, bond(cover_mm), extent_u, extent_v, fit=cover_mm.fit_gauge)


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of every course."""
    return ((Series(pitch=cover_mm.length + cover_mm.joint, shift=-cover_mm.joint / 2),),)
