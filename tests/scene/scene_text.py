"""Invented scene files for the tests of reading, and what is said about them."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from pipeline.scene.settings import Override

SMALL = """\
format = 1
[box]
width = 180
height = 150
depth = 85
[eye]
distance = 420
height = 78
[space]
scale = 48
depth = 12
[materials.card]
thickness = 2
"""
"""The least a scene file can hold, 13 lines."""

FULL = (
    SMALL
    + """\
process = "knife"
[make.printer]
bed = [180, 180, 180]
[left]
cover = "brick"
[covers.brick]
pattern = "running"
[[openings]]
name = "side arch"
wall = "right"
at = 6
width = 1.6
height = 2.7
[[columns]]
name = "pier"
at = [[-3.9, 4.0], [3.9, 4.0]]
diameter = 0.5
[[columns]]
name = "post"
at = [0, 8]
diameter = 0.3
[[arches]]
name = "cross arch"
at = 3
springing = 2.2
ring = 0.3
depth = 0.4
"""
)
"""One table of every kind, two of columns."""


def refusals(text: str | bytes, overrides: Sequence[Override] = ()) -> list[str]:
    """Return what is said about a file that cannot be read; the file is called ``a.toml``."""
    with pytest.raises(SceneFileError) as caught:
        read_scene(text, overrides)
    return caught.value.describe("a.toml")


def refusal(text: str | bytes, overrides: Sequence[Override] = ()) -> str:
    """Return the only thing said."""
    said = refusals(text, overrides)
    assert len(said) == 1, said
    return said[0]
