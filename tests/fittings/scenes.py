"""Scenes that ask for fittings, and what the checks say of them."""

from __future__ import annotations

from functools import cache

from pipeline.build import make
from pipeline.checks import bodies_apart, in_box, panel_faithful, panel_outline, panel_stock
from pipeline.checks.evidence import Evidence
from pipeline.parts.model import Panel
from tests.scene_text import PLAIN

CARD = """
[materials.card]
thickness = 1.0
process = "laser"

[left]
material = "foam"

[right]
material = "foam"

[back]
material = "foam"

[floor]
material = "foam"

[ceiling]
material = "foam"
"""

SHEETS = PLAIN + CARD
"""A plain room of foam, with card for what is fine."""


def opening(wall: str, more: str, *, at: float = 4.0, head: str = "pointed") -> str:
    """Return an opening 2 m wide and 3.5 m high, 1 m above the floor."""
    return f"""
[[openings]]
name = "window"
wall = "{wall}"
at = {at}
width = 2.0
sill = 1.0
height = 3.5
head = "{head}"
{more}
"""


@cache
def made(text: str) -> Evidence:
    """Return what a scene makes."""
    return make(text.encode())


def panel(evidence: Evidence, part: str) -> Panel:
    """Return one panel."""
    return next(panel for panel in evidence.panels if panel.id == part)


def not_passed(evidence: Evidence) -> list[str]:
    """Return what the checks of panels have against a scene."""
    checks = (in_box, bodies_apart, panel_outline, panel_stock, panel_faithful)
    return [f.message for check in checks for f in check.run(evidence) if f.status != "pass"]
