"""The hall: five surfaces and the front frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from pydantic import Field

from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.model import Imagined
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves
from pipeline.geometry.regions import Edge, Region, path_of
from pipeline.units import NonNegativeMillimetres, Table

SURFACES = ("floor", "ceiling", "left", "right", "back")

PART_OF = {"floor": "floor", "ceiling": "ceiling", "left": "left-wall", "right": "right-wall", "back": "back-wall"}
"""Part id of each surface's table."""


Pair = tuple[float, float]
Outside = tuple[Pair, Pair, Pair, Pair]


class SurfaceTable(Table):
    """One of `[floor] [ceiling] [left] [right] [back]`."""

    cover: str | None = Field(default=None, description="Name of a table of [covers]; nothing leaves the face plain.")
    material: str | None = Field(
        default=None, description="Name of a table of [materials]; may be left out where there is only one."
    )
    finish: NonNegativeMillimetres = Field(
        default=0.0, le=50, description="Thickness of what is laid on the sheet afterwards (putty, plaster), mm."
    )
    build: bool = Field(default=True, description="false leaves this surface out; its sheet then takes no room.")


class BackTable(SurfaceTable):
    """`[back]`."""

    extend: Literal["box"] | None = Field(
        default=None,
        description="box draws the sheet out to the box's sides, bottom and top, so that the wall stands by itself.",
    )


class FrameTable(Table):
    """`[front]`, the panel in the opening."""

    material: str | None = Field(
        default=None, description="Name of a table of [materials]; may be left out where there is only one."
    )
    finish: NonNegativeMillimetres = Field(
        default=0.0, le=50, description="Thickness of what is laid on the sheet afterwards, mm."
    )
    build: bool | None = Field(
        default=None,
        description="true or false decides; left out, the frame is built where the opening would show the bare box.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HallSheets:
    """What each built surface is made of, by part id, and the front frame's outside, built mm.

    ``frame_outside`` is its corners (x, z) on the opening plane from the lower left on, or nothing without a frame.
    """

    sheets: dict[str, SurfaceSheet]
    covers: dict[str, str | None]
    frame_outside: Outside | None


def imagine(hall: Hall, sheets: HallSheets) -> Imagined:
    """Return the hall's faces, in imagined mm, each edge labelled with its neighbour where that is built."""
    faces = [_surface(hall, sheets, name) for name in SURFACES if PART_OF[name] in sheets.sheets]
    if sheets.frame_outside is not None:
        faces.append(_frame(hall, sheets, sheets.frame_outside))
    return Imagined(faces=tuple(faces))


def _surface(hall: Hall, sheets: HallSheets, name: str) -> Face:
    part = PART_OF[name]
    width, height = hall.size(part)
    front = "front-frame" if sheets.frame_outside is not None else ""

    def beside(neighbour: str) -> str:
        return neighbour if neighbour in sheets.sheets else ""

    if name in ("left", "right"):
        low, high = (hall.front, hall.foot), (width, height)
        around = (beside("floor"), beside("back-wall"), beside("ceiling"), front)
    elif name == "back":
        low, high = (0.0, hall.foot), (width, height)
        around = (beside("floor"), beside("right-wall"), beside("ceiling"), beside("left-wall"))
    else:
        low, high = (0.0, hall.front), (width, height)
        around = (front, beside("right-wall"), beside("back-wall"), beside("left-wall"))
    inward, up = {
        "floor": ((0, 0, 1), (0, 1, 0)),
        "ceiling": ((0, 0, -1), (0, -1, 0)),
        "left": ((1, 0, 0), (0, 0, 1)),
        "right": ((-1, 0, 0), (0, 0, 1)),
        "back": ((0, -1, 0), (0, 0, 1)),
    }[name]
    corners = [low, (high[0], low[1]), high, (low[0], high[1])]
    outline = tuple(Edge(c, a) for c, a in zip(curves.polygon(corners), around, strict=True))
    if part in hall.tops:
        top = hall.tops[part]
        right = Edge(curves.line(outline[1].curve.start, top[0].curve.start), around[1])
        left = Edge(curves.line(top[-1].curve.end, outline[0].curve.start), around[3])
        outline = (outline[0], right, *top, left)
    return Face(
        id=part,
        imagined_from_host=hall.imagined_from_host(part),
        inward=np.array(inward, dtype=np.float64),
        up=np.array(up, dtype=np.float64),
        region=Region(outline),
        sheet=sheets.sheets[part],
        cover=sheets.covers.get(part),
        extent=hall.size(part),
        level=name in ("floor", "ceiling"),
        path=(name,),
    )


def _frame(hall: Hall, sheets: HallSheets, outside: Outside) -> Face:
    u0, v0 = -hall.width / 2, hall.floor
    rim = curves.polygon([(x - u0, z - v0) for x, z in outside])
    inner = curves.polygon([(0, 0), (0, hall.height), (hall.width, hall.height), (hall.width, 0)])
    if "front-frame" in hall.tops:
        over = curves.reverse_path(path_of(hall.tops["front-frame"]))
        corners = np.vstack([over[-1].end, (hall.width, 0.0), (0.0, 0.0)])
        inner = (curves.line((0, 0), over[0].start), *over, *curves.polyline(corners))
    return Face(
        id="front-frame",
        imagined_from_host=hall.imagined_from_host("front-frame"),
        inward=np.array([0.0, -1.0, 0.0]),
        up=np.array([0.0, 0.0, 1.0]),
        region=Region(tuple(Edge(c) for c in rim), (tuple(Edge(c) for c in inner),)),
        sheet=sheets.sheets["front-frame"],
        cover=None,
        extent=hall.size("front-frame"),
        level=False,
        path=("front",),
    )
