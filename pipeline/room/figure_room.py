"""Whether figures have room: against one another, and for stock figures, which are deeper than the relief makes people.

Terms
-----
footprint
    A figure's stance on the built floor, its depth along the hall drawn out about its middle by a factor. At the share
    by which the relief squashes depth it is the imagined stance; at 1 it is that of a stock figure of just that scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.figure import FOOT, SHOULDERS, FigureTable
from pipeline.elements.hall_shape import Hall
from pipeline.elements.light import LightTable
from pipeline.elements.model import Imagined
from pipeline.relief.collineation import Relief
from pipeline.room.crowding import OVERLAP, clear, in_the_way, upright
from pipeline.room.figuring import Standing, stand

Array = NDArray[np.float64]

AROUND = 96
"""Points along a footprint."""
THINNINGS = 9
"""Halvings of the depth that is looked for; what is left is under a hundredth of a mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureRoom:
    """The room that a figure has.

    Attributes
    ----------
    standing
        The figure.
    shares
        The figure before it in the scene that it takes room of, and where it would not, in words; or nothing.
    carries
        A lamp that hangs in it, or nothing.
    depth
        How deep a figure of just its scale may be there, of the middle of its feet to both sides alike, built mm.
    against
        What a deeper one reaches into, or out of, in words; or nothing.
    """

    standing: Standing
    shares: tuple[str, str] | None
    carries: str
    depth: float
    against: str


def find_room(
    said: Imagined, figures: Sequence[FigureTable], lights: Sequence[LightTable], hall: Hall, relief: Relief
) -> tuple[FigureRoom, ...]:
    """Return the room of every figure, in the scene's order."""
    bodies: tuple[Solid | Block, ...] = (*said.solids, *said.blocks)
    stances = [upright(figure, hall) for figure in figures]
    out = []
    for number, figure in enumerate(figures):
        standing, (low, high, outline) = stand(figure, hall, relief), stances[number]
        shares = next((k for k in range(number) if _cross(stances[k], stances[number])), None)
        others = [(figures[k].name, stances[k]) for k in range(len(figures)) if k != number]
        depth, against = _depth(figure, standing, (bodies, others), hall, relief)
        held = shapely.Polygon(outline)
        spots = [(light.name, light.spot(hall)) for light in lights if light.kind == "lamp" and light.at is not None]
        inside = [name for name, spot in spots if low < spot[2] < high and held.contains(shapely.Point(spot[:2]))]
        words = "" if shares is None else clear(figure, _bounds(stances[shares][2]), hall)
        out.append(
            FigureRoom(
                standing=standing,
                shares=None if shares is None else (figures[shares].name, words),
                carries=inside[0] if inside else "",
                depth=depth,
                against=against,
            )
        )
    return tuple(out)


def _bounds(outline: Array) -> Array:
    out: Array = np.stack([outline.min(axis=0), outline.max(axis=0)])
    return out


def _cross(one: tuple[float, float, Array], other: tuple[float, float, Array]) -> bool:
    """Return whether two upright figures, each from and to which z and over which outline, take the same room."""
    apart = one[1] <= other[0] or other[1] <= one[0]
    return not apart and shapely.Polygon(one[2]).intersection(shapely.Polygon(other[2])).area > OVERLAP


def _depth(
    figure: FigureTable,
    standing: Standing,
    near: tuple[Sequence[Solid | Block], Sequence[tuple[str, tuple[float, float, Array]]]],
    hall: Hall,
    relief: Relief,
) -> tuple[float, str]:
    """Return how deep a figure of just its scale may be, mm, and what a deeper one reaches into."""
    low, high, _ = upright(figure, hall)

    def meets(drawn: float) -> str:
        outline = _footprint(figure, standing, drawn, relief)
        return _met(outline, (low, high), figure, near, hall)

    against = "" if standing.printed else meets(1.0)  # prints are held against all parts
    if not against:
        return standing.stock_depth, ""
    good, bad = min(standing.squashed, 1.0), 1.0
    for _ in range(THINNINGS):
        middle = (good + bad) / 2
        said = meets(middle)
        good, bad, against = (good, middle, said) if said else (middle, bad, against)
    return good * standing.stock_depth, against


def _footprint(figure: FigureTable, standing: Standing, drawn: float, relief: Relief) -> Array:
    """Return a built footprint as it lies in the imagined room, ``(n, 2)`` imagined mm."""
    turn, t = math.radians(figure.facing), np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    across, along = standing.height * SHOULDERS / 2 * np.cos(t), standing.height * FOOT / 2 * np.sin(t)
    x = across * math.cos(turn) - along * math.sin(turn)
    y = drawn * (across * math.sin(turn) + along * math.cos(turn))
    rise = math.tan(math.radians(standing.slope_deg))
    built = np.array(standing.feet) + np.column_stack([x, y, y * rise])
    out: Array = relief.carry_back(built)[:, :2]
    return out


def _met(
    outline: Array,
    heights: tuple[float, float],
    figure: FigureTable,
    near: tuple[Sequence[Solid | Block], Sequence[tuple[str, tuple[float, float, Array]]]],
    hall: Hall,
) -> str:
    """Return what a footprint reaches into, or out of, in words; or nothing."""
    bodies, others = near
    (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
    ground = hall.ground(hall.millimetres(figure.at[1]), hall.millimetres(figure.at[1]))
    least, most = (hall.front, hall.depth) if ground is None else (max(ground.near, hall.front), ground.far)
    if y0 < least - OVERLAP:
        return "out of the opening" if least == hall.front else "onto the steps before it"
    if y1 > most + OVERLAP:
        return "into back-wall" if most >= hall.depth else "into the steps behind it"
    if max(-x0, x1) > hall.width / 2 + OVERLAP:
        return "into left-wall" if -x0 > x1 else "into right-wall"
    for body in bodies:
        if in_the_way(outline, heights, body) is not None:
            return f"into {body.id}"
    return next((f"into {name!r}" for name, other in others if _cross((*heights, outline), other)), "")
