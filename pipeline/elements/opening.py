"""Openings: holes in a wall, with a head as masons build them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from pydantic import Field

from pipeline.elements.fillings import DoorTable, Hole, TraceryTable, glaze, hang, rebate_problems
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import LAMP_CAUTIONS, Imagined, Task, gather
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.heads import Head, default_rise, head_path
from pipeline.units import NonNegativeMetres, PositiveMetres, Table

WALLS = {"left": "left-wall", "right": "right-wall", "back": "back-wall"}
LEADS = ("passage", "niche")
TOUCH = 1e-6
"""mm; nearer than this an opening touches the edge, being the same number but for rounding."""


class OpeningTable(Table):
    """One of `[[openings]]`."""

    name: str = Field(description="What you call it; parts are named after it.")
    wall: Literal["left", "right", "back"] = Field(description="The wall it is cut into.")
    at: NonNegativeMetres = Field(
        description="m along the wall from the opening of the box (back wall: from its left end) to the hole's middle."
    )
    width: PositiveMetres = Field(description="Clear width, m.")
    sill: NonNegativeMetres = Field(default=0.0, description="m above the floor; 0 is a doorway.")
    height: PositiveMetres = Field(description="m from the sill to the top of the head.")
    head: Literal["flat", "round", "segmental", "pointed", "ogee", "basket"] = Field(
        default="flat", description="Shape of the top."
    )
    rise: PositiveMetres | None = Field(
        default=None, description="m from springing to crown; left out, what the head usually has."
    )
    beyond: Literal["bare", "light", "passage", "niche"] = Field(
        default="bare",
        description="What lies behind: bare is left open, light is a hole for a lamp behind it, passage leads on out of"
        " sight, niche has a back.",
    )
    length: PositiveMetres | None = Field(
        default=None, description="m from the wall to the end of the passage, or to the back of the niche."
    )
    reveal: PositiveMetres | None = Field(
        default=None, description="Thickness of the imagined wall, m, seen in the jambs of a bare or light opening."
    )
    reveal_as: Literal["sheet", "print"] | None = Field(
        default=None,
        description="What the reveal is made of: strips of sheet, or one printed frame. Left out, sheet, but a print"
        " under a curved head whose material does not bend.",
    )
    barrel_as: Literal["sheet", "print"] | None = Field(
        default=None,
        description="What a passage or niche with a curved head is made of: panels under a barrel bent from sheet, or"
        " one printed lining. Left out, sheet where the barrel's material bends (min_bend above 0), else a print.",
    )
    barrel_material: str | None = Field(
        default=None,
        description="Name of a table of [materials] for what is bent over a curved head, the barrel of a passage or"
        " niche or the soffit of a reveal; left out, the wall's.",
    )
    tracery: TraceryTable | None = Field(
        default=None, description="A flat piece with lights, mullions and bars behind the hole, sized by it."
    )
    door: DoorTable | None = Field(default=None, description="A plank door that closes the hole, sized by it.")


def imagine(table: OpeningTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the cut an opening asks of its wall, or the problems that stand against it."""
    host = WALLS[table.wall]
    extent_u, extent_v = hall.size(host)
    width, middle = hall.millimetres(table.width), hall.millimetres(table.at)
    sill, height = hall.millimetres(table.sill), hall.millimetres(table.height)
    problems = [
        *_room_along(table, hall, path, extent=extent_u, middle=middle, width=width),
        *_room_above(table, hall, path, extent_v, sill + height),
        *_agreement(table, path),
    ]
    rise = default_rise(table.head, width) if table.rise is None else hall.millimetres(table.rise)
    if table.head == "flat" and table.rise is not None:
        found = f"a flat head has no rise, {table.rise:g} m is asked"
        problems.append(_problem((*path, "rise"), found, "no rise", "take rise out, or give another head"))
    elif rise > height + TOUCH:
        problems.append(
            _problem(
                (*path, "height"),
                f"the {table.head} head alone rises {hall.metres(rise):.4g} m, the opening is {table.height:g} m high",
                f"at least {hall.metres(rise):.4g} m",
                "raise height, or give a smaller rise",
            )
        )
    if problems:
        return Imagined(problems=tuple(problems))
    try:
        curve = outline(table.head, middle=middle, sill=sill, width=width, height=height, rise=rise)
    except ValueError as error:
        key = "rise" if table.rise is not None else "head"
        found, remedy = f"a {table.head} head cannot be so", "change rise, or take another head"
        return Imagined(problems=(_problem((*path, key), found, str(error), remedy),))
    cut = Cut(
        host=host,
        name=table.name,
        curve=curve,
        beyond=table.beyond,
        path=path,
        length=hall.millimetres(table.length or 0.0),
        reveal=hall.millimetres(table.reveal or 0.0),
        made_as=table.barrel_as if table.beyond in LEADS else table.reveal_as,
        barrel=hall.sheet(table.barrel_material) if table.barrel_material else None,
    )
    hole = Hole(
        host=host, name=table.name, path=path, head=table.head, width=width, height=height, rise=rise, middle=middle,
        sill=sill, curve=curve, reveal=cut.reveal,
    )  # fmt: skip
    problems += rebate_problems((("tracery", table.tracery), ("door", table.door)), hole, hall)
    if problems:
        return Imagined(problems=tuple(problems))
    fillings = [] if table.tracery is None else [glaze(table.tracery, hole, hall)]
    fillings += [] if table.door is None else [hang(table.door, hole, hall)]
    return gather([Imagined(cuts=(cut,), tasks=tuple(_tasks(table, host))), *fillings])


def _tasks(table: OpeningTable, host: str) -> Iterator[Task]:
    """Yield what is done behind the hole before its wall goes in."""
    if table.tracery is not None:
        yield Task(before=host, text=f"If {table.name} is to have glass, glue clear sheet behind its tracery.")
    if table.beyond == "light":
        yield Task(
            before=host,
            text=f"Fix a lamp or a lit white card behind {table.name}, lead its wires out, and light it.",
            cautions=LAMP_CAUTIONS,
        )


def outline(head: Head, *, middle: float, sill: float, width: float, height: float, rise: float) -> Path:
    """Return the closed outline in host coordinates, counter-clockwise from the lower left corner, imagined mm."""
    springing = sill + height - rise
    left, right = middle - width / 2, middle + width / 2
    if springing < sill + TOUCH:
        springing = sill
    over = curves.transform_path(head_path(head, width, rise), _shift(middle, springing))
    below = [curves.line((left, sill), (right, sill))]
    if springing > sill:
        below.append(curves.line((right, sill), (right, springing)))
        return (*below, *over, curves.line((left, springing), (left, sill)))
    return (*below, *over)


def _room_along(
    table: OpeningTable, hall: Hall, path: KeyPath, *, extent: float, middle: float, width: float
) -> list[Problem]:
    if width > extent + TOUCH:
        found = f"{table.width:g} m is wider than the {table.wall} wall"
        return [_problem((*path, "width"), found, f"at most {hall.metres(extent):.4g} m", "give a smaller width")]
    start = hall.front if table.wall != "back" else 0.0
    low, high = hall.metres(start + width / 2), hall.metres(extent - width / 2)
    if middle - width / 2 < start - TOUCH or middle + width / 2 > extent + TOUCH:
        found = f"at {table.at:g} m the hole of {table.width:g} m runs past the end of the {table.wall} wall"
        remedy = "move it, or make it narrower; at is its middle"
        return [_problem((*path, "at"), found, f"between {low:.4g} and {high:.4g} m", remedy)]
    return []


def _room_above(table: OpeningTable, hall: Hall, path: KeyPath, extent: float, top: float) -> list[Problem]:
    if top <= extent + TOUCH:
        return []
    found = f"the head reaches {hall.metres(top):.4g} m, through the ceiling at {hall.metres(extent):.4g} m"
    room = hall.metres(extent) - table.sill
    if room <= 0:
        return [_problem((*path, "sill"), found, f"below {hall.metres(extent):.4g} m", "lower the sill")]
    remedy = "make it lower, or lower the sill"
    return [_problem((*path, "height"), found, f"at most {room:.4g} m above this sill", remedy)]


def _agreement(table: OpeningTable, path: KeyPath) -> list[Problem]:
    """Return what does not go together: lengths lead somewhere, reveals are seen where nothing else is."""
    leads = table.beyond in LEADS
    if leads and table.length is None:
        found = f"a {table.beyond} without a length"
        return [_problem((*path, "beyond"), found, "a length", "add length = 1.0 (m)")]
    if table.length is not None and not leads:
        found = f"a length, but nothing of it lies behind the opening: beyond is {table.beyond!r}"
        return [_problem((*path, "length"), found, 'beyond = "passage" or "niche"', "or take the length out")]
    if table.reveal is not None and leads:
        found = f"a {table.beyond} shows its own walls, and no reveal"
        return [_problem((*path, "reveal"), found, "no reveal", "take it out, or leave the opening bare")]
    if (table.head == "flat" or not leads) and table.barrel_as is not None:
        found = "a barrel's make, but no passage or niche with a curved head behind the opening"
        return [_problem((*path, "barrel_as"), found, "a passage or niche with a curved head", "take it out")]
    if (table.head == "flat" or not (leads or table.reveal)) and table.barrel_material is not None:
        found = "a barrel's material, but nothing is bent over this opening"
        allowed = "a curved head with a passage, a niche or a reveal behind it"
        return [_problem((*path, "barrel_material"), found, allowed, "take it out")]
    filled = [key for key in ("tracery", "door") if getattr(table, key) is not None]
    if filled and leads:
        found = f"a {filled[0]} stands where the {table.beyond} begins"
        return [_problem((*path, filled[0]), found, 'beyond = "bare" or "light"', f"take the {filled[0]} out")]
    if len(filled) == 2:
        return [_problem((*path, "door"), "tracery and a door both fill the hole", "one of them", "take one out")]
    return []


def _problem(path: KeyPath, found: str, allowed: str, remedy: str) -> Problem:
    return Problem(path=path, found=found, allowed=allowed, remedy=remedy)


def _shift(u: float, v: float) -> curves.Array:
    return np.array([[1.0, 0.0, u], [0.0, 1.0, v], [0.0, 0.0, 1.0]])
