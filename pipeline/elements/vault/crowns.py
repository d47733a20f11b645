"""What happens where the ribs of a bay meet at its crown.

Terms
-----
seat
    The upright plane square to a rib, where it has parted from its neighbours and from the boss; it is given by its
    distance from the crown.
crown block
    The ends of all ribs within their seats and the boss, made in one piece.
"""

from __future__ import annotations

import math
from functools import reduce

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from pipeline.elements.vault.rib_bodies import (
    PLAY_ALONG,
    Ribs,
    Track,
    arched,
    cross_ridge,
    diagonal,
    level,
    long_ridge,
    post,
)
from pipeline.geometry.booleans import trim

Array = NDArray[np.float64]

BOSS_HANG = 0.25
"""Share of the ribs' depth that a boss hangs below them."""


def seats(ribs: Ribs, boss: float, *, ridge: bool) -> tuple[float, float, float]:
    """Return the seats of diagonal, long and cross ridge ribs: their distances from the crown, mm.

    Strips of one width 2 h that leave from one point and enclose the angle ``g`` part h / tan(g / 2) along either of
    them; a boss of the radius r ends at their flanks sqrt(r^2 - h^2) along.
    """
    shape, half = ribs.shape, ribs.half + PLAY_ALONG / 2
    slant = math.atan2(shape.length, shape.width)
    upright = math.pi / 2 - slant
    chord = math.sqrt(max(0.0, boss**2 - ribs.half**2))
    beside = min(slant, upright) * (1 if ridge else 2)
    apart = (half / math.tan(angle / 2) for angle in (beside, upright, slant))
    diagonals, long, cross = (max(chord, distance) for distance in apart)
    return diagonals, long, cross


def seat(track: Track, distance: float, sign: int) -> Array:
    """Return a seat's plane ``(4,)``, the rib that leaves the crown by ``sign`` on its positive side."""
    (x, y), (along_x, along_y) = track.middle, track.way
    return np.array([sign * along_x, sign * along_y, 0.0, -distance - sign * (along_x * x + along_y * y)])


def crown_block(ribs: Ribs, boss: float, bay: tuple[float, float], *, ridge: bool, facet: float) -> Manifold:
    """Return all that lies within the seats of one bay's ribs, and its boss."""
    shape = ribs.shape
    diagonals, long, cross = seats(ribs, boss, ridge=ridge)
    ends = [(arched(ribs, track), track, diagonals) for track in (diagonal(shape, bay, 1), diagonal(shape, bay, -1))]
    if ridge:
        ends += [
            (level(ribs, long_ridge(shape, bay), shape.width), long_ridge(shape, bay), long),
            (level(ribs, cross_ridge(shape, bay), shape.length), cross_ridge(shape, bay), cross),
        ]
    flats = [-seat(track, distance, sign) for _, track, distance in ends for sign in (1, -1)]
    bodies = [trim(trim(body, flats[2 * k]), flats[2 * k + 1]) for k, (body, _, _) in enumerate(ends)]
    if boss:
        round_ = post(ribs, (0.0, sum(bay) / 2), boss, BOSS_HANG * ribs.depth, facet)
        bodies.append(reduce(trim, flats, round_))
    return Manifold.batch_boolean(bodies, OpType.Add)
