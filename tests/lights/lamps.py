"""Scenes with lights, as text."""

from __future__ import annotations

from ..scene_text import PLAIN

ROOM = PLAIN
"""1:48, eye 420 mm before the opening and 78 mm up; hall 173 mm wide, 250 mm deep in 77.5 mm, floor at 3 mm."""


def lamp(x: float, y: float, height: float, name: str = "lantern", more: str = "") -> str:
    """Return one `[[lights]]` table of a lamp."""
    return f'\n[[lights]]\nname = "{name}"\nkind = "lamp"\nat = [{x}, {y}, {height}]\n{more}\n'


def beam(x: float, y: float, z: float, name: str = "moon", more: str = "") -> str:
    """Return one `[[lights]]` table of a beam."""
    return f'\n[[lights]]\nname = "{name}"\nkind = "beam"\ndirection = [{x}, {y}, {z}]\n{more}\n'


WINDOW = """
[[openings]]
name = "window"
wall = "right"
at = 6.0
width = 2.0
sill = 1.0
height = 2.5
head = "pointed"
"""
POST = '\n[[columns]]\nname = "post"\nat = [1.0, 6.0]\ndiameter = 0.6\nbase = 0.3\ncapital = 0.3\n'
