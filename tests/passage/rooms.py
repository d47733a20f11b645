"""Rooms with things round the corner, as text."""

from __future__ import annotations

from pipeline.build import make
from pipeline.checks.evidence import Evidence

from ..scene_text import PLAIN, changed

FEET_APART = """
[[openings]]
name = "lane"
wall = "right"
at = 9.0
width = 1.6
height = 2.7
beyond = "passage"
length = 1.2

[[openings]]
name = "shrine"
wall = "left"
at = 6.0
width = 1.2
sill = 0.6
height = 1.5
beyond = "niche"
length = 0.5

[[openings]]
name = "far door"
wall = "back"
at = 4.2
width = 1.5
height = 2.5
beyond = "passage"
length = 2.0
"""

BENT = """
[[openings]]
name = "vaulted lane"
wall = "left"
at = 9.5
width = 1.6
height = 2.7
head = "pointed"
beyond = "passage"
length = 1.2

[[openings]]
name = "apse"
wall = "right"
at = 6.0
width = 1.4
sill = 0.5
height = 2.0
head = "round"
beyond = "niche"
length = 0.5
"""

TRUE = changed(changed(PLAIN, "depth = 12.0", "depth = 3.72\nwidth = 6.0"), "height = 78", "height = 60")
"""No relief: apparent and built depth are both 77.5 mm; the hall is 125 mm wide, so there is room beside it."""


SURFACES = ("left", "right", "back", "floor", "ceiling", "front")
CARD = "[materials.card]\nthickness = 0.5\nsheet = [300, 200]\nmin_bend = 0.5\n"
CARD += "".join(f'[{name}]\nmaterial = "foam"\n' for name in SURFACES)
"""A second sheet, which bends."""

HEADS = ("flat", "round", "segmental", "pointed", "ogee", "basket")
RISES = {"segmental": "rise = 0.3\n", "basket": "rise = 0.5\n", "ogee": "rise = 1.2\n"}


def hole(head: str, extra: str, *, wall: str = "right", at: float = 8.0, sill: float = 0.4, height: float = 2.4) -> str:
    """Return an opening 1.4 m wide, with card bent over a curved head."""
    barrel = "" if head == "flat" else 'barrel_material = "card"\n'
    return (
        f'[[openings]]\nname = "gate"\nwall = "{wall}"\nat = {at}\nwidth = 1.4\nsill = {sill}\nheight = {height}\n'
        f'head = "{head}"\n{RISES.get(head, "")}{barrel}{extra}\n'
    )


def built(text: str) -> Evidence:
    """Return a scene as made."""
    return make(text.encode())
