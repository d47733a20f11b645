"""Rooms of card and of rigid sheet, and their parts one by one."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.build import Build, build_scene, make
from pipeline.checks.evidence import Evidence, as_manifold
from pipeline.parts.model import Panel

from ..scene_text import PLAIN, changed

Array = NDArray[np.float64]

CARD = changed(changed(PLAIN, "thickness = 3.0", "thickness = 0.5"), "[300, 200]", "[600, 500]")
FLAPS = CARD + '[make]\ncorners = "flaps"\n'
NET = FLAPS + "net = true\n"
TABS = PLAIN + '[make]\ncorners = "tabs"\n'
DOOR = """
[[openings]]
name = "door"
wall = "left"
at = 6.0
width = 1.6
height = 3.0
head = "round"
"""


@cache
def made(text: str) -> Evidence:
    """Return what a scene makes."""
    return make(text.encode())


@cache
def build(text: str) -> Build:
    """Return a scene as built."""
    return build_scene(text.encode(), "room")


def panel(evidence: Evidence, part: str) -> Panel:
    """Return one panel."""
    return next(one for one in evidence.panels if one.id == part)


def pieces(evidence: Evidence) -> dict[str, manifold3d.Manifold]:
    """Return every closed piece of every part by itself, also those of one panel."""
    out: dict[str, manifold3d.Manifold] = {}
    for part in evidence.parts:
        added = sum(len(one.body.triangles) > 0 for one in part.additions) if isinstance(part, Panel) else 0
        bodies = as_manifold(part.body).decompose()
        assert len(bodies) >= 1 + added
        out |= {f"{part.id} {number}": body for number, body in enumerate(bodies)}
    return out


def clashes(evidence: Evidence) -> dict[tuple[str, str], float]:
    """Return what any two pieces have in common, mm^3, beyond rounding."""
    bodies = pieces(evidence)
    found = {(a, b): (bodies[a] ^ bodies[b]).volume() for a, b in combinations(bodies, 2)}
    return {pair: volume for pair, volume in found.items() if volume > 1e-4}
