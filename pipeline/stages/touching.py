"""Which parts touch one another, and so are glued to one another."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import manifold3d
import numpy as np

BESIDE = 0.05
"""mm beyond the play at which parts still touch; what lies farther apart, glue does not bridge unseen."""
PLAYS = 2
"""Two prints that face one another keep one play each."""

Pair = tuple[str, str]


def touching(bodies: Mapping[str, manifold3d.Manifold], fit: float, finishes: Mapping[str, float]) -> dict[Pair, float]:
    """Return every two bodies that touch, and how far they are apart, mm.

    Parameters
    ----------
    bodies
        Every part, built mm.
    fit
        Play of prints, mm.
    finishes
        What is laid on sheets afterwards, mm: others touch that.
    """
    ids = list(bodies)
    ends = np.array([bodies[one].bounding_box() for one in ids]).reshape(-1, 2, 3)
    found: dict[Pair, float] = {}
    for first, second in combinations(range(len(ids)), 2):
        low, high = ends[first]
        reach = PLAYS * fit + BESIDE + finishes.get(ids[first], 0.0) + finishes.get(ids[second], 0.0)
        if (ends[second][0] > high + reach).any() or (ends[second][1] < low - reach).any():
            continue
        gap = float(bodies[ids[first]].min_gap(bodies[ids[second]], reach))
        if gap < reach:
            found[ids[first], ids[second]] = gap
    return found
