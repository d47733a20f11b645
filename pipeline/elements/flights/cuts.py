"""What a flight of steps takes away: the floor where it goes on higher or lower, the walls' feet below the floors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pipeline.elements.flights.faces import PAST, Corner, footprint
from pipeline.elements.flights.plan import Plan
from pipeline.elements.hall_shape import ROUNDING, Hall
from pipeline.elements.problems import KeyPath
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves

BEYOND = "floor"
"""What lies beyond these cuts: nothing is seen through them."""


def cuts(plan: Plan, hall: Hall, path: KeyPath, stretch: tuple[float, float]) -> list[Cut]:
    """Return the cuts into the floor before it, and into the walls over its ``stretch`` of the hall (imagined y)."""
    out = []
    if plan.before.part in hall.surfaces or plan.before.part != "floor":
        corners = footprint(plan, plan.before.origin, hall.depth)
        out.append(_cut(plan.before.part, plan.id, corners, path))
    sides: tuple[Literal["left", "right"], ...] = ("left", "right")
    for side in sides:
        if f"{side}-wall" in hall.surfaces:
            foot = _foot(plan, side, stretch)
            corners = _under([(stretch[0], hall.foot, ""), (stretch[1], hall.foot, "")], foot)
            out.append(_cut(f"{side}-wall", plan.id, corners, path))
    if "back-wall" in hall.surfaces and stretch[1] > hall.depth:
        left, right, top = -PAST, hall.width + PAST, plan.behind.level
        corners = _under(
            [(left, hall.foot, ""), (right, hall.foot, "")], [(left, top, plan.behind.part), (right, top, "")]
        )
        out.append(_cut("back-wall", plan.id, corners, path))
    return out


def _foot(plan: Plan, side: Literal["left", "right"], stretch: tuple[float, float]) -> list[Corner]:
    """Return where a wall ends below, from the stretch's start to its end, each edge labelled at its start."""
    corners: list[Corner] = [(stretch[0], plan.before.level, plan.before.part)]
    if plan.beside(side):
        steps = range(1, plan.count + 1) if plan.rises else range(plan.count, 0, -1)
        for step in steps:
            at, low, high = plan.riser_at(step), plan.top(step - 1), plan.top(step)
            under, over = plan.top_part(step - 1), plan.top_part(step)
            first, second = (low, high) if plan.rises else (high, low)
            corners += [(at, first, plan.riser_part(step)), (at, second, over if plan.rises else under)]
    else:
        at = plan.head
        corners += [(at, plan.before.level, plan.head_part), (at, plan.behind.level, plan.behind.part)]
    corners.append((stretch[1], plan.behind.level, ""))
    return [c for c, following in zip(corners, [*corners[1:], None], strict=True) if not _same(c, following)]


def _same(corner: Corner, other: Corner | None) -> bool:
    return other is not None and abs(corner[0] - other[0]) + abs(corner[1] - other[1]) < ROUNDING


def _under(base: list[Corner], top: Sequence[Corner]) -> list[Corner]:
    """Return the closed corners between a base and a line above it that runs the same way."""
    back = [(u, v, label) for (u, v, _), (_, _, label) in zip(top[:0:-1], top[-2::-1], strict=True)]
    return [*base, *back, (top[0][0], top[0][1], "")]


def _cut(host: str, name: str, corners: Sequence[Corner], path: KeyPath) -> Cut:
    return Cut(
        host=host,
        name=name,
        curve=curves.polygon([corner[:2] for corner in corners]),
        beyond=BEYOND,
        path=path,
        against=tuple(corner[2] for corner in corners),
    )
