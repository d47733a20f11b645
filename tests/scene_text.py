"""Small scenes for tests, as text."""

from __future__ import annotations

PLAIN = """\
format = 1
title = "A plain room"

[box]
width = 180
height = 150
depth = 85
back_gap = 4

[eye]
distance = 420
height = 78

[space]
scale = 48
depth = 12.0

[materials.foam]
thickness = 3.0
process = "knife"
sheet = [300, 200]
"""

COVERED = (
    PLAIN
    + """
[left]
cover = "brick"

[right]
cover = "brick"

[back]
cover = "brick"

[floor]
cover = "flags"

[covers.brick]
pattern = "english"

[covers.flags]
pattern = "flags"
length = 0.9
width = 0.6
height = 0.1
joint = 0.02
"""
)

DOOR = """
[[openings]]
name = "door"
wall = "right"
at = 6.0
width = 1.6
height = 3.0
head = "round"
"""


def changed(text: str, old: str, new: str) -> str:
    """Return the text with one line changed; refuses to change nothing."""
    assert text.count(old) == 1, old
    return text.replace(old, new)
