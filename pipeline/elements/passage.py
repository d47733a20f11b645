"""What lies behind an opening: the walls, floor and ceiling of a passage, a niche or a reveal.

Terms
-----
lining
    The faces that run outward from the edges of a rectangular hole, square to its wall.
far wall, near wall
    Of a hole in a side wall: the side farther from the opening of the box, and the nearer one, which looks away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves
from pipeline.geometry.regions import Edge, Region, loop_of
from pipeline.units import part_id

Array = NDArray[np.float64]

SIDES = ("floor", "right", "ceiling", "left")
"""The sides of a hole in the order of its path: counter-clockwise from the lower left corner."""

OUTWARD = {"left-wall": (-1.0, 0.0, 0.0), "right-wall": (1.0, 0.0, 0.0), "back-wall": (0.0, 1.0, 0.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Dress:
    """What a lining is made of, and what it is covered with.

    Its floor is of the sheet of the floor it goes on from, whose cut edge it then meets; else of the walls'.
    """

    sheet: SurfaceSheet
    floor_sheet: SurfaceSheet
    walls: str | None
    floor: str | None


def names(cut: Cut) -> dict[str, str]:
    """Return the part id of each side of a lining, and of its end."""
    side = {"right": "far-wall", "left": "near-wall"}
    if cut.host == "back-wall":
        side = {"right": "right-wall", "left": "left-wall"}
    words = {"floor": "floor", "ceiling": "ceiling", "end": "end", **side}
    if cut.beyond not in ("passage", "niche"):
        jamb = {key: word.replace("wall", "jamb") for key, word in side.items()}
        words = {"floor": "sill", "ceiling": "soffit", "end": "end", **jamb}
    return {key: f"{part_id(cut.name)}-{word}" for key, word in words.items()}


def line_hole(cut: Cut, hall: Hall, depth: float, dress: Dress, *, closed: bool) -> dict[str, Face]:
    """Return the lining of a rectangular hole, by side; ``closed`` adds the end.

    Parameters
    ----------
    cut
        The hole; its path is a rectangle.
    depth
        How far the lining runs outward from the wall's visible face, imagined mm.
    """
    (left, sill), (right, top) = curves.bounds(cut.curve)
    ids, host = names(cut), hall.imagined_from_host(cut.host)
    along, up, origin = host[:3, 0], np.array([0.0, 0.0, 1.0]), host[:3, 2]
    out = np.array(OUTWARD[cut.host])
    end = ids["end"] if closed else ""

    def face(side: str, axes: tuple[Array, Array, Array], low: Array, high: Array, around: tuple[str, ...]) -> Face:
        level = side in ("floor", "ceiling")
        inward = {"floor": up, "ceiling": -up, "right": -along, "left": along}[side]
        corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
        hint = {"floor": (0.0, 1.0, 0.0), "ceiling": (0.0, -1.0, 0.0)}.get(side, (0.0, 0.0, 1.0))
        return Face(
            id=ids[side],
            imagined_from_host=np.vstack([np.column_stack(axes), [0.0, 0.0, 1.0]]),
            inward=inward,
            up=np.array(hint),
            region=Region(tuple(Edge(c, a) for c, a in zip(curves.polygon(corners), around, strict=True))),
            sheet=dress.floor_sheet if side == "floor" else dress.sheet,
            cover=None if side == "ceiling" else dress.floor if level else dress.walls,
            extent=(float(high[0]), float(high[1])),
            level=level,
            path=cut.path,
        )

    wide, deep = right - left, depth
    faces = {}
    for side, level in (("floor", sill), ("ceiling", top)):
        axes = (along, out, origin + left * along + level * up)
        around = (cut.host, ids["right"], end, ids["left"])
        faces[side] = face(side, axes, np.zeros(2), np.array([wide, deep]), around)
    for side, at in (("right", right), ("left", left)):
        around = (ids["floor"], end, ids["ceiling"], cut.host)
        low, high = np.array([0.0, sill]), np.array([deep, top])
        faces[side] = face(side, (out, up, origin + at * along), low, high, around)
    if closed:
        faces["end"] = close_end(cut, hall, depth, dress)
    return faces


def close_end(cut: Cut, hall: Hall, depth: float, dress: Dress) -> Face:
    """Return the end of a lining: the hole's own outline, ``depth`` imagined mm behind the wall's visible face."""
    ids, out = names(cut), np.array(OUTWARD[cut.host])
    matrix = hall.imagined_from_host(cut.host)
    matrix[:3, 2] += depth * out
    straight = len(cut.curve) == len(SIDES) and all(curve.straight for curve in cut.curve)
    loop = tuple(Edge(c, ids[s]) for c, s in zip(cut.curve, SIDES, strict=True)) if straight else loop_of(cut.curve)
    return Face(
        id=ids["end"],
        imagined_from_host=matrix,
        inward=-out,
        up=np.array([0.0, 0.0, 1.0]),
        region=Region(loop),
        sheet=dress.sheet,
        cover=dress.walls,
        extent=hall.size(cut.host),
        level=False,
        path=cut.path,
    )
