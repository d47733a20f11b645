"""Planks: boards of ``width`` and ``length`` side by side, butt joints stepping by a third of a plank.

They run along the hall on floors and ceilings, level on walls; ``across`` turns them.
"""

from __future__ import annotations

from pipeline.elements.covers.laying import in_rows
from pipeline.elements.covers.table import Cover
from pipeline.elements.covers.third import bond


def along_v(cover_mm: Cover) -> bool:
    """Return whether the planks run along the host's v."""
    return cover_mm.level != cover_mm.across


LAYING = in_rows(bond, along_v)
