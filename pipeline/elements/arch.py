"""Arches: a ring across the hall, on legs or between the walls, open above or filled up to the ceiling."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from pipeline.elements.bodies import Groove, Level, Solid
from pipeline.elements.hall_shape import Ground, Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Mark
from pipeline.elements.voussoirs import groove, joints, notch, thickness
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.heads import check_rise, default_rise, head_path, parallel_head
from pipeline.units import Name, NonNegativeMetres, PositiveMetres, Table, part_id

TOUCH = 1e-6
"""mm; nearer than this an arch touches a face, being the same number but for rounding."""
BEYOND = 1.0
"""mm a section runs on past the faces it touches, so that cutting it to the hall meets no coinciding planes."""
SINK = 0.2
"""mm a groove starts outside the skin: more than facets stray from the curve, and less than anything near it."""


class ArchTable(Table):
    """One of `[[arches]]`."""

    name: Name = Field(description="What you call it; parts are named after it.")
    at: NonNegativeMetres = Field(description="m from the opening to its front face.")
    springing: NonNegativeMetres = Field(description="m above the floor, where the curve starts.")
    head: Literal["flat", "round", "segmental", "pointed", "ogee", "basket"] = Field(
        default="round", description="Shape of the intrados."
    )
    rise: PositiveMetres | None = Field(
        default=None, description="m from springing to crown; left out, what the head usually has."
    )
    ring: PositiveMetres = Field(description="Radial thickness, m.")
    depth: PositiveMetres = Field(description="Along the hall, m.")
    span: PositiveMetres | None = Field(
        default=None, description="Clear width, m; left out, the hall's width less two rings."
    )
    legs: bool = Field(default=True, description="true: it stands on legs as wide as the ring; false: the ring alone.")
    spandrel: bool = Field(default=False, description="true: filled up to the ceiling and the walls.")
    voussoirs: Annotated[int, Field(ge=0, le=199)] = Field(
        default=0, description="Stones of the ring, their joints shown as grooves; 0 shows none."
    )
    joint: PositiveMetres = Field(default=0.02, description="Width and depth of a joint's groove, m.")
    closed: bool = Field(
        default=False, description="true: the hollow of the print stays closed; else it opens at the back."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """The arch in imagined mm; x from the hall's middle, z from the springing."""

    half_span: float
    rise: float
    ring: float
    near: float
    far: float
    springing: float
    half_hall: float
    above: float
    legs: bool
    spandrel: bool
    inner: Path
    outer: Path

    @property
    def outside(self) -> float:
        """Half the width over the legs."""
        return self.half_span + self.ring

    @property
    def meets_walls(self) -> bool:
        """Whether the ring itself reaches the walls."""
        return self.outside > self.half_hall - TOUCH


def imagine(table: ArchTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the arch and the marks of where it stands, or the problems against it."""
    problems = _problems(table, hall, path)
    if problems:
        return Imagined(problems=tuple(problems))
    try:
        shape = _shape(table, hall)
    except ValueError as error:
        return Imagined(problems=(_no_ring(table, error, path),))
    section = _moved(_section(shape, hall.foot), 0.0, hall.floor + shape.springing)
    solid = Solid(
        id=part_id(table.name),
        axis="y",
        levels=(Level(at=shape.near, section=section), Level(at=shape.far, section=section)),
        contacts=_contacts(shape, hall),
        opens="" if table.closed else "back",
        grooves=_grooves(table, hall, shape),
        path=path,
    )
    ground = hall.ground(shape.near, shape.far)
    if "floor" not in solid.contacts:
        return Imagined(solids=(solid,), marks=tuple(_marks(shape, hall, solid.id, None)))
    problem = _ground_problem(shape, hall, ground, path)
    if problem is not None:
        return Imagined(problems=(problem,))
    return Imagined(solids=(solid,), marks=tuple(_marks(shape, hall, solid.id, ground)))


def _measures(table: ArchTable, hall: Hall) -> tuple[float, float, float]:
    """Return span, rise and ring, imagined mm."""
    ring = hall.millimetres(table.ring)
    span = hall.width - 2 * ring if table.span is None else hall.millimetres(table.span)
    rise = default_rise(table.head, span) if table.rise is None else hall.millimetres(table.rise)
    return span, rise, ring


def _shape(table: ArchTable, hall: Hall) -> _Shape:
    span, rise, ring = _measures(table, hall)
    near = hall.millimetres(table.at)
    springing = hall.millimetres(table.springing)
    return _Shape(
        half_span=span / 2,
        rise=rise,
        ring=ring,
        near=near,
        far=min(near + hall.millimetres(table.depth), hall.depth),
        springing=springing,
        half_hall=hall.width / 2,
        above=hall.height - springing,
        legs=table.legs and springing > TOUCH,
        spandrel=table.spandrel,
        inner=head_path(table.head, span, rise),
        outer=parallel_head(table.head, span, rise, ring),
    )


def _section(shape: _Shape, foot: float) -> Path:
    """Return the closed section, counter-clockwise in (x, z) with z from the springing, running on past the faces."""
    inside, below = shape.half_span, foot - shape.springing - BEYOND
    right: list[tuple[float, float]] = [(inside, 0.0)]
    if shape.legs:
        right += [(inside, below), (_leg_outside(shape), below)]
    if shape.spandrel:
        wall, top = shape.half_hall + BEYOND, shape.above + BEYOND
        right += [(_leg_outside(shape), 0.0), (wall, 0.0), (wall, top)]
        outline = right + [(-x, z) for x, z in reversed(right)]
        return (*curves.polyline(_distinct(outline)), *curves.reverse_path(shape.inner))
    right += [(shape.outside, 0.0), tuple(shape.outer[0].start)]
    left = [(-x, z) for x, z in reversed(right)]
    return (
        *curves.polyline(_distinct(right)),
        *shape.outer,
        *curves.polyline(_distinct(left)),
        *curves.reverse_path(shape.inner),
    )


def _leg_outside(shape: _Shape) -> float:
    return shape.half_hall + BEYOND if shape.spandrel and shape.meets_walls else shape.outside


def _distinct(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [p for i, p in enumerate(points) if i == 0 or math.dist(p, points[i - 1]) > TOUCH]


def _contacts(shape: _Shape, hall: Hall) -> tuple[str, ...]:
    beside = shape.spandrel or shape.meets_walls
    touched = {
        "floor": shape.legs or shape.springing < TOUCH,
        "ceiling": shape.spandrel or _top(shape) > shape.above - TOUCH,
        "left-wall": beside,
        "right-wall": beside,
        "back-wall": shape.far > hall.depth - TOUCH,
    }
    return tuple(host for host, touches in touched.items() if touches)


def _top(shape: _Shape) -> float:
    return float(curves.bounds(shape.outer)[1, 1])


def _grooves(table: ArchTable, hall: Hall, shape: _Shape) -> tuple[Groove, ...]:
    if not table.voussoirs:
        return ()
    joint, base = hall.millimetres(table.joint), hall.floor + shape.springing
    grooves = []
    for foot, normal in joints(shape.inner, table.voussoirs, shape.legs):
        across = thickness(shape.outer, foot, normal)
        start = -SINK - notch(shape.inner, foot, joint / 2)
        end = across if shape.spandrel else across + SINK
        front = (shape.near - SINK, shape.near + joint)
        through = (shape.near - SINK, shape.far + SINK)
        face = (foot, foot + normal * across), (shape.near, shape.near)
        soffit = (foot, foot), (shape.near, shape.far)
        grooves.append(groove(foot, normal, joint, along=(start, end), deep=front, base=base, seen=face))
        grooves.append(groove(foot, normal, joint, along=(start, joint), deep=through, base=base, seen=soffit))
    return tuple(grooves)


def _marks(shape: _Shape, hall: Hall, name: str, ground: Ground | None) -> list[Mark]:
    half, near, far = shape.half_hall, shape.near, shape.far
    marks = []
    if shape.legs and ground is not None:
        front, back = near - ground.origin, far - ground.origin
        for low, high in ((-shape.outside, -shape.half_span), (shape.half_span, shape.outside)):
            corners = (max(low, -half) + half, front), (min(high, half) + half, back)
            marks.append(_rectangle(ground.part, name, *corners))
    if shape.spandrel or shape.meets_walls:
        level = 0.0 if ground is None else ground.level
        low = level if shape.legs and shape.meets_walls else shape.springing
        high = shape.springing + (shape.above if shape.spandrel else min(_height_at(shape.outer, half), shape.above))
        if high - low > TOUCH:
            marks += [_rectangle(wall, name, (near, low), (far, high)) for wall in ("left-wall", "right-wall")]
    if shape.spandrel:
        marks.append(_rectangle("ceiling", name, (0.0, near), (hall.width, far)))
    elif _top(shape) > shape.above + TOUCH:
        reach = min(_reach_at(shape.outer, shape.above), half)
        marks.append(_rectangle("ceiling", name, (half - reach, near), (half + reach, far)))
    return marks


def _height_at(outer: Path, x: float) -> float:
    """Return how high over the springing the extrados crosses a wall."""
    if x >= outer[0].start[0] - TOUCH:
        return float(outer[0].start[1])
    upright = np.array([1.0, 0.0, -x])
    return max(float(curves.evaluate(c, t)[0, 1]) for c in outer for t in curves.crossings(c, upright))


def _reach_at(outer: Path, z: float) -> float:
    """Return how far from the middle the extrados crosses the ceiling, or where it begins if that is above it."""
    if outer[0].start[1] >= z:
        return float(outer[0].start[0])
    level = np.array([0.0, 1.0, -z])
    return max(float(abs(curves.evaluate(c, t)[0, 0])) for c in outer for t in curves.crossings(c, level))


def _rectangle(host: str, name: str, low: tuple[float, float], high: tuple[float, float]) -> Mark:
    (u0, v0), (u1, v1) = low, high
    return Mark(host=host, name=name, curve=curves.polygon([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]))


def _no_ring(table: ArchTable, error: ValueError, path: KeyPath) -> Problem:
    found, remedy = f"a ring of {table.ring:g} m cannot be so", "make the ring thinner, or the arch wider"
    return Problem(path=(*path, "ring"), found=found, allowed=str(error), remedy=remedy)


def _ground_problem(shape: _Shape, hall: Hall, ground: Ground | None, path: KeyPath) -> Problem | None:
    if ground is None:
        found = "its legs stand on steps, or across an end of them"
        return Problem(path=(*path, "at"), found=found, allowed="a place on one floor", remedy="move it, or the steps")
    if ground.level < shape.springing + TOUCH or ground.level < TOUCH:
        return None
    level = hall.metres(ground.level)
    found = f"the floor lies {level:.4g} m up there, the arch springs {hall.metres(shape.springing):.4g} m up"
    allowed, remedy = f"{level:.4g} m or more, from the front floor", "raise springing, or move the arch"
    return Problem(path=(*path, "springing"), found=found, allowed=allowed, remedy=remedy)


def _moved(path: Path, x: float, z: float) -> Path:
    return curves.transform_path(path, np.array([[1.0, 0.0, x], [0.0, 1.0, z], [0.0, 0.0, 1.0]]))


def _problems(table: ArchTable, hall: Hall, path: KeyPath) -> list[Problem]:
    span, rise, _ = _measures(table, hall)
    if span <= 0 or span > hall.width + TOUCH or (table.legs and span > hall.width - TOUCH):
        return [_span_problem(table, hall, path, span)]
    problems = [*_stone_problems(table, path), *_depth_problems(table, hall, path)]
    try:
        check_rise(table.head, span, rise)
    except ValueError as error:
        key = "rise" if table.rise is not None else "head"
        found = f"a {table.head} head of {hall.metres(span):.4g} m span cannot rise {hall.metres(rise):.4g} m"
        remedy = "change rise, or take another head"
        return [*problems, Problem(path=(*path, key), found=found, allowed=str(error), remedy=remedy)]
    crown = hall.millimetres(table.springing) + rise
    if crown > hall.height - TOUCH:
        found = f"the head reaches {hall.metres(crown):.4g} m, through the ceiling at {hall.metres(hall.height):.4g} m"
        room = hall.metres(hall.height - rise)
        allowed = f"below {room:.4g} m with this rise" if room > 0 else "a lower rise or a smaller span"
        remedy = "lower springing or rise" if table.rise is not None else "lower springing, or give a smaller rise"
        problems.append(Problem(path=(*path, "springing"), found=found, allowed=allowed, remedy=remedy))
    return problems


def _span_problem(table: ArchTable, hall: Hall, path: KeyPath, span: float) -> Problem:
    width = hall.metres(hall.width)
    if table.span is None:
        found = f"two rings of {table.ring:g} m leave no span in a hall {width:.4g} m wide"
        allowed, remedy = f"less than {width / 2:.4g} m", "make the ring thinner"
        return Problem(path=(*path, "ring"), found=found, allowed=allowed, remedy=remedy)
    room = "room for two legs: " if table.legs else ""
    found = f"a span of {hall.metres(span):.4g} m does not fit a hall {width:.4g} m wide"
    allowed, remedy = f"{room}less than {width:.4g} m", "give a smaller span, or leave span out: as wide as the hall"
    return Problem(path=(*path, "span"), found=found, allowed=allowed, remedy=remedy)


def _stone_problems(table: ArchTable, path: KeyPath) -> list[Problem]:
    if not table.voussoirs:
        return []
    even = table.head in ("pointed", "ogee")
    if table.voussoirs % 2 == (0 if even else 1):
        return []
    why = "closes on a joint at the apex" if even else "closes on a key stone"
    found = f"{table.voussoirs} voussoirs; a {table.head} arch {why}"
    allowed = f"an {'even' if even else 'odd'} number"
    remedy = f"write voussoirs = {table.voussoirs + 1}"
    return [Problem(path=(*path, "voussoirs"), found=found, allowed=allowed, remedy=remedy)]


def _depth_problems(table: ArchTable, hall: Hall, path: KeyPath) -> list[Problem]:
    near = hall.millimetres(table.at)
    far = min(near + hall.millimetres(table.depth), hall.depth)
    if near > hall.depth - TOUCH:
        found = f"its front face at {table.at:g} m lies behind the back wall"
        allowed, remedy = f"less than {hall.metres(hall.depth):.4g} m", "move it nearer, or imagine a deeper room"
        return [Problem(path=(*path, "at"), found=found, allowed=allowed, remedy=remedy)]
    if near < hall.apron - TOUCH and far > hall.apron + TOUCH:
        end = hall.metres(hall.apron)
        found = f"the arch stands across the apron's end, {end:.4g} m behind the opening, where the relief breaks"
        allowed = f"at {end:.4g} m or more, or a depth up to {end - table.at:.4g} m"
        remedy = "move it, or change space.apron"
        return [Problem(path=(*path, "at"), found=found, allowed=allowed, remedy=remedy)]
    return []
