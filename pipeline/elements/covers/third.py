"""Third bond: courses step by a third of a unit, 0, 1/3, 2/3."""

from __future__ import annotations

from pipeline.elements.covers.courses import Bond, Series, lay_courses
from pipeline.elements.covers.table import Cover
from pipeline.elements.covers.units import Array, cut_units
from pipeline.elements.surfaces import Family


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return perpends at m (l + j) - j/2, a third of a unit further on each course, and the beds."""
    return lay_courses(cover_mm.height, cover_mm.joint, bond(cover_mm), extent_u, extent_v, fit=cover_mm.fit_gauge)


def units(cover_mm: Cover, extent_u: float, extent_v: float) -> Array:
    """Return the units that the guides of ``lay`` run between, ``(n, 4, 2)`` host coordinates."""
    return cut_units(cover_mm.height, cover_mm.joint, bond(cover_mm), extent_u, extent_v, fit=cover_mm.fit_gauge)


def bond(cover_mm: Cover) -> Bond:
    """Return the perpends of three courses."""
    return thirds(cover_mm.length + cover_mm.joint, cover_mm.joint)


def thirds(unit: float, joint: float) -> Bond:
    """Return the bond of three courses stepping by a third of ``unit``."""
    return tuple((Series(pitch=unit, shift=step * unit - joint / 2),) for step in (0.0, -2 / 3, -1 / 3))
