"""Capitals too slight for what stands on them: columns and vaults do not know one another."""

from __future__ import annotations

from itertools import product

import numpy as np

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem
from pipeline.geometry import curves

TOUCH = 1e-6
"""mm; bodies this near in height stand on one another."""
SIDES = {"left-wall": -1.0, "right-wall": 1.0}


def find_slight_capitals(said: Imagined, hall: Hall) -> list[Problem]:
    """Return the problem of the first column of every table whose top ends short of a springer that stands on it."""
    problems: dict[tuple[str | int, ...], Problem] = {}
    for solid, block in product((s for s in said.solids if s.axis == "z"), said.blocks):
        for wall in SIDES.keys() & set(solid.contacts) & set(block.contacts):
            reach, needed = _carried(solid, block, wall, hall)
            if reach + TOUCH < needed and solid.path[:2] not in problems:
                problems[solid.path[:2]] = _slight(solid, hall.metres(reach), hall.metres(needed))
    return list(problems.values())


def _carried(solid: Solid, block: Block, wall: str, hall: Hall) -> tuple[float, float]:
    """Return how far from a wall a column's top and a block's foot on it reach, mm; nothing if it stands elsewhere."""
    low, high = curves.bounds(solid.levels[-1].section)
    points = block.mesh.vertices
    side, half = SIDES[wall], hall.width / 2
    # An arch from wall to wall stands on either; this is its foot here.
    foot = points[(np.abs(points[:, 2] - solid.levels[-1].at) <= TOUCH) & (side * points[:, 0] > 0)]
    if len(foot) == 0 or points[:, 2].min() < foot[0, 2] - TOUCH:
        return 0.0, 0.0
    if foot[:, 1].max() <= low[1] or foot[:, 1].min() >= high[1]:
        return 0.0, 0.0
    return float(half - min(side * low[0], side * high[0])), float(half - (side * foot[:, 0]).min())


def _slight(solid: Solid, reach: float, needed: float) -> Problem:
    return Problem(
        path=(*solid.path[:2], "diameter"),
        found=f"the top of {solid.id} reaches {reach:.4g} m from the wall, the ribs that spring from it {needed:.4g} m",
        allowed=f"at least {needed:.4g} m",
        remedy="a greater diameter or capital_width, or a smaller rib_depth",
    )
