"""Flights of steps: the floor behind them lies higher, or lower, than the floor before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field

from pipeline.elements.flights.body import body
from pipeline.elements.flights.cuts import cuts
from pipeline.elements.flights.faces import PAST, Making, faces
from pipeline.elements.flights.plan import Plan, Side
from pipeline.elements.hall_shape import ROUNDING, Ground, Hall
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.units import Metres, Name, NonNegativeMetres, PositiveMetres, Table, part_id

MOST_STEPS = 99
LEAST_BEHIND_APRON = 1.0
"""mm from the apron's end to the first riser: the front floor folds there, and needs something to fold."""


class StepsTable(Table):
    """One of `[[steps]]`."""

    name: Name = Field(description="What you call the flight; its parts and the floor behind it are named after it.")
    at: NonNegativeMetres = Field(description="m from the opening to where the flight begins, behind the apron.")
    count: Annotated[int, Field(ge=1, le=MOST_STEPS)] = Field(
        description="Number of risers. There is one tread fewer: the floor behind begins at the top of the last riser."
    )
    rise: Metres = Field(description="Height of one riser, m; below zero the flight leads down.")
    going: PositiveMetres = Field(default=0.3, description="Depth of one tread, m.")
    side: Side = Field(
        default="across",
        description="across: from wall to wall. left, right: against that wall, the lower floor going on beside it.",
    )
    width: PositiveMetres | None = Field(
        default=None, description="Width of a flight against one wall, m; across the hall there is nothing to give."
    )
    made: Literal["panels", "print"] = Field(
        default="panels",
        description="panels: treads and risers are cut from sheet. print: the treads are one print.",
    )
    material: str | None = Field(
        default=None, description="Name of a table of [materials]; left out, the floor's sheet and finish."
    )
    cover: str | None = Field(
        default=None,
        description="Name of a table of [covers] for what stands upright; treads and floor have the floor's.",
    )


def lay_out(tables: Sequence[StepsTable], hall: Hall) -> Hall:
    """Return the hall with the floors that flights of steps part it into."""
    grounds = [Ground(part="floor", level=0.0, origin=0.0, near=0.0, far=hall.depth)]
    for table in sorted(tables, key=lambda table: table.at):
        near = hall.millimetres(table.at)
        far = near + (table.count - 1) * hall.millimetres(table.going)
        last = grounds[-1]
        grounds[-1] = replace(last, far=near)
        # Going down beside a wall or as a print, the lower floor begins under the head; else where the flight ends.
        under_head = table.rise < 0 and (table.side != "across" or table.made == "print")
        ground = Ground(
            part=_floor_part(table),
            level=last.level + table.count * hall.millimetres(table.rise),
            origin=near if under_head else far,
            near=far,
            far=hall.depth,
        )
        grounds.append(ground)
    return replace(hall, grounds=tuple(grounds) if tables else ())


def imagine(table: StepsTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the flight, the floor behind it and what both cut away, or the problems against them."""
    problems = _problems(table, hall, path)
    if problems:
        return Imagined(problems=tuple(problems))
    number = _number(table, hall)
    before, behind = hall.grounds[number - 1], hall.grounds[number]
    plan = _plan(table, hall, before, behind)
    first, last = number == 1, number == len(hall.grounds) - 1
    # Flights share a wall in the middle of the floor between them, clear of the corners at either.
    begin = hall.front - PAST if first else (before.near + before.far) / 2
    end = hall.depth + PAST if last else (behind.near + behind.far) / 2
    sheet = hall.surfaces.get("floor") if table.material is None else None
    sheet = hall.sheet(table.material) if sheet is None else sheet
    making = Making(hall=hall, sheet=sheet, level=hall.covers.get("floor"), upright=table.cover, path=path)
    printed = body(plan, hall, path) if plan.printed else None
    return Imagined(
        faces=tuple(faces(plan, making)),
        blocks=() if printed is None else (printed,),
        cuts=tuple(cuts(plan, hall, path, (begin, end))),
        facts=(_fact(table, hall, behind),),
    )


def _floor_part(table: StepsTable) -> str:
    return f"floor-behind-{part_id(table.name)}"


def _number(table: StepsTable, hall: Hall) -> int:
    """Return which of the floors lies behind a flight; the file has no two flights of one name."""
    return [ground.part for ground in hall.grounds].index(_floor_part(table))


def _plan(table: StepsTable, hall: Hall, before: Ground, behind: Ground) -> Plan:
    width = hall.width if table.width is None else hall.millimetres(table.width)
    return Plan(
        id=part_id(table.name),
        side=table.side,
        left=hall.width - width if table.side == "right" else 0.0,
        right=width if table.side == "left" else hall.width,
        hall_width=hall.width,
        near=before.far,
        far=behind.near,
        count=table.count,
        rise=abs(hall.millimetres(table.rise)),
        going=hall.millimetres(table.going),
        rises=table.rise > 0,
        printed=table.made == "print",
        before=before,
        behind=behind,
    )


def _fact(table: StepsTable, hall: Hall, behind: Ground) -> Fact:
    level = hall.metres(behind.level)
    words = "higher" if level > 0 else "lower"
    text = f"the floor behind lies {abs(level):.4g} m {words} than the front one; sills are measured from the front one"
    return Fact(subject=part_id(table.name), text=text)


def _problems(table: StepsTable, hall: Hall, path: KeyPath) -> list[Problem]:
    problems = _shape_problems(table, hall, path)
    if abs(table.rise) * 1e6 < 1:
        found, allowed, remedy = "a rise of nothing", "above zero, or below it to lead down", "give rise, m of one step"
        return [Problem(path=(*path, "rise"), found=found, allowed=allowed, remedy=remedy)]
    number = _number(table, hall)
    before, behind = hall.grounds[number - 1], hall.grounds[number]
    near, far = before.far, behind.near
    if near < hall.apron + LEAST_BEHIND_APRON and hall.apron > 0:
        least = hall.metres(hall.apron + LEAST_BEHIND_APRON)
        found = f"the flight begins on the apron, which ends {hall.metres(hall.apron):.4g} m behind the opening"
        allowed, remedy = f"{least:.4g} m or more", "move it in, or make space.apron shorter"
        problems.append(Problem(path=(*path, "at"), found=found, allowed=allowed, remedy=remedy))
    if near <= max(before.near, hall.front) + ROUNDING:
        start = hall.metres(max(before.near, hall.front))
        found = f"at {table.at:g} m the flight leaves no floor before it, which begins at {start:.4g} m"
        allowed, remedy = f"more than {start:.4g} m", "move the flight in"
        problems.append(Problem(path=(*path, "at"), found=found, allowed=allowed, remedy=remedy))
    if far >= behind.far - ROUNDING:
        end, limit = hall.metres(far), hall.metres(hall.depth)
        found = f"the flight ends at {end:.4g} m, the hall at {limit:.4g} m"
        allowed = f"a floor behind the last riser: less than {limit - (end - table.at):.4g} m"
        if far < hall.depth - ROUNDING:
            return problems  # the next flight says that it begins too early
        remedy = "move the flight nearer, or make it shorter"
        problems.append(Problem(path=(*path, "at"), found=found, allowed=allowed, remedy=remedy))
    top = hall.below_vault.height
    if behind.level >= top - ROUNDING:
        level, what = hall.metres(behind.level), "ceiling" if hall.springing is None else "vault's springing"
        found = f"the floor behind would lie {level:.4g} m up, the {what} is at {hall.metres(top):.4g} m"
        room = hall.metres(top - before.level) / table.count
        allowed, remedy = f"less than {room:.4g} m", "make rise lower, or count smaller"
        problems.append(Problem(path=(*path, "rise"), found=found, allowed=allowed, remedy=remedy))
    return problems


def _shape_problems(table: StepsTable, hall: Hall, path: KeyPath) -> list[Problem]:
    problems = []
    width = hall.metres(hall.width)
    if table.side == "across" and table.width is not None:
        found, remedy = "a flight across the hall is as wide as the hall", 'take width out, or say side = "left"'
        problems.append(Problem(path=(*path, "width"), found=found, allowed="no width", remedy=remedy))
    if table.side != "across" and (table.width is None or table.width >= width - hall.metres(ROUNDING)):
        found = "missing" if table.width is None else f"{table.width:g} m leaves nothing of the floor beside the flight"
        allowed, remedy = f"less than the hall's {width:.4g} m", 'give width, or say side = "across"'
        problems.append(Problem(path=(*path, "width"), found=found, allowed=allowed, remedy=remedy))
    if table.made == "print" and table.count == 1:
        found = "a flight of one riser has no treads to print"
        allowed, remedy = '"panels", or a count of 2 or more', "change made or count"
        problems.append(Problem(path=(*path, "made"), found=found, allowed=allowed, remedy=remedy))
    return problems
