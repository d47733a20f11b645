"""What the page and the manifest say of the figures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from pipeline.checks.evidence import Evidence
from pipeline.report.rounded import rounded, rounded_all
from pipeline.room.figuring import STOCK_SCALES, Standing, stand

LEVEL = 0.05
"""Degrees; a floor this near to level needs no wedge."""
ON_HORIZON = 0.02
"""m; eyes this near to the horizon lie on it."""
FLAT = 1.05
"""Times too deep that nobody sees."""
BASE = 10.0
"""mm of base that a wedge is told for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureRow:
    """A figure in words.

    Attributes
    ----------
    name, stature, height, scale, nearest
        Its name, imagined height, built height, own scale, and what the nearest stock scale reads as.
    stock
        For each stock scale how tall such a figure is and what it reads as.
    advice
        What about, and how to place and pose it.
    """

    name: str
    stature: str
    height: str
    scale: str
    nearest: str
    stock: tuple[tuple[str, str], ...]
    advice: tuple[tuple[str, str], ...]


def standings(evidence: Evidence) -> tuple[Standing, ...]:
    """Return what every figure of the scene becomes, in its order."""
    room = evidence.room
    return tuple(stand(figure, room.hall, room.relief) for figure in evidence.scene.figures)


def figure_entries(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the manifest's list of figures; feet and height built, mm."""
    return [
        {
            "name": one.name,
            "feet": rounded_all(one.feet),
            "height": rounded(one.height),
            "scale": rounded(one.scale),
            "slope_deg": rounded(one.slope_deg),
        }
        for one in standings(evidence)
    ]


def figure_rows(evidence: Evidence) -> tuple[FigureRow, ...]:
    """Return the figures as the page tells them."""
    return tuple(_row(one) for one in standings(evidence))


def _row(one: Standing) -> FigureRow:
    return FigureRow(
        name=one.name,
        stature=f"{one.stature:.2f} m",
        height=f"{one.height:.1f} mm",
        scale=f"1:{one.scale:.1f}",
        nearest=_nearest(one),
        stock=tuple(
            (f"{1000 * one.stature / stock:.1f} mm", f"reads as {one.reads_as(stock):.2f} m") for stock in STOCK_SCALES
        ),
        advice=(("Feet", _feet(one)), ("Upright", _upright(one)), ("Eyes", _eyes(one)), ("Pose", _pose(one))),
    )


def _nearest(one: Standing) -> str:
    if one.printed:
        return "its mesh is printed"
    return f"1:{one.nearest}, reads as {one.reads_as(one.nearest):.2f} m"


def _feet(one: Standing) -> str:
    x, y, z = one.feet
    side = "on the middle line" if abs(x) < LEVEL else f"{abs(x):.1f} mm {'right' if x > 0 else 'left'} of the middle"
    return f"{side}, {y:.1f} mm behind the opening, {z:.1f} mm above the box's bottom; marked on the floor."


def _upright(one: Standing) -> str:
    if one.printed:
        return "Its print ends along the floor as that slopes: glue it on its mark."
    if abs(one.slope_deg) < LEVEL:
        return "The floor is level there: no wedge is needed."
    way, end = ("rises", "front") if one.slope_deg > 0 else ("falls", "back")
    each = BASE * math.tan(math.radians(abs(one.slope_deg)))
    return (
        f"The floor {way} {abs(one.slope_deg):.1f}\N{DEGREE SIGN} toward the back. Under soles {_sole(one):.1f} mm "
        f"long put a wedge {one.wedge:.2f} mm high at the {end} ({each:.2f} mm for every {BASE:g} mm of a base), or "
        f"pin it, its hole plumb, {abs(one.slope_deg):.1f}\N{DEGREE SIGN} off square to the sheet."
    )


def _sole(one: Standing) -> float:
    return one.wedge / math.tan(math.radians(abs(one.slope_deg)))


def _eyes(one: Standing) -> str:
    horizon = (
        f"the horizon passes {one.horizon:.1f} mm above its feet"
        if one.horizon >= 0
        else f"the horizon passes {-one.horizon:.1f} mm below its feet"
    )
    off = one.over_horizon
    where = "on it" if abs(off) < ON_HORIZON else f"{abs(off):.2f} m {'above' if off > 0 else 'below'} it"
    return f"{one.eyes:.1f} mm above its feet; {horizon}, so its eyes seem to lie {where}."


def _pose(one: Standing) -> str:
    deep = 1 / one.squashed
    if one.printed == "flat":
        return (
            f"Its print is flattened to {100 * one.squashed:.0f} % of height, a person's depth of {one.depth:.1f} mm "
            f"along the hall where a stock figure has {one.stock_depth:.1f} mm: so the relief asks, and it is true "
            "from the eye point and in every shadow. flatten = false leaves it as deep as a stock figure."
        )
    if one.printed:
        return (
            f"Its print is as deep as a stock figure, {one.stock_depth:.1f} mm along the hall where the room wants "
            f"{one.depth:.1f} mm: rounder from aside, but it covers too much floor and its shadows are too broad. "
            "Without flatten = false it is flattened as the relief asks."
        )
    if deep < FLAT:
        return "Depth is hardly squashed there: any pose will do."
    return (
        f"Depth is squashed to {100 * one.squashed:.0f} % of height there, so a stock figure is {deep:.1f} times too "
        f"deep: {one.stock_depth:.1f} mm where the room wants {one.depth:.1f} mm. From the eye point it looks right "
        "turned as it should look, but it covers too much floor, and stands out for two eyes or a moved one. So take a "
        "flat pose, feet side by side, limbs across the hall and none toward the viewer or away; set the middle of its "
        f"feet on the mark; leave {one.stock_depth / 2:.1f} mm free before and behind it, or thin its back. If you "
        'have a mesh of it, name its file under this [[figures]], as mesh = "person.stl": it is then printed '
        f"{one.height:.1f} mm tall, flattened to {100 * one.squashed:.0f} % as it must be (flatten)."
    )
