"""How far the built surfaces lean, from the relief's figures alone.

A plane square to the opening, at the distance h from the eye, leans by atan(h / V) once built, V the vanishing depth
behind the fixed plane: its line of depth runs through the vanishing point level with the eye. (A level floor has rake
h / V; Pozzo, *Perspectiva*, text to fig. 74, gives 1/9 to 1/10 for a stage.)
"""

from __future__ import annotations

import math

from pipeline.elements.hall_shape import Hall
from pipeline.relief.collineation import Relief


def rake_deg(relief: Relief, hall: Hall) -> float:
    """Return how steeply the built floor rises, degrees."""
    return _lean_deg(relief, relief.eye[2] - hall.floor)


def leans_deg(relief: Relief, hall: Hall) -> tuple[float, float, float]:
    """Return how far the left wall, the right wall and the ceiling lean from square to the opening, degrees."""
    x, _, z = relief.eye
    half = hall.width / 2
    return tuple(_lean_deg(relief, away) for away in (half + x, half - x, hall.floor + hall.height - z))  # type: ignore[return-value]


def _lean_deg(relief: Relief, away: float) -> float:
    vanishing = relief.vanishing_depth
    return 0.0 if vanishing is None else math.degrees(math.atan(away / (vanishing - relief.apron)))
