"""A plank door: one flat piece with its planks, ledges and strap hinges drawn on it."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from pipeline.elements.fillings.hole import FillingTable, Hole, filling
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Family, Mark
from pipeline.geometry.clip import clip_lines
from pipeline.geometry.curves import Path, arc, line, reverse_path, transform_path
from pipeline.geometry.regions import Region, loop_of
from pipeline.units import PositiveMetres

Array = NDArray[np.float64]

STRAP_REACH = 0.75
"""Of the door's width: how far a strap hinge runs from the hinge side."""
STRAP_TAPER = 0.6
"""Width of a strap at its far end, over that at the hinge side."""


class DoorTable(FillingTable):
    """`door` of an opening."""

    planks: Annotated[int, Field(ge=1, le=100)] = Field(default=5, description="How many upright planks it has.")
    ledges: Annotated[int, Field(ge=0, le=20)] = Field(
        default=2, description="How many boards lie across and hold the planks."
    )
    ledge: PositiveMetres = Field(default=0.15, description="Height of a ledge, m.")
    hinges: bool = Field(default=True, description="Whether each ledge bears a strap hinge.")
    hinge_side: Literal["left", "right"] = Field(
        default="left", description="Side the hinges are on, as one sees the wall from the room."
    )


def hang(table: DoorTable, hole: Hole, hall: Hall) -> Imagined:
    """Return the door of an opening, sized by its hole, with guides for its boards and places for its hinges."""
    ledge = hall.millimetres(table.ledge)
    room = hole.springing - hole.sill if hole.springing - hole.sill > ledge else hole.height
    if table.ledges * ledge >= room:
        found = f"{table.ledges} ledges of {table.ledge:g} m are as high as the door's {hall.metres(room):.4g} m"
        allowed = f"ledges below {hall.metres(room) / table.ledges:.4g} m, or fewer of them"
        remedy = "change ledge or ledges"
        return Imagined(
            problems=(Problem(path=(*hole.path, "door", "ledge"), found=found, allowed=allowed, remedy=remedy),)
        )
    levels = [hole.sill + (k + 0.5) / table.ledges * room for k in range(table.ledges)]
    face = filling(
        hole,
        "door",
        table,
        hall,
        lines=(_planks(table.planks, hole, levels, ledge), *_ledges(hole, levels, ledge)),
    )
    straps = [_strap(hole, level, ledge / 2, _leftward(table, hole)) for level in levels] if table.hinges else []
    marks = tuple(Mark(host=face.id, name=f"hinge {n}", curve=strap) for n, strap in enumerate(straps, start=1))
    return Imagined(faces=(face,), marks=marks)


def _leftward(table: DoorTable, hole: Hole) -> bool:
    """Return whether the hinges are on the side of small u; on the right wall u runs leftward as one sees it."""
    return (table.hinge_side == "left") != (hole.host == "right-wall")


def _planks(count: int, hole: Hole, levels: list[float], ledge: float) -> Family:
    """Return the joints between planks, parted where ledges lie over them."""
    step = hole.width / count
    low, top = hole.sill, hole.sill + hole.height
    stops = [low, *(edge for level in levels for edge in (level - ledge / 2, level + ledge / 2)), top]
    places = [(k, hole.middle - hole.width / 2 + k * step) for k in range(1, count)]
    spans = list(zip(stops[::2], stops[1::2], strict=True))
    lines = np.array([[[u, a], [u, b]] for _, u in places for a, b in spans]).reshape(-1, 2, 2)
    numbers = np.array([k for k, _ in places for _ in spans], dtype=np.int64)
    return _within(hole, lines, numbers, np.array([step, 0.0]))


def _ledges(hole: Hole, levels: list[float], ledge: float) -> list[Family]:
    """Return the lower and the upper edges of the ledges; they are few, and never thinned against one another."""
    half, out = hole.width / 2, []
    for level in levels:
        for v in (level - ledge / 2, level + ledge / 2):
            lines = np.array([[[hole.middle - half, v], [hole.middle + half, v]]])
            out.append(_within(hole, lines, np.zeros(1, dtype=np.int64), np.array([0.0, ledge])))
    return out


def _within(hole: Hole, lines: Array, numbers: NDArray[np.int64], step: Array) -> Family:
    kept, source = clip_lines(lines, Region(loop_of(hole.curve)))
    return Family(lines=kept, numbers=numbers[source], step=step)


def _strap(hole: Hole, level: float, width: float, leftward: bool) -> Path:
    """Return a strap hinge: it tapers to a round end that its sides touch.

    With the half widths a at the hinge and b where the straight sides end, over the length n, the sides lean by
    alpha, tan alpha = (a - b) / n; the arc that they touch has the radius b / cos alpha, its middle b tan alpha
    before their ends.
    """
    a, b = width / 2, width / 2 * STRAP_TAPER
    length = STRAP_REACH * hole.width - b
    lean = math.atan((a - b) / length)
    radius, middle = b / math.cos(lean), length - b * math.tan(lean)
    turn = math.pi / 2 - lean
    right = (
        line((0.0, a), (0.0, -a)),
        line((0.0, -a), (length, -b)),
        *arc((middle, 0.0), radius, -turn, turn),
        line((length, b), (0.0, a)),
    )
    start = hole.middle - hole.width / 2 if leftward else hole.middle + hole.width / 2
    shift = np.array([[1.0 if leftward else -1.0, 0.0, start], [0.0, 1.0, level], [0.0, 0.0, 1.0]])
    placed = transform_path(right, shift)
    return placed if leftward else reverse_path(placed)
