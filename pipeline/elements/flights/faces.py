"""The faces of a flight of steps and of the floor behind it, each edge labelled with its neighbour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.flights.plan import Plan
from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.problems import KeyPath
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves
from pipeline.geometry.cutting import subtract
from pipeline.geometry.regions import Edge, Region

Array = NDArray[np.float64]
Corner = tuple[float, float, str]
"""A corner of an outline, and what stands at the edge that starts there."""

UP = (0.0, 0.0, 1.0)
PAST = 1.0
"""mm that cuts run on past the edges of what they cut, so that no rounding leaves a sliver."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What a flight's faces share: hall, sheet, covers of level and of upright faces, the scene's key."""

    hall: Hall
    sheet: SurfaceSheet
    level: str | None
    upright: str | None
    path: KeyPath


def faces(plan: Plan, making: Making) -> list[Face]:
    """Return the floor behind, the head face, treads, risers and the cheek."""
    out = [_floor_behind(plan, making), _head(plan, making)]
    if not plan.panelled:
        return out
    for step in range(1, plan.count):
        out += [_tread(plan, making, step), _riser(plan, making, step)]
    return [*out, _cheek(plan, making)] if plan.flanked else out


def footprint(plan: Plan, origin: float, depth: float) -> list[Corner]:
    """Return what a flight and all beyond it cover of the floor before it, from ``origin`` on; host coordinates."""
    left, right, far = -PAST, plan.hall_width + PAST, depth - origin + PAST
    near = (plan.riser_at(1) if plan.rises and plan.panelled else plan.head) - origin
    first = plan.riser_part(1) if plan.rises and plan.panelled else plan.head_part
    back = [(right, far, ""), (left, far, "")]
    if not (plan.rises and plan.panelled and plan.flanked):
        return [(left, near, first), (right, near, ""), *back]
    head = plan.head - origin
    if plan.side == "left":
        bend = [(left, near, first), (plan.right, near, plan.cheek_part), (plan.right, head, plan.head_part)]
        return [*bend, (right, head, ""), *back]
    bend = [(left, head, plan.head_part), (plan.left, head, plan.cheek_part), (plan.left, near, first)]
    return [*bend, (right, near, ""), *back]


def edges(corners: Sequence[Corner]) -> tuple[Edge, ...]:
    """Return the closed loop through corners."""
    path = curves.polygon([corner[:2] for corner in corners])
    return tuple(Edge(curve, corner[2]) for curve, corner in zip(path, corners, strict=True))


def _floor_behind(plan: Plan, making: Making) -> Face:
    hall = making.hall
    width, depth = hall.width, hall.depth - plan.behind.origin
    region = Region(_rectangle(width, depth, (_front_of_behind(plan), "right-wall", "back-wall", "left-wall")))
    if not plan.rises and plan.panelled and plan.flanked:
        free, end = (plan.right, plan.far - plan.near) if plan.side == "left" else (plan.left, plan.far - plan.near)
        low, high = (-PAST, free) if plan.side == "left" else (free, width + PAST)
        hole = curves.polygon([(low, -PAST), (high, -PAST), (high, end), (low, end)])
        sides = ("", plan.cheek_part) if plan.side == "left" else (plan.cheek_part, "")
        region = subtract(region, hole, ("", sides[1], plan.riser_part(1), sides[0]))
    return _face(making, plan.behind.part, _level(hall, 0.0, plan.behind.origin, plan.behind.level), UP, region)


def _front_of_behind(plan: Plan) -> str:
    across_down = not plan.rises and plan.panelled and not plan.flanked
    return plan.riser_part(1) if across_down else plan.head_part


def _tread(plan: Plan, making: Making, step: int) -> Face:
    near = min(plan.riser_at(step), plan.riser_at(step + 1))
    ends = plan.riser_part(step), plan.riser_part(step + 1)
    front, back = ends if plan.rises else ends[::-1]
    size = plan.right - plan.left, plan.going
    region = Region(_rectangle(*size, (front, plan.side_part("right"), back, plan.side_part("left"))))
    return _face(making, plan.top_part(step), _level(making.hall, plan.left, near, plan.top(step)), UP, region)


def _riser(plan: Plan, making: Making, step: int) -> Face:
    size = plan.right - plan.left, plan.rise
    around = plan.top_part(step - 1), plan.side_part("right"), plan.top_part(step), plan.side_part("left")
    corner = plan.left, plan.riser_at(step), plan.top(step - 1)
    return _upright(plan, making, plan.riser_part(step), corner, Region(_rectangle(*size, around)))


def _head(plan: Plan, making: Making) -> Face:
    """Return the last riser; beside a flight and behind a printed one it is the whole retaining wall."""
    if plan.panelled and not plan.flanked:
        return _riser(plan, making, plan.count)
    width, height, under = plan.hall_width, plan.count * plan.rise, (plan.count - 1) * plan.rise
    low, high, tread = plan.low.part, plan.high.part, plan.top_part(plan.count - 1)
    loop = _rectangle(width, height, (low, "right-wall", high, "left-wall"))
    if plan.panelled and plan.side == "left":
        foot: list[Corner] = [(plan.right, 0.0, low), (width, 0.0, "right-wall"), (width, height, high)]
        rest = [(0.0, height, "left-wall"), (0.0, under, tread), (plan.right, under, plan.cheek_part)]
        loop = edges([*foot, *rest])
    elif plan.panelled:
        foot = [(0.0, 0.0, low), (plan.left, 0.0, plan.cheek_part), (plan.left, under, tread)]
        rest = [(width, under, "right-wall"), (width, height, high), (0.0, height, "left-wall")]
        loop = edges([*foot, *rest])
    corner = 0.0, plan.head, plan.low.level
    return _upright(plan, making, plan.head_part, corner, Region(loop))


def _upright(plan: Plan, making: Making, part: str, corner: tuple[float, float, float], region: Region) -> Face:
    """Return a face across the hall; ``corner`` is where its host coordinates begin: x, y, height."""
    x, y, z = corner
    hall = making.hall
    matrix = np.array([[1.0, 0.0, x - hall.width / 2], [0.0, 0.0, y], [0.0, 1.0, hall.floor + z], [0.0, 0.0, 1.0]])
    return _face(making, part, matrix, (0.0, -1.0 if plan.rises else 1.0, 0.0), region)


def _cheek(plan: Plan, making: Making) -> Face:
    hall = making.hall
    run = plan.far - plan.near
    corners: list[Corner] = [(0.0, 0.0, plan.low.part), (run, 0.0, plan.head_part)]
    for step in range(plan.count - 1, 0, -1):
        start = (step - 1) * plan.going
        corners.append((start + plan.going, step * plan.rise, plan.top_part(step)))
        corners.append((start, step * plan.rise, plan.riser_part(step)))
    if not plan.rises:
        labels = [corner[2] for corner in corners]
        mirrored = [(run - u, v) for u, v, _ in reversed(corners)]
        following = labels[::-1][1:] + labels[::-1][:1]
        corners = [(u, v, label) for (u, v), label in zip(mirrored, following, strict=True)]
    free, inward = (plan.right, 1.0) if plan.side == "left" else (plan.left, -1.0)
    base = hall.floor + plan.low.level
    matrix = np.array([[0.0, 0.0, free - hall.width / 2], [1.0, 0.0, plan.near], [0.0, 1.0, base], [0.0, 0.0, 1.0]])
    return _face(making, plan.cheek_part, matrix, (inward, 0.0, 0.0), Region(edges(corners)))


def _face(
    making: Making, part: str, imagined_from_host: Array, inward: tuple[float, float, float], region: Region
) -> Face:
    level = inward == UP
    _, (width, height) = curves.bounds(region.curves)
    return Face(
        id=part,
        imagined_from_host=imagined_from_host,
        inward=np.array(inward),
        up=np.array([0.0, 1.0, 0.0] if level else [0.0, 0.0, 1.0]),
        region=region,
        sheet=making.sheet,
        cover=making.level if level else making.upright,
        extent=(float(width), float(height)),
        level=level,
        path=making.path,
    )


def _level(hall: Hall, x: float, y: float, z: float) -> Array:
    return np.array([[1.0, 0.0, x - hall.width / 2], [0.0, 1.0, y], [0.0, 0.0, hall.floor + z], [0.0, 0.0, 1.0]])


def _rectangle(width: float, height: float, around: tuple[str, str, str, str]) -> tuple[Edge, ...]:
    """Return a rectangle's loop, ``around`` naming what stands below, right, above and left."""
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    return edges([(*corner, name) for corner, name in zip(corners, around, strict=True)])
