"""Spiral stairs: wedge-shaped treads that wind round a newel, printed in one piece.

Terms
-----
newel
    The post in the middle.
tread
    One step: a wedge from the newel out to the stair's edge, its top one rise above the tread before.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Ground, Hall
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Mark
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.units import Metres, Name, PositiveMetres, Table, part_id

if TYPE_CHECKING:
    from manifold3d import Manifold

Array = NDArray[np.float64]

TOUCH = 1e-6
"""mm; nearer than this the stair touches a face, being the same number but for rounding."""
PAST = 1.0
"""mm the body runs on past the floor and ceiling, so that it is cut to stand off them by the play."""
WALLS = ("left-wall", "right-wall", "back-wall")


class SpiralStairTable(Table):
    """One of `[[spiral_stairs]]`."""

    name: Name = Field(description="What you call it; its print is named after it.")
    at: Annotated[tuple[Metres, Metres], Field(strict=False)] = Field(
        description="[x, y], m: where the newel stands; x from the hall's middle (right positive), y from the opening."
    )
    diameter: PositiveMetres = Field(description="Across the treads, m.")
    newel: PositiveMetres = Field(default=0.2, description="Diameter of the newel, m.")
    count: Annotated[int, Field(ge=1, le=200)] = Field(description="Number of treads.")
    rise: PositiveMetres = Field(default=0.19, description="Height from one tread to the next, m.")
    turn: Annotated[float, Field(ge=5, le=90)] = Field(default=24.0, description="Degrees that one tread takes up.")
    start: Annotated[float, Field(ge=-360, le=360)] = Field(
        default=0.0, description="Degrees of the first riser, seen from above, anticlockwise from the right."
    )
    winds: Literal["anticlockwise", "clockwise"] = Field(
        default="anticlockwise", description="Which way it winds as one climbs, seen from above."
    )
    thickness: PositiveMetres | None = Field(
        default=None,
        description="Of a tread, m. Thicker than the rise, treads rest on one another as stone ones do; thinner, one "
        "sees between them. Default: 1.3 times the rise.",
    )
    through: bool = Field(
        default=True, description="Whether the newel goes on to the ceiling; false: it ends with the top tread."
    )


def imagine(table: SpiralStairTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the stair's body and the mark of its foot, or the problems against it."""
    hall = hall.below_vault
    problems = [*_measure_problems(table, path), *_place_problems(table, hall, path)]
    if problems:
        return Imagined(problems=tuple(problems))
    radius, y = hall.millimetres(table.diameter) / 2, hall.millimetres(table.at[1])
    ground = hall.ground(y - radius, y + radius)
    if ground is None:
        found = f"{table.name!r} stands on steps, or across an end of them"
        problem = Problem(path=(*path, "at"), found=found, allowed="a place on one floor", remedy="move it")
        return Imagined(problems=(problem,))
    return _stood(table, hall.over(ground), ground, path)


def _stood(table: SpiralStairTable, hall: Hall, ground: Ground, path: KeyPath) -> Imagined:
    top, room = table.count * table.rise, hall.metres(hall.height)
    if top > room + hall.metres(TOUCH):
        found = f"{table.count} rises of {table.rise:g} m climb {top:.4g} m, and there are {room:.4g} m over the floor"
        allowed = f"at most {math.floor(room / table.rise + 1e-9)} treads, or a rise up to {room / table.count:.4g} m"
        remedy = "change count or rise"
        return Imagined(problems=(Problem(path=(*path, "count"), found=found, allowed=allowed, remedy=remedy),))
    from pipeline.geometry.booleans import mesh_of  # only where a scene has such stairs: others are answered sooner

    name = part_id(table.name)
    seams = [np.array([0.0, 0.0, 1.0, -hall.floor])]
    block = Block(
        id=name,
        mesh=mesh_of(_body(table, hall)),
        contacts=("opening", "ceiling", *(wall for wall in WALLS if wall in hall.surfaces)),
        joints=np.zeros((0, 2, 3)),
        path=path,
        seams=tuple(seams),
    )
    foot = curves.transform_path(
        _foot(table, hall), np.array([[1.0, 0.0, hall.width / 2], [0.0, 1.0, -ground.origin], [0.0, 0.0, 1.0]])
    )
    turned = table.count * table.turn
    text = f"climbs {top:.4g} m in {table.count} treads and turns by {turned:.4g} degrees"
    return Imagined(
        blocks=(block,),
        marks=(Mark(host=ground.part, name=name, curve=foot),),
        facts=(Fact(subject=name, text=text),),
    )


def _body(table: SpiralStairTable, hall: Hall) -> Manifold:
    """Return newel and treads as one closed body, imagined mm, a little into floor and ceiling."""
    from manifold3d import Manifold, OpType

    x, y = (hall.millimetres(value) for value in table.at)
    inner, outer = hall.millimetres(table.newel) / 2, hall.millimetres(table.diameter) / 2
    rise, thick = hall.millimetres(table.rise), hall.millimetres(_thickness(table))
    least = hall.floor - PAST
    head = hall.floor + (hall.height + PAST if table.through else table.count * rise)
    newel = curves.flatten_path(curves.arc((0.0, 0.0), inner, 0.0, 2 * np.pi), hall.facet)
    pieces = [_prism(newel, least, head)]
    for number in range(table.count):
        top = hall.floor + (number + 1) * rise
        outline = curves.flatten_path(_wedge(table, number, outer), hall.facet)
        pieces.append(_prism(outline, max(least, top - thick), top))
    return Manifold.batch_boolean(pieces, OpType.Add).translate((x, y, 0.0))


def _prism(outline: Array, low: float, high: float) -> Manifold:
    from manifold3d import CrossSection, Manifold

    return Manifold.extrude(CrossSection([outline]), high - low).translate((0.0, 0.0, low))


def _angles(table: SpiralStairTable, first: int, last: int) -> tuple[float, float]:
    """Return the angles, radians and anticlockwise, between which treads stand, ``first`` to before ``last``."""
    way = 1.0 if table.winds == "anticlockwise" else -1.0
    begin, end = (math.radians(table.start + way * table.turn * number) for number in (first, last))
    return min(begin, end), max(begin, end)


def _wedge(table: SpiralStairTable, number: int, outer: float) -> Path:
    """Return a tread's outline round the newel's axis, imagined mm, from the axis out."""
    begin, end = _angles(table, number, number + 1)
    near, far = (outer * np.array([math.cos(angle), math.sin(angle)]) for angle in (begin, end))
    axis = np.zeros(2)
    return (curves.line(axis, near), *curves.arc((0.0, 0.0), outer, begin, end), curves.line(far, axis))


def _foot(table: SpiralStairTable, hall: Hall) -> Path:
    """Return the outline of what stands on the floor: the newel, and the treads that reach down to it."""
    x, y = (hall.millimetres(value) for value in table.at)
    inner, outer = hall.millimetres(table.newel) / 2, hall.millimetres(table.diameter) / 2
    low = math.floor(_thickness(table) / table.rise + 1e-9)
    standing = min(table.count, low)
    if standing == 0:
        return curves.arc((x, y), inner, 0.0, 2 * np.pi)
    if standing * table.turn >= 360:
        return curves.arc((x, y), outer, 0.0, 2 * np.pi)
    begin, end = _angles(table, 0, standing)
    middle = np.array([x, y])
    a, b = (np.array([math.cos(angle), math.sin(angle)]) for angle in (begin, end))
    return (
        curves.line(middle + inner * a, middle + outer * a),
        *curves.arc((x, y), outer, begin, end),
        curves.line(middle + outer * b, middle + inner * b),
        *curves.arc((x, y), inner, end, begin + 2 * np.pi),
    )


def _thickness(table: SpiralStairTable) -> float:
    return 1.3 * table.rise if table.thickness is None else table.thickness


def _measure_problems(table: SpiralStairTable, path: KeyPath) -> list[Problem]:
    out = []
    if table.newel >= table.diameter:
        found = f"the newel is {table.newel:g} m across, the stair {table.diameter:g} m"
        allowed, remedy = f"less than {table.diameter:g} m", "make the newel thinner, or the stair wider"
        out.append(Problem(path=(*path, "newel"), found=found, allowed=allowed, remedy=remedy))
    if abs(_thickness(table) - table.rise) < table.rise / 100:
        found = "treads as thick as the rise meet in an edge alone"
        allowed = f"less than {0.99 * table.rise:.4g} m, or more than {1.01 * table.rise:.4g} m"
        remedy = "change thickness; left out, it is 1.3 times the rise"
        out.append(Problem(path=(*path, "thickness"), found=found, allowed=allowed, remedy=remedy))
    aloft = _thickness(table) < 0.99 * table.rise
    if not aloft and table.turn * (1 + math.floor(_thickness(table) / table.rise)) > 360:
        found = f"treads of {table.turn:g} degrees and {_thickness(table):.4g} m close the way up between its turns"
        allowed = f"less than {table.rise * (360 / table.turn - 1):.4g} m"
        remedy = "make the treads thinner, or turn smaller"
        out.append(Problem(path=(*path, "thickness"), found=found, allowed=allowed, remedy=remedy))
    return out


def _place_problems(table: SpiralStairTable, hall: Hall, path: KeyPath) -> list[Problem]:
    """Return what reaches out of the hall or across the apron's end."""
    x, y = table.at
    radius, half, depth = table.diameter / 2, hall.metres(hall.width / 2), hall.metres(hall.depth)
    slack, key = hall.metres(TOUCH), (*path, "at")
    if abs(x) + radius > half + slack or y - radius < -slack or y + radius > depth + slack:
        found = f"a stair {table.diameter:g} m across at [{x:g}, {y:g}] reaches out of the hall"
        if 2 * radius > min(2 * half, depth) + slack:
            allowed = f"a diameter of at most {min(2 * half, depth):.4g} m"
            return [Problem(path=(*path, "diameter"), found=found, allowed=allowed, remedy="make the stair narrower")]
        sideways = f"x between {radius - half:.4g} and {half - radius:.4g} m"
        allowed = f"{sideways}, y between {radius:.4g} and {depth - radius:.4g} m"
        return [Problem(path=key, found=found, allowed=allowed, remedy="move it, or make it narrower")]
    end = hall.metres(hall.apron)
    if y - radius < end - slack and y + radius > end + slack:
        found = f"the stair stands across the apron's end, {end:.4g} m behind the opening, where the relief breaks"
        allowed = f"y up to {end - radius:.4g} m or from {end + radius:.4g} m"
        return [Problem(path=key, found=found, allowed=allowed, remedy="move it, or change space.apron")]
    return []
