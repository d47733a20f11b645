"""Rooms with lamps to be wired, as text."""

from __future__ import annotations

from functools import cache

from pipeline.build import Build, build_scene, make
from pipeline.checks.evidence import Evidence
from tests.scene_text import changed

LAMPS = """\
format = 1
title = "Two lamps"
box = { width = 180, height = 150, depth = 100, back_gap = 20 }
eye = { distance = 420, height = 78 }
space = { scale = 48, depth = 12.0 }
supports = { stringers = 3 }
floor = { cover = "flags" }
wiring = { battery = "LR6", cells = 2 }
covers.flags = { pattern = "flags", length = 0.9, width = 0.6, height = 0.1, joint = 0.02 }
materials.foam = { thickness = 3.0, process = "knife", sheet = [300, 200] }

[[lights]]
name = "lantern"
kind = "lamp"
at = [1.0, 8.0, 2.0]
supply = 3.0
forward = 2.0
current = 0.02

[[openings]]
name = "window"
wall = "back"
at = 6.0
width = 1.2
sill = 1.0
height = 1.6
head = "flat"
beyond = "light"

[[lights]]
name = "porch"
kind = "lamp"
at = [-2.5, 5.0, 4.5]
supply = 3.0
forward = 2.0
current = 0.01

[[lights]]
name = "moon"
kind = "beam"
direction = [0.3, -0.6, -0.5]
"""
"""Back gap of 20 mm; a lamp low over the floor, one high under the ceiling, and a beam in through the back wall."""
TIGHT = changed(LAMPS, "depth = 100, back_gap = 20", "depth = 84, back_gap = 4")
"""The same behind which there are 4 mm."""


@cache
def evidence(text: str = LAMPS) -> Evidence:
    """Return a room as made."""
    return make(text.encode())


@cache
def built(text: str = LAMPS) -> Build:
    """Return a room as built."""
    return build_scene(text.encode(), "lamps")
