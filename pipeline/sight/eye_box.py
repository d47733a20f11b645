"""How closely the opening is looked at from the eye box, and how many rays that takes."""

from __future__ import annotations

import math

PITCH = 1.0
"""mm between rays on the opening, where that is no larger than a thousand of them each way."""

MOST_TARGETS = 1_000_000
"""Rays from one eye; a larger opening is looked at from farther off, where a wider pitch is no wider to the eye."""

EYE_PITCH = 20.0
"""mm at most between eyes of the grid over the eye box."""

MOST_RAYS = 40_000_000
"""Of one scene; a few seconds' work."""


def eyes_along(size: float) -> int:
    """Return how many eyes stand along a side of the eye box, mm: an odd number, one of them in the middle."""
    return 2 * max(1, math.ceil(size / 2 / EYE_PITCH)) + 1


def pitch_of(opening: tuple[float, float]) -> float:
    """Return how far apart rays pass an opening of a width and height, mm."""
    return max(PITCH, math.sqrt(opening[0] * opening[1] / MOST_TARGETS))


def targets_along(opening: tuple[float, float]) -> tuple[int, int]:
    """Return how many rays pass an opening of a width and height, mm, side by side and one over the other."""
    across, up = (max(2, round(size / pitch_of(opening))) for size in opening)
    return across, up


def count_rays(opening: tuple[float, float], eye_box: tuple[float, float]) -> int:
    """Return how many rays an opening takes from all eyes of an eye box, width and height in mm."""
    return math.prod(targets_along(opening)) * math.prod(map(eyes_along, eye_box))
