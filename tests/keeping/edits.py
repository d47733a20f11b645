"""A small scene that holds one of most things, and random changes of one of its keys."""

from __future__ import annotations

import random

from pipeline.build import Overrides

SCENE = """\
format = 1
title = "A store room"

[box]
width = 120
height = 90
depth = 60
back_gap = 2

[eye]
distance = 350
height = 45

[space]
scale = 60
depth = 9.0

[left]
cover = "brick"

[right]
cover = "brick"

[floor]
cover = "flags"

[covers.brick]
pattern = "running"
length = 0.6
height = 0.25
width = 0.29
joint = 0.02

[covers.flags]
pattern = "flags"
length = 0.9
width = 0.7
height = 0.1
joint = 0.02

[[openings]]
name = "hatch"
wall = "right"
at = 5.0
width = 1.2
sill = 0.5
height = 2.0
head = "round"
beyond = "bare"

[[openings]]
name = "store"
wall = "left"
at = 4.0
width = 1.1
height = 2.1
head = "flat"
beyond = "niche"
length = 0.2

[[columns]]
name = "post"
at = [[1.4, 2.5]]
diameter = 0.4
base = 0.2

[[arches]]
name = "rib"
at = 6.5
springing = 2.4
head = "segmental"
rise = 0.6
ring = 0.3
depth = 0.4
span = 3.6
legs = false

[[figures]]
name = "keeper"
height = 1.7
at = [-0.6, 3.0]
facing = 20

[[lights]]
name = "sun"
kind = "beam"
direction = [-1.0, 0.15, -0.6]

[[lights]]
name = "lantern"
kind = "lamp"
at = [0.4, 5.0, 2.6]
supply = 3.0
forward = 2.0
current = 0.005

[materials.board]
thickness = 2.0
sheet = [300, 200]

[make]
paper = "A4"
"""

KEYS: tuple[tuple[str, tuple[str, ...] | tuple[float, float]], ...] = (
    ("title", ('"One"', '"Two"')),
    ("box.width", (118.0, 124.0)),
    ("box.depth", (56.0, 64.0)),
    ("box.clearance", (0.3, 1.0)),
    ("eye.distance", (300.0, 420.0)),
    ("eye.height", (40.0, 55.0)),
    ("eye.right", (-5.0, 5.0)),
    ("space.depth", (8.0, 10.0)),
    ("left.cover", ('"brick"', '"flags"')),
    ("back.cover", ('"brick"', '"flags"')),
    ("right.finish", (0.0, 0.4)),
    ("covers.brick.height", (0.2, 0.3)),
    ("covers.brick.pattern", ('"running"', '"stack"', '"third"')),
    ("covers.flags.length", (0.8, 1.2)),
    ("openings[1].width", (1.0, 1.4)),
    ("openings[1].head", ('"round"', '"pointed"', '"flat"')),
    ("openings[1].name", ('"hatch"', '"slot"')),
    ("openings[2].at", (3.5, 4.5)),
    ("openings[2].length", (0.17, 0.22)),
    ("columns[1].diameter", (0.35, 0.5)),
    ("columns[1].at[1][1]", (1.0, 1.5)),
    ("arches[1].ring", (0.25, 0.35)),
    ("arches[1].at", (6.0, 7.0)),
    ("figures[1].height", (1.5, 1.9)),
    ("figures[1].at[2]", (2.6, 3.4)),
    ("lights[1].direction[2]", (0.05, 0.3)),
    ("lights[2].at[3]", (2.2, 2.9)),
    ("lights[2].current", (0.004, 0.012)),
    ("lights[2].size", (1.8, 3.0)),
    ("make.stencils", ("true", "false")),
    ("materials.board.thickness", (1.5, 2.5)),
    ("materials.board.kerf", (0.0, 0.2)),
    ("make.paper", ('"A4"', '"A3"')),
    ("make.fit", (0.1, 0.2)),
    ("make.curve_tolerance", (0.01, 0.03)),
    ("make.edges", ('"bevel"', '"square"')),
    ("make.corners", ('"plain"', '"tabs"', '"flaps"')),
    ("make.dxf", ('"R2010"', '"R12"')),
    ("make.bridges", ("0.0", "0.4")),
    ("make.ruler", ("0.5", "1.0")),
    ("eye.parallax", (4.0, 8.0)),
    ("openings[1].reveal", (0.0, 0.06)),
)
"""Keys, and what they are set to: one of some texts, or a number between two."""


def edits(seed: int, count: int) -> list[Overrides]:
    """Return scenes one after another, each one key away from the one before it, as overrides of ``SCENE``."""
    chance = random.Random(seed)
    state: dict[str, str] = {}
    out = []
    for _ in range(count):
        key, allowed = chance.choice(KEYS)
        if isinstance(allowed[0], str):
            state[key] = str(chance.choice(allowed))
        else:
            low, high = allowed
            state[key] = f"{chance.uniform(float(low), float(high)):.3f}"
        out.append(tuple(state.items()))
    return out
