"""Figures that stand in something: each stance, drawn up to the figure's height, against bodies and vault."""

from __future__ import annotations

from collections.abc import Sequence

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.figure import FigureTable, reach, stance, standing_ground
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined, Web
from pipeline.elements.problems import Problem
from pipeline.geometry import curves
from pipeline.geometry.booleans import body_of

Array = NDArray[np.float64]

FLATTENING = 0.005
"""mm; the shapes compared here are only looked at, never made."""
RULINGS = 24
"""Places along each piece of a web's border at which it is looked at."""
UNDER_VAULT = ((1.0, 0.82), (0.5, 1.0))
"""Shoulders and head: share of the stance, share of the stature (shoulders: Drillis and Contini, 1966)."""
ROUNDING = 1e-6
"""mm; a vault that comes so little below a crown touches it by rounding alone."""
OVERLAP = 1e-3
"""mm^2, or mm^3 of a body, that counts as touching."""


def find_crowded(said: Imagined, figures: Sequence[FigureTable], hall: Hall) -> list[Problem]:
    """Return the problems of figures that stand in columns, arches or other bodies, or reach through the vault."""
    bodies: tuple[Solid | Block, ...] = (*said.solids, *said.blocks)
    problems = []
    for index, figure in enumerate(figures):
        for body in bodies:
            low, high, outline = upright(figure, hall)
            own = body.path[:2] == ("figures", index)
            box = None if own else in_the_way(outline, (low, high), body)
            if box is not None:
                problems.append(
                    Problem(
                        path=("figures", index, "at"),
                        found=f"{figure.name!r} stands in {body.id!r}",
                        allowed=clear(figure, box, hall),
                        remedy="move it clear of that",
                    )
                )
                break
        else:
            problems += _under_vault(figure, index, said.webs, hall)
    return problems


def in_the_way(outline: Array, heights: tuple[float, float], body: Solid | Block) -> Array | None:
    """Return the bounds ``(2, 2)`` in (x, y), imagined mm, of a body that an upright figure stands in, or nothing."""
    if isinstance(body, Block):
        return _in_block(outline, heights, body)
    if body.axis == "z":
        return _in_upright(outline, heights, body)
    return _in_spanning(outline, heights, body)


def upright(figure: FigureTable, hall: Hall) -> tuple[float, float, Array]:
    """Return from which to which imagined z a figure reaches, and its stance ``(n, 2)``, mm."""
    ground = standing_ground(figure, hall)
    low = hall.floor + (0.0 if ground is None else ground.level)
    outline = curves.flatten_path(stance(figure, hall), FLATTENING)
    return low, low + hall.millimetres(figure.height), outline


def _in_upright(outline: Array, heights: tuple[float, float], solid: Solid) -> Array | None:
    """Look at a column: its sections below the crown of the figure."""
    sections = [level.section for level in solid.levels if level.at < heights[1]]
    shape = shapely.union_all([_shape(section) for section in sections])
    if solid.levels[-1].at <= heights[0] or shape.intersection(shapely.Polygon(outline)).area <= OVERLAP:
        return None
    return np.array(shape.bounds).reshape(2, 2)


def _in_spanning(outline: Array, heights: tuple[float, float], solid: Solid) -> Array | None:
    """Look at an arch: its sections where it is as far along the hall as the figure."""
    near, far = solid.levels[0].at, solid.levels[-1].at
    (left, y0), (right, y1) = outline.min(axis=0), outline.max(axis=0)
    if y1 <= near or y0 >= far:
        return None
    shape = shapely.union_all([_shape(level.section) for level in solid.levels])
    seen = shape.intersection(shapely.box(left, heights[0], right, heights[1]))
    return None if seen.area <= OVERLAP else np.array([[shape.bounds[0], near], [shape.bounds[2], far]])


def _in_block(outline: Array, heights: tuple[float, float], block: Block) -> Array | None:
    points = block.mesh.vertices
    low, high = points.min(axis=0), points.max(axis=0)
    least, most = np.append(outline.min(axis=0), heights[0]), np.append(outline.max(axis=0), heights[1])
    if (least >= high).any() or (most <= low).any():
        return None
    upright = manifold3d.CrossSection([outline]).extrude(heights[1] - heights[0]).translate((0.0, 0.0, heights[0]))
    return None if (upright ^ body_of(block.mesh)).volume() <= OVERLAP else np.stack([low[:2], high[:2]])


def _under_vault(figure: FigureTable, index: int, webs: Sequence[Web], hall: Hall) -> list[Problem]:
    """Return the problem of a figure that reaches through the vault above it."""
    low, high, outline = upright(figure, hall)
    tall, middle = high - low, (outline.min(axis=0) + outline.max(axis=0)) / 2
    room = tall
    for wide, up in UNDER_VAULT:
        part = middle + wide * (outline - middle)
        room = min([room, *((_lowest_over(part, low + up * tall, web) - low) / up for web in webs)])
    if room >= tall - ROUNDING:
        return []
    room = max(0.0, hall.metres(room))
    return [
        Problem(
            path=("figures", index, "height"),
            found=f"{figure.name!r} is {figure.height:g} m tall, the vault is {room:.4g} m above its feet there",
            allowed=f"at most {room:.4g} m",
            remedy="make it smaller, or move it toward the middle of a bay",
        )
    ]


def _lowest_over(outline: Array, crown: float, web: Web) -> float:
    """Return how low a cell of a vault comes over a stance, imagined z, mm; ``crown`` where it stays above that."""
    near, far = (
        np.concatenate([curves.evaluate_evenly(curve, RULINGS) for curve in border]) for border in (web.near, web.far)
    )
    under, lowest = shapely.Polygon(outline), crown
    low = np.flatnonzero(np.minimum(near[:, 2], far[:, 2]) < crown)
    for first in sorted({max(int(place) - step, 0) for place in low for step in (0, 1)}):
        strip = np.concatenate([near[first : first + 2], far[first : first + 2][::-1]])
        over = shapely.MultiPoint(strip[:, :2]).convex_hull.intersection(under)
        if over.area > OVERLAP:
            lowest = min(lowest, _lowest(strip, np.array(over.exterior.coords)))
    return lowest


def _lowest(strip: Array, places: Array) -> float:
    """Return how low the plane nearest to a strip's corners comes at places ``(n, 2)``."""
    flat = np.column_stack([strip[:, :2], np.ones(len(strip))])
    plane, *_ = np.linalg.lstsq(flat, strip[:, 2], rcond=None)
    return float((np.column_stack([places, np.ones(len(places))]) @ plane).min())


def _shape(path: curves.Path) -> shapely.Polygon:
    return shapely.Polygon(curves.flatten_path(path, FLATTENING))


def clear(figure: FigureTable, box: Array, hall: Hall) -> str:
    """Return where a figure keeps clear of the bounds of what it stands in: on either side, before or behind."""
    half, depth = hall.metres(hall.width) / 2, hall.metres(hall.depth)
    words = []
    for axis, name, least, most in ((0, "x", -half, half), (1, "y", hall.metres(hall.front), depth)):
        away = reach(figure)[axis]
        before, after = hall.metres(box[0, axis]) - away, hall.metres(box[1, axis]) + away
        if before >= least + away:
            words.append(f"{name} up to {before:.4g} m")
        if after <= most - away:
            words.append(f"{name} from {after:.4g} m")
    return " or ".join(words) if words else "a smaller figure, or a place clear of it"
