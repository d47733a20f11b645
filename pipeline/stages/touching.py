"""Which parts touch one another, and so are glued to one another."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import combinations

import manifold3d
import numpy as np

from pipeline.geometry.meshes import Mesh
from pipeline.keeping.kept import NOTHING_KEPT, Kept

BESIDE = 0.05
"""mm beyond the play at which parts still touch; what lies farther apart, glue does not bridge unseen."""
PLAYS = 2
"""Two prints that face one another keep one play each."""

Pair = tuple[str, str]


def reach_of(pair: Pair, fit: float, finishes: Mapping[str, float]) -> float:
    """Return how far apart two parts may be and still touch, mm.

    Parameters
    ----------
    pair
        Their ids.
    fit
        Play of prints, mm.
    finishes
        What is laid on sheets afterwards, mm: others touch that.
    """
    return PLAYS * fit + BESIDE + finishes.get(pair[0], 0.0) + finishes.get(pair[1], 0.0)


def find_gaps(
    bodies: Mapping[str, manifold3d.Manifold],
    meshes: Mapping[str, Mesh],
    fit: float,
    finishes: Mapping[str, float],
    kept: Kept = NOTHING_KEPT,
) -> dict[Pair, float]:
    """Return the gaps of every two bodies whose boxes come within their reach, mm, none more than that reach.

    Parameters
    ----------
    bodies, meshes
        Every part, built mm, for measuring and as what tells it from others.
    fit, finishes
        As for `reach_of`.
    """
    ids = list(bodies)
    ends = np.array([bodies[one].bounding_box() for one in ids]).reshape(-1, 2, 3)
    widest = PLAYS * fit + BESIDE + 2 * max(finishes.values(), default=0.0)
    before = np.asarray((ends[:, None, 0] <= ends[None, :, 1] + widest).all(axis=2))
    near = before & before.T
    found: dict[Pair, float] = {}
    for (i, one), (k, other) in combinations(enumerate(ids), 2):
        reach = reach_of((one, other), fit, finishes)
        if near[i, k] and (ends[k, 0] <= ends[i, 1] + reach).all() and (ends[i, 0] <= ends[k, 1] + reach).all():
            measure = partial(bodies[one].min_gap, bodies[other], reach)
            found[one, other] = float(kept.given(("gap", meshes[one], meshes[other], reach), measure))
    return found
