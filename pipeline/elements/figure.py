"""Figures: people who stand on the hall's floors. They are bought or modelled; here they have a place and a size.

Terms
-----
stance
    The upright figure seen from above: an ellipse as wide as its shoulders and as deep as its feet are long.

Its measures are shares of the stature: shoulders 0.259, foot 0.152 (R. Drillis and R. Contini, *Body Segment
Parameters*, 1966).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from pipeline.elements.figure_mesh import figure_block
from pipeline.elements.hall_shape import ROUNDING, Ground, Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Mark
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.units import Metres, Name, PositiveMetres, Table, Words, part_id

SHOULDERS = 0.259
FOOT = 0.152
NOSE = (0.25, 0.95)
"""Where the arrowhead in a stance begins and ends, of half a foot; it is as wide to either side as it begins."""


class FigureTable(Table):
    """One of `[[figures]]`."""

    name: Name = Field(description="What you call it; it is marked on the floor by that name.")
    height: PositiveMetres = Field(description="How tall it is, m, from the floor to the crown.")
    at: Annotated[tuple[Metres, Metres], Field(strict=False)] = Field(
        description="[x, y], m: x from the hall's middle (right positive), y from the opening; its feet."
    )
    facing: Annotated[float, Field(ge=-360, le=360)] = Field(
        default=0.0,
        description="Which way it looks, degrees, seen from above: 0 at the viewer, 90 to the right, 180 to the back.",
    )
    mesh: Annotated[Words, Field(min_length=1, max_length=200)] | None = Field(
        default=None,
        description="STL, OBJ, PLY or GLB file of somebody without a base, one closed surface that looks at the viewer"
        " where y of the file runs into the box; it is printed as tall as height says. Left out, the figure is bought"
        " or modelled.",
    )
    up: Literal["y", "z"] | None = Field(
        default=None, description="Which axis of the mesh's file points up; default z, and y in GLB files."
    )
    turn: Annotated[float, Field(ge=-360, le=360)] | None = Field(
        default=None,
        description="Degrees its mesh is turned first, anticlockwise from above, so that it looks at the viewer;"
        " default 0.",
    )
    flatten: bool | None = Field(
        default=None,
        description="Whether its mesh is printed as shallow as the relief asks, which is true from the eye point and"
        " in every shadow (the default), or, false, as deep as a stock figure of its scale.",
    )


def imagine(table: FigureTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the mark of where a figure stands, or what is wrong with its place."""
    problem = _place_problem(table, hall, path)
    ground = standing_ground(table, hall)
    if problem is not None or ground is None:
        return Imagined(problems=() if problem is None else (problem,))
    to_host = np.array([[1.0, 0.0, hall.width / 2], [0.0, 1.0, -ground.origin], [0.0, 0.0, 1.0]])
    foot = curves.transform_path(stance(table, hall), to_host)
    name, nose = part_id(table.name), curves.transform_path(_nose(table, hall), to_host)
    stands = Mark(host=ground.part, name=name, curve=foot, loose=True, label=table.name)
    looks = Mark(host=ground.part, name=name, curve=nose, loose=True)
    problem = _mesh_problem(table, path)
    if problem is not None:
        return Imagined(problems=(problem,))
    body = Imagined() if table.mesh is None else figure_block(table, table.mesh, hall.over(ground), path)
    return replace(body, marks=(stands, looks))


def _mesh_problem(table: FigureTable, path: KeyPath) -> Problem | None:
    for key in ("up", "turn", "flatten"):
        if table.mesh is None and getattr(table, key) is not None:
            return Problem(
                path=(*path, key),
                found=f"{key} of {table.name!r}, which has no mesh",
                allowed="mesh beside it",
                remedy=f"name its file with mesh, or take {key} out: how to pose and thin a bought figure is in the "
                "report",
            )
    return None


def stance(table: FigureTable, hall: Hall) -> Path:
    """Return the figure's stance: an exact ellipse in imagined (x, y), mm, counter-clockwise."""
    x, y = (hall.millimetres(value) for value in table.at)
    across, along = (hall.millimetres(table.height * share / 2) for share in (SHOULDERS, FOOT))
    turn = math.radians(table.facing)
    cos, sin = math.cos(turn), math.sin(turn)
    place = np.array([[across * cos, -along * sin, x], [across * sin, along * cos, y], [0.0, 0.0, 1.0]])
    return curves.transform_path(curves.arc((0.0, 0.0), 1.0, 0.0, 2 * np.pi), place)


def _nose(table: FigureTable, hall: Hall) -> Path:
    """Return the arrowhead within a figure's stance that points where it looks, imagined (x, y), mm."""
    tall, turn = hall.millimetres(table.height), math.radians(table.facing)
    x, y = (hall.millimetres(value) for value in table.at)
    ahead, across = np.array([math.sin(turn), -math.cos(turn)]), np.array([math.cos(turn), math.sin(turn)])
    base, tip = NOSE[0] * FOOT * tall / 2, NOSE[1] * FOOT * tall / 2
    wide = base * across
    corners = np.array([x, y]) + np.array([base * ahead - wide, tip * ahead, base * ahead + wide])
    return curves.polygon([(float(u), float(v)) for u, v in corners])


def reach(table: FigureTable) -> tuple[float, float]:
    """Return how far the stance reaches from the feet's middle across and along the hall, m."""
    across, along, turn = table.height * SHOULDERS / 2, table.height * FOOT / 2, math.radians(table.facing)
    cos, sin = math.cos(turn), math.sin(turn)
    return math.hypot(across * cos, along * sin), math.hypot(across * sin, along * cos)


def standing_ground(table: FigureTable, hall: Hall) -> Ground | None:
    """Return the floor under all of a figure's stance, or nothing where steps are in the way."""
    along = reach(table)[1]
    return hall.ground(hall.millimetres(table.at[1] - along), hall.millimetres(table.at[1] + along))


def _place_problem(table: FigureTable, hall: Hall, path: KeyPath) -> Problem | None:
    (x, y), (across, along) = table.at, reach(table)
    half, front, slack = hall.metres(hall.width) / 2, hall.metres(hall.front), hall.metres(ROUNDING)
    if abs(x) + across > half + slack or y - along < front - slack or y + along > hall.metres(hall.depth) + slack:
        return Problem(
            path=(*path, "at"),
            found=f"{table.name!r} at [{x:g}, {y:g}] reaches out of the hall; it is {2 * across:.3g} m across the hall "
            f"and {2 * along:.3g} m along it",
            allowed=_room(table, hall),
            remedy="move it; openings and what is behind them hold no figures",
        )
    if standing_ground(table, hall) is None:
        return Problem(
            path=(*path, "at"),
            found=f"{table.name!r} stands on steps, beside them, or across an end of them",
            allowed=_room(table, hall),
            remedy="move it onto one floor",
        )
    if y - along < hall.metres(hall.apron) - slack and y + along > hall.metres(hall.apron) + slack:
        return Problem(
            path=(*path, "at"),
            found=f"{table.name!r} stands across the apron's end, {hall.metres(hall.apron):.4g} m behind the opening, "
            "where the floor folds",
            allowed=_room(table, hall),
            remedy="move it, or change space.apron",
        )
    return _height_problem(table, hall, path)


def _height_problem(table: FigureTable, hall: Hall, path: KeyPath) -> Problem | None:
    ground = standing_ground(table, hall)
    room = hall.metres(hall.height - (0.0 if ground is None else ground.level))
    if table.height <= room:
        return None
    what = "ceiling" if hall.springing is None else "vault's crown"
    return Problem(
        path=(*path, "height"),
        found=f"{table.name!r} is {table.height:g} m tall, the {what} is {room:.4g} m over the floor it stands on",
        allowed=f"at most {room:.4g} m",
        remedy="give a smaller height, or raise the room",
    )


def _room(table: FigureTable, hall: Hall) -> str:
    """Return where a figure of this size and turn can stand."""
    across, along = reach(table)
    half = hall.metres(hall.width) / 2 - across
    ends = []
    for ground in hall.grounds or (hall.ground(0.0, hall.depth),):
        if ground is None:
            continue
        near, far = hall.metres(max(ground.near, hall.front)), hall.metres(ground.far)
        fold = hall.metres(hall.apron)
        spans = [(near, fold), (fold, far)] if near < fold < far else [(near, far)]
        ends += [(a + along, b - along) for a, b in spans if b - a >= 2 * along]
    if half < 0 or not ends:
        return "a smaller figure: nowhere is there a floor for it"
    return f"x between {-half:.4g} and {half:.4g} m, y " + " or ".join(f"{a:.4g} to {b:.4g} m" for a, b in ends)
