"""How long what is laid, glued or painted dries, in words."""

from __future__ import annotations

from pipeline.scene.made_of import MadeOf
from pipeline.scene.stuff import Stuff


def dry_words(made: MadeOf, stuff: Stuff) -> str:
    """Return how long stuff dries: the scene's figure, or a common one named as such."""
    if stuff.dries is None:
        return "see the maker's data sheet"
    if made.dries_said(stuff):
        return hours_words(stuff.dries)
    return f"see the maker's data sheet; {hours_words(stuff.dries)} is common"


def hours_words(hours: float) -> str:
    """Return hours as people say them: ``30 min``, ``12 h``, ``3 days``."""
    if hours < 1:
        return f"{60 * hours:.0f} min"
    return f"{hours / 24:g} days" if hours >= 48 and hours % 24 == 0 else f"{hours:g} h"
