"""Scenes with figures, as text."""

from __future__ import annotations

from ..scene_text import PLAIN
from ..steps.flight_text import FLAGS, flight

ROOM = PLAIN + FLAGS
"""1:48, eye 420 mm before the opening and 78 mm up; hall 173 mm wide, 250 mm deep in 77.5 mm, floor at 3 mm."""
STEPPED = ROOM + flight(rise=0.15, going=0.35, at=8.45)
"""The floor behind lies 0.45 m up, from 9.15 m on."""


def figure(name: str = "warden", x: float = 1.0, y: float = 4.0, height: float = 1.75, facing: float = 0.0) -> str:
    """Return one `[[figures]]` table."""
    return f'\n[[figures]]\nname = "{name}"\nheight = {height}\nat = [{x}, {y}]\nfacing = {facing}\n'
