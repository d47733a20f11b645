"""Tracery: a window's lights, mullions, roundel and glazing bars as one flat piece."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from pipeline.elements.fillings.hole import FillingTable, Hole, filling
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem
from pipeline.geometry.curves import Path, transform_path
from pipeline.geometry.tracing import CONVEX, TracingError, Window, trace
from pipeline.units import NonNegativeMetres, PositiveMetres

Number = Annotated[int, Field(ge=0, le=40)]


class TraceryTable(FillingTable):
    """`tracery` of an opening."""

    lights: Annotated[int, Field(ge=1, le=3)] = Field(
        default=2, description="How many upright parts the window has: 1, 2 or 3."
    )
    mullion: PositiveMetres = Field(
        default=0.12, description="Width of what stands between the lights, and between them and a roundel, m."
    )
    frame: NonNegativeMetres = Field(
        default=0.06, description="Width left all round inside the hole, m; 0 lets the lights reach its edge."
    )
    roundel: Literal["none", "round", "quatrefoil"] = Field(
        default="none", description="What is fitted into the head above the lights: a circle, or four lobes in one."
    )
    bars: Annotated[tuple[Number, Number], Field(strict=False)] = Field(
        default=(0, 0), description="Glazing bars in each light: how many lie across, how many stand up."
    )
    bar: PositiveMetres = Field(default=0.04, description="Width of a glazing bar, m.")


def glaze(table: TraceryTable, hole: Hole, hall: Hall) -> Imagined:
    """Return the tracery of an opening, sized by its hole, or what there is no room for."""
    path = (*hole.path, "tracery")
    if hole.head not in CONVEX:
        found = f"there is no tracery for an {hole.head} head"
        allowed, remedy = f"one of {', '.join(CONVEX)}", "take another head, or take tracery out"
        return Imagined(problems=(Problem(path=path, found=found, allowed=allowed, remedy=remedy),))
    window = Window(
        head=hole.head,
        width=hole.width,
        rise=hole.rise,
        jamb=hole.height - hole.rise,
        lights=table.lights,
        mullion=hall.millimetres(table.mullion),
        frame=hall.millimetres(table.frame),
        roundel=table.roundel,
        bars=table.bars,
        bar=hall.millimetres(table.bar),
    )
    try:
        panes = trace(window)
    except TracingError as error:
        size = f"{hall.metres(hole.width):.4g} m wide and {hall.metres(hole.height):.4g} m high"
        problem = Problem(
            path=path,
            found=f"a hole {size} has no room for {error}",
            allowed="narrower frame, mullions and bars, or fewer of them",
            remedy="change frame, mullion, bar or lights of it, or make the opening larger",
        )
        return Imagined(problems=(problem,))
    face = filling(
        hole,
        "tracery",
        table,
        hall,
        panes=tuple(_placed(pane, hole) for pane in panes),
    )
    return Imagined(faces=(face,))


def _placed(pane: Path, hole: Hole) -> Path:
    shift = np.array([[1.0, 0.0, hole.middle], [0.0, 1.0, hole.springing], [0.0, 0.0, 1.0]])
    return transform_path(pane, shift)
