"""The treads of a flight as one body that stands before the head face."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.flights.plan import Plan
from pipeline.elements.hall_shape import Hall
from pipeline.elements.problems import KeyPath
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]

PAST = 1.0
"""mm the body runs on past what it touches, so that it is cut to stand off by the play."""


def body(plan: Plan, hall: Hall, path: KeyPath) -> Block:
    """Return the flight as a closed body; it stands off floor, walls and head face by the play."""
    half, floor = hall.width / 2, hall.floor + plan.low.level
    left = plan.left - half - (PAST if plan.side != "right" else 0.0)
    right = plan.right - half + (PAST if plan.side != "left" else 0.0)
    way = 1.0 if plan.rises else -1.0
    walls = {"across": ("left-wall", "right-wall"), "left": ("left-wall",), "right": ("right-wall",)}[plan.side]
    return Block(
        id=plan.id,
        mesh=_prism(_profile(plan, floor), left, right, rises=plan.rises),
        contacts=walls,
        joints=np.zeros((0, 2, 3)),
        path=path,
        seams=(np.array([0.0, 0.0, 1.0, -floor]), np.array([0.0, -way, 0.0, way * plan.head])),
    )


def _profile(plan: Plan, floor: float) -> Array:
    """Return the outline ``(n, 2)`` in (y, z), from under the head up and down the steps to under the foot."""
    back = plan.head + (PAST if plan.rises else -PAST)
    points = [(back, floor - PAST)]
    for step in range(plan.count - 1, 0, -1):
        top = floor + step * plan.rise
        points += [(back if step == plan.count - 1 else plan.riser_at(step + 1), top), (plan.riser_at(step), top)]
    return np.array([*points, (plan.riser_at(1), floor - PAST)])


def _prism(profile: Array, left: float, right: float, *, rises: bool) -> Mesh:
    """Return the closed body with one profile from side to side.

    All of the profile is seen from its first corner, under the head, so both ends are fans from there.
    """
    count = len(profile)
    vertices = np.vstack([np.column_stack([np.full(count, x), profile]) for x in (left, right)])
    i = np.arange(count)
    j = np.roll(i, -1)
    fan = np.column_stack([np.zeros(count - 2, dtype=np.int64), i[1:-1], i[2:]])
    sides = [np.column_stack([i, j, j + count]), np.column_stack([i, j + count, i + count])]
    triangles = np.vstack([fan[:, ::-1], fan + count, *sides])
    return Mesh(vertices=vertices, triangles=triangles if rises else triangles[:, ::-1].copy())
