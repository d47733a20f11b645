"""What lies behind an opening: the walls, floor and ceiling of a passage, a niche or a reveal.

Terms
-----
lining
    The faces that run outward from the straight edges of a hole, square to its wall.
springing plane
    Level with where a curved head begins: what is bent over the head stands on it, and jambs are cut along it.
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
from pipeline.geometry.regions import Edge, Region
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


def line_hole(
    cut: Cut, hall: Hall, depth: float, dress: Dress, *, closed: bool, over: tuple[str, str] = ("", "")
) -> dict[str, Face]:
    """Return the lining of a hole, by side; ``closed`` adds the end.

    Under a curved head the ceiling is its springing plane, which is not made. A head that springs from the sill leaves
    no jambs: they are then planes as well, of the hole's own height.

    Parameters
    ----------
    cut
        The hole.
    depth
        How far the lining runs outward from the wall's visible face, imagined mm.
    over
        Part ids of what is bent over the head, right and left.
    """
    (left, sill), (right, crown) = curves.bounds(cut.curve)
    top = cut.springing if cut.springing > sill else crown
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
    for side, level in (("floor", sill), ("ceiling", cut.springing)):
        axes = (along, out, origin + left * along + level * up)
        around = (cut.host, ids["right"], end, ids["left"])
        faces[side] = face(side, axes, np.zeros(2), np.array([wide, deep]), around)
    for side, at in (("right", right), ("left", left)):
        above = over[0 if side == "right" else 1] or ids["ceiling"]
        around = (ids["floor"], end, above, cut.host)
        low, high = np.array([0.0, sill]), np.array([deep, top])
        faces[side] = face(side, (out, up, origin + at * along), low, high, around)
    if closed:
        faces["end"] = close_end(cut, hall, depth, dress, over)
    return faces


def sides_of(cut: Cut, over: tuple[str, str]) -> tuple[str, ...]:
    """Return what lies behind each curve of a hole's path; ``over`` are the parts over its head, right and left."""
    ids = names(cut)
    if not cut.head:
        return tuple(ids[side] for side in SIDES)
    (left, right), out = curves.bounds(cut.curve)[:, 0], [ids["floor"]]
    for curve in cut.curve[1:]:
        middle = float(curves.evaluate(curve, 0.5)[0, 0]) - (left + right) / 2
        side = ids["right" if middle > 0 else "left"]
        out.append(side if curve.straight else over[0 if middle > 0 else 1])
    return tuple(out)


def close_end(cut: Cut, hall: Hall, depth: float, dress: Dress, over: tuple[str, str] = ("", "")) -> Face:
    """Return the end of a lining: the hole's own outline, ``depth`` imagined mm behind the wall's visible face."""
    ids, out = names(cut), np.array(OUTWARD[cut.host])
    matrix = hall.imagined_from_host(cut.host)
    matrix[:3, 2] += depth * out
    loop = tuple(Edge(c, against) for c, against in zip(cut.curve, sides_of(cut, over), strict=True))
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
