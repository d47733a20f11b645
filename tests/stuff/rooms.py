"""A small room, built without its files, for what it is made of."""

from __future__ import annotations

from functools import cache

from pipeline.build import shape
from pipeline.checks.evidence import Evidence

TRUE = """\
format = 1
title = "Store"
[box]
width = 102
height = 82
depth = 61
clearance = 0
[eye]
distance = 400
height = 40
[space]
scale = 50
depth = 3.0
[left]
material = "board"
[right]
material = "board"
[back]
material = "board"
[floor]
material = "board"
[ceiling]
material = "board"
[materials.board]
thickness = 1.0
of = "card"
process = "knife"
sheet = [300, 200]
[make]
edges = "square"
"""
"""A hall 100 mm wide, 80 mm high and 60 mm deep, built true: 5 x 4 x 3 m at 1:50."""

POST = """
[[columns]]
name = "post"
at = [0, 1.5]
diameter = 0.5
section = "square"
"""

VAULT = """\
[vault]
form = "groin"
springing = 1.5
rise = 2.5
material = "paper"
[materials.paper]
thickness = 0.2
min_bend = 0.01
[front]
build = false
"""

GROIN = (
    TRUE.replace('[ceiling]\nmaterial = "board"\n', "")
    .replace("depth = 61", "depth = 101")
    .replace("depth = 3.0", "depth = 5.0")
    .replace("height = 82", "height = 90")
    + VAULT
)
"""A hall of 100 x 100 mm, built true: springing at 31 mm, crown at 81, under a box of 90."""


@cache
def shaped(text: str, *settings: tuple[str, str]) -> Evidence:
    """Return a scene as shapes."""
    return shape(text.encode(), settings)
