"""How closely the opening is looked at from the eye box, and how many rays that takes."""

from __future__ import annotations

import math

PITCH = 1.0
"""mm between rays on the opening."""

EYE_PITCH = 20.0
"""mm at most between eyes of the grid over the eye box."""

MOST_RAYS = 40_000_000
"""Of one scene; a few seconds' work."""


def eyes_along(size: float) -> int:
    """Return how many eyes stand along a side of the eye box, mm: an odd number, one of them in the middle."""
    return 2 * max(1, math.ceil(size / 2 / EYE_PITCH)) + 1


def targets_along(size: float) -> int:
    """Return how many rays pass a side of the opening, mm."""
    return max(2, round(size / PITCH))


def count_rays(opening: tuple[float, float], eye_box: tuple[float, float]) -> int:
    """Return how many rays an opening takes from all eyes of an eye box, width and height in mm."""
    return math.prod(map(targets_along, opening)) * math.prod(map(eyes_along, eye_box))
