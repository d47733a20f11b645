"""Small rooms with raised covers, as text and as made."""

from __future__ import annotations

from functools import cache

from pipeline.build import make
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.checks.relief_joints import run
from pipeline.parts.model import Print, Raised
from tests.scene_text import PLAIN, changed

RAISED = """
[{surface}]
cover = "raised"
"""
COVER = """
[covers.raised]
pattern = "{pattern}"
length = 0.90
width = 0.44
height = 0.40
joint = 0.02
relief = 0.05
"""
DOOR_AND_WINDOW = """
[[openings]]
name = "door"
wall = "left"
at = 3.0
width = 1.6
height = 3.0
head = "pointed"

[[openings]]
name = "window"
wall = "left"
at = 7.0
width = 2.0
sill = 1.5
height = 2.5
head = "ogee"
rise = 1.2
"""


def text(*surfaces: str, pattern: str = "running", more: str = "") -> str:
    """Return a room whose surfaces have units raised by 5 cm."""
    return PLAIN + "".join(RAISED.format(surface=name) for name in surfaces) + COVER.format(pattern=pattern) + more


def true_to_scale(scene: str) -> str:
    """Return the room built as it is imagined, 1:10, 0.775 m deep: the relief is then the identity."""
    return changed(changed(scene, "scale = 48", "scale = 10"), "depth = 12.0", "depth = 0.775")


@cache
def made(scene: str) -> Evidence:
    """Return all that is made of a scene, once for all tests."""
    return make(scene.encode())


def raised_print(evidence: Evidence, part: str) -> tuple[Print, Raised]:
    """Return a print with raised units, and what it shows."""
    found = next(p for p in evidence.prints if p.id == part)
    assert isinstance(found.solid, Raised)
    return found, found.solid


def joints(evidence: Evidence) -> dict[str, Finding]:
    """Return what the check of joints says of each face."""
    return {finding.part: finding for finding in run(evidence)}
