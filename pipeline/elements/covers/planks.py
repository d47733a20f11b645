"""Planks: boards of ``width`` and ``length`` side by side, butt joints stepping by a third of a plank.

They run along the hall on floors and ceilings, level on walls; ``across`` turns them.
"""

from __future__ import annotations

from pipeline.elements.covers.courses import lay_courses, turn
from pipeline.elements.covers.table import Cover
from pipeline.elements.covers.third import thirds
from pipeline.elements.covers.units import Array, cut_units, turn_units
from pipeline.elements.surfaces import Family


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return the joints between planks and the butt joints of each."""
    along_v = cover_mm.level != cover_mm.across
    along, up = (extent_v, extent_u) if along_v else (extent_u, extent_v)
    bond = thirds(cover_mm.length + cover_mm.joint, cover_mm.joint)
    families = lay_courses(cover_mm.width, cover_mm.joint, bond, along, up, fit=cover_mm.fit_gauge)
    return turn(families) if along_v else families


def units(cover_mm: Cover, extent_u: float, extent_v: float) -> Array:
    """Return the planks that the guides of ``lay`` run between, ``(n, 4, 2)`` host coordinates."""
    along_v = cover_mm.level != cover_mm.across
    along, up = (extent_v, extent_u) if along_v else (extent_u, extent_v)
    bond = thirds(cover_mm.length + cover_mm.joint, cover_mm.joint)
    planks = cut_units(cover_mm.width, cover_mm.joint, bond, along, up, fit=cover_mm.fit_gauge)
    return turn_units(planks) if along_v else planks
