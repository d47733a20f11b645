"""Columns and piers: a shaft from floor to ceiling or springing, with a base and a capital by a simple profile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BeforeValidator, Field, WithJsonSchema

from pipeline.elements.bodies import Level, Solid
from pipeline.elements.hall_shape import Ground, Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Mark
from pipeline.geometry import clipping, curves
from pipeline.geometry.curves import Path
from pipeline.units import Metres, Name, NonNegativeMetres, PositiveMetres, Table, part_id

Section = Literal["round", "octagon", "square"]

TOUCH = 1e-6
"""mm; nearer than this a column touches a face, being the same number but for rounding."""

BASE_PROFILE = ((0.0, 1.0), (0.45, 1.0), (0.45, 0.7), (0.56, 0.9), (0.67, 0.9), (0.78, 0.7), (1.0, 0.0))
"""Plinth, torus in three facets, apophyge: (share of the height from the floor, share of the widening)."""
CAPITAL_PROFILE = ((0.0, 0.0), (0.35, 0.25), (0.6, 0.75), (0.6, 1.0), (1.0, 1.0))
"""Bell in two facets, abacus: (share of the height from the shaft up, share of the widening)."""


def _one_or_several(value: Any) -> Any:
    if isinstance(value, list | tuple) and value and not isinstance(value[0], list | tuple):
        return (value,)
    return value


Spot = Annotated[tuple[Metres, Metres], Field(strict=False)]
_SPOT_SCHEMA = {
    "type": "array",
    "items": {"anyOf": [{"type": "number"}, {"type": "string"}]},
    "minItems": 2,
    "maxItems": 2,
}
Spots = Annotated[
    tuple[Spot, ...],
    Field(strict=False, min_length=1, max_length=200),
    BeforeValidator(_one_or_several),
    WithJsonSchema({"anyOf": [_SPOT_SCHEMA, {"type": "array", "items": _SPOT_SCHEMA, "minItems": 1}]}),
]


class ColumnTable(Table):
    """One of `[[columns]]`."""

    name: Name = Field(description="What you call it; parts are named after it.")
    at: Spots | None = Field(
        default=None,
        description="[x, y] or a list of them, m: x from the hall's middle (right positive), y from the opening.",
    )
    stand: Literal["bays"] | None = Field(
        default=None,
        description='Instead of at: "bays" engages one with either wall at every bay line of the vault; halves at the '
        "opening and at the back wall.",
    )
    diameter: PositiveMetres = Field(description="Of the shaft, m; across the flats where it is not round.")
    section: Section = Field(default="round", description="Shape of the shaft, base and capital in plan.")
    engaged: bool = Field(default=False, description="true: half a column against the nearest wall.")
    base: NonNegativeMetres = Field(default=0.0, description="Height of the base, m; 0 leaves it out.")
    capital: NonNegativeMetres = Field(default=0.0, description="Height of the capital, m; 0 leaves it out.")
    base_width: Annotated[float, Field(ge=1, le=3)] = Field(
        default=1.3, description="Width of the base as a multiple of the diameter."
    )
    capital_width: Annotated[float, Field(ge=1, le=3)] = Field(
        default=1.3, description="Width of the capital as a multiple of the diameter."
    )
    closed: bool = Field(
        default=False,
        description="true: the hollow of the print stays closed; else it opens against the wall, or underneath.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stand:
    """Where one column stands: its part id, its axis in imagined mm, and the wall it is engaged with, if any."""

    id: str
    x: float
    y: float
    wall: str

    def ground(self, hall: Hall, width: float) -> Ground | None:
        """Return the floor it stands on, or nothing where steps are in the way."""
        return hall.ground(self.y - width / 2, self.y + width / 2)


def imagine(table: ColumnTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return a solid for each place and the marks of where it stands, or the problems against it."""
    hall = hall.below_vault
    misplaced = _stand_problems(table, hall, path)
    if misplaced:
        return Imagined(problems=misplaced)
    table = _placed(table, hall)
    problems = _shape_problems(table, hall, path)
    stands = [_stand(table, hall, number) for number in range(len(table.at or ()))]
    for number, stand in enumerate(stands):
        key = (*path, "at") if len(stands) == 1 else (*path, "at", number)
        problems += _place_problems(table, hall, key, number)
        if not problems:
            problems += [*_apron_problems(table, hall, key, stand), *_ground_problems(table, hall, key, stand)]
    if problems:
        return Imagined(problems=tuple(problems))
    grounds = [stand.ground(hall, _widest(table, hall)) for stand in stands]
    placed = [(stand, ground) for stand, ground in zip(stands, grounds, strict=True) if ground is not None]
    return Imagined(
        solids=tuple(_solid(table, hall.over(ground), path, stand) for stand, ground in placed),
        marks=tuple(mark for stand, ground in placed for mark in _marks(table, hall, stand, ground)),
    )


def _stand_problems(table: ColumnTable, hall: Hall, path: KeyPath) -> tuple[Problem, ...]:
    if (table.at is None) == (table.stand is None):
        found = "neither at nor stand is given" if table.at is None else "at and stand are both given"
        return (
            Problem(path=(*path, "at"), found=found, allowed="one of the two", remedy="say where the columns stand"),
        )
    if table.stand is not None and not hall.bay_lines:
        found = "there is no vault, so there are no bay lines"
        remedy = "give at = [[x, y], ...], or add a table [vault]"
        return (Problem(path=(*path, "stand"), found=found, allowed="at", remedy=remedy),)
    return ()


def _placed(table: ColumnTable, hall: Hall) -> ColumnTable:
    """Return the table with the places of its columns, engaged with the walls where they stand on bay lines."""
    if table.stand is None:
        return table
    half = hall.metres(hall.width / 2)
    spots = tuple((x, hall.metres(y)) for y in hall.bay_lines for x in (-half, half))
    return table.model_copy(update={"at": spots, "engaged": True})


def _stand(table: ColumnTable, hall: Hall, number: int) -> _Stand:
    spots = table.at or ()
    x, y = (hall.millimetres(value) for value in spots[number])
    name = part_id(table.name)
    if not table.engaged:
        return _Stand(id=name if len(spots) == 1 else f"{name}-{number + 1}", x=x, y=y, wall="")
    wall = _nearest_wall(table, hall, x, y)
    name = f"{name}-{wall.removesuffix('-wall')}-{number + 1}"
    if wall == "back-wall":
        return _Stand(id=name, x=x, y=hall.depth, wall=wall)
    return _Stand(id=name, x=hall.width / 2 if wall == "right-wall" else -hall.width / 2, y=y, wall=wall)


def _nearest_wall(table: ColumnTable, hall: Hall, x: float, y: float) -> str:
    to_side, to_back = hall.width / 2 - abs(x), hall.depth - y
    # A pier at the end of a side wall is meant for that wall, though it stands in the back wall's plane too.
    if to_back < to_side and to_side > hall.millimetres(table.diameter):
        return "back-wall"
    return "left-wall" if x < 0 else "right-wall"


def _solid(table: ColumnTable, hall: Hall, path: KeyPath, stand: _Stand) -> Solid:
    levels = tuple(
        Level(at=hall.floor + height, section=_section(table.section, stand.x, stand.y, width))
        for height, width in _profile(table, hall)
    )
    return Solid(
        id=stand.id,
        axis="z",
        levels=levels,
        contacts=("floor", "ceiling", *_walls_touched(hall, stand, _widest(table, hall))),
        opens="" if table.closed else stand.wall or "floor",
        path=path,
    )


def _profile(table: ColumnTable, hall: Hall) -> list[tuple[float, float]]:
    """Return (height above the floor, width) of every level, imagined mm, upward."""
    shaft = hall.millimetres(table.diameter)
    base, capital = hall.millimetres(table.base), hall.millimetres(table.capital)
    neck = hall.height - capital
    levels = [(share * base, shaft * (1 + (table.base_width - 1) * wide)) for share, wide in BASE_PROFILE if base > 0]
    levels = levels or [(0.0, shaft)]
    if capital == 0:
        return [*levels, (hall.height, shaft)]
    upper = [(neck + share * capital, shaft * (1 + (table.capital_width - 1) * w)) for share, w in CAPITAL_PROFILE]
    return levels + (upper if neck > levels[-1][0] + TOUCH else upper[1:])


def _section(section: Section, x: float, y: float, width: float) -> Path:
    half = width / 2
    if section == "round":
        return curves.arc((x, y), half, 0.0, 2 * np.pi)
    turns = {"octagon": 8, "square": 4}[section]
    angles = (np.arange(turns) + 0.5) * 2 * np.pi / turns
    reach = half / np.cos(np.pi / turns)
    return curves.polygon(np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)]))


def _widest(table: ColumnTable, hall: Hall) -> float:
    return max(width for _, width in _profile(table, hall))


def _walls_touched(hall: Hall, stand: _Stand, width: float) -> tuple[str, ...]:
    half = width / 2
    touched = {
        "left-wall": stand.x - half < -hall.width / 2 + TOUCH,
        "right-wall": stand.x + half > hall.width / 2 - TOUCH,
        "back-wall": stand.y + half > hall.depth - TOUCH,
    }
    return tuple(wall for wall, touches in touched.items() if touches)


def _marks(table: ColumnTable, hall: Hall, stand: _Stand, ground: Ground) -> list[Mark]:
    profile = _profile(table, hall.over(ground))
    foot = curves.transform_path(
        _section(table.section, stand.x, stand.y, profile[0][1]),
        np.array([[1.0, 0.0, hall.width / 2], [0.0, 1.0, -ground.origin], [0.0, 0.0, 1.0]]),
    )
    marks = [Mark(host=ground.part, name=stand.id, curve=_kept(foot, hall.width, hall.depth - ground.origin))]
    if stand.wall:
        axis = stand.x + hall.width / 2 if stand.wall == "back-wall" else stand.y
        right = [(axis + width / 2, ground.level + height) for height, width in profile]
        left = [(axis - width / 2, ground.level + height) for height, width in reversed(profile)]
        width, height = hall.size(stand.wall)
        outline = _kept(curves.polygon(right + left), width, height, foot=hall.foot)
        marks.append(Mark(host=stand.wall, name=stand.id, curve=outline))
    return marks


def _kept(path: Path, width: float, height: float, foot: float = 0.0) -> Path:
    return clipping.clip(path, [(1, 0, 0), (-1, 0, width), (0, 1, -foot), (0, -1, height)])


def _shape_problems(table: ColumnTable, hall: Hall, path: KeyPath) -> list[Problem]:
    problems = []
    width, depth, height = (hall.metres(size) for size in (hall.width, hall.depth, hall.height))
    widest = hall.metres(_widest(table, hall)) if table.base + table.capital < height else table.diameter
    if widest >= min(width, depth):
        found = f"the column is {widest:.4g} m wide, the hall {width:.4g} m wide and {depth:.4g} m deep"
        allowed, remedy = f"less than {min(width, depth):.4g} m", "give a smaller diameter"
        problems.append(Problem(path=(*path, "diameter"), found=found, allowed=allowed, remedy=remedy))
    if table.base + table.capital > height + hall.metres(TOUCH):
        found = f"base and capital together are {table.base + table.capital:.4g} m high"
        allowed = f"at most the hall's height, {height:.4g} m"
        key = "base" if table.base >= table.capital else "capital"
        problems.append(Problem(path=(*path, key), found=found, allowed=allowed, remedy=f"make {key} lower"))
    return problems


def _place_problems(table: ColumnTable, hall: Hall, key: KeyPath, number: int) -> list[Problem]:
    x, y = (table.at or ())[number]
    half, depth = hall.metres(hall.width) / 2, hall.metres(hall.depth)
    slack = hall.metres(TOUCH)
    if abs(x) <= half + slack and -slack <= y <= depth + slack:
        return []
    found = f"[{x:g}, {y:g}] is outside the hall"
    allowed = f"x between {-half:.4g} and {half:.4g} m, y between 0 and {depth:.4g} m"
    remedy = "at = [m right of the middle, m from the opening]"
    return [Problem(path=key, found=found, allowed=allowed, remedy=f"move it: {remedy}")]


def _ground_problems(table: ColumnTable, hall: Hall, key: KeyPath, stand: _Stand) -> list[Problem]:
    ground = stand.ground(hall, _widest(table, hall))
    if ground is None:
        found = "the column stands on steps, or across an end of them"
        return [Problem(path=key, found=found, allowed="a place on one floor", remedy="move it, or the steps")]
    room, needed = hall.metres(hall.height - ground.level), table.base + table.capital
    if needed <= room + hall.metres(TOUCH):
        return []
    found = (
        f"base and capital together are {needed:.4g} m high, and the floor lies {hall.metres(ground.level):.4g} m up"
    )
    allowed, remedy = f"at most {room:.4g} m over that floor", "make base or capital lower, or move the column"
    return [Problem(path=key, found=found, allowed=allowed, remedy=remedy)]


def _apron_problems(table: ColumnTable, hall: Hall, key: KeyPath, stand: _Stand) -> list[Problem]:
    half = _widest(table, hall) / 2
    near, far = max(0.0, stand.y - half), min(hall.depth, stand.y + half)
    if not near < hall.apron - TOUCH or not far > hall.apron + TOUCH:
        return []
    end, reach = hall.metres(hall.apron), hall.metres(half)
    found = f"the column stands across the apron's end, {end:.4g} m behind the opening, where the relief breaks"
    allowed = f"y up to {end - reach:.4g} m or from {end + reach:.4g} m"
    return [Problem(path=key, found=found, allowed=allowed, remedy="move it, or change space.apron")]
