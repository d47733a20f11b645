"""The hollow of any body: all that lies deeper than a wall under its skin, and is wide enough to be emptied.

Terms
-----
grid
    Points ``step`` apart all through the body, at which depths are known.
depth
    Of a point of the grid: the distance from the nearest of many points of the skin; nothing outside.
core
    The points of the grid round which a hollow is at least as wide as it must be.

How thick the walls come out
----------------------------
With s the distance from the points of the skin, s^2 - |x|^2 is the least of many linear functions, and so curves
downward; drawn linearly through the corners of a tetrahedron of the grid, s^2 therefore comes out too large by
3 step^2 / 4 at most, the square of half a cell's diagonal. The skin itself may be nearer than its points, `APART`
steps from one another, by what `spread_points` says, so a hollow drawn where

    s^2 >= wall^2 + (3 / 4 + APART^2 / 2) step^2

leaves no wall thinner than ``wall``. Under a smooth skin walls come out thicker by a tenth at most, for `FINENESS`
steps to a wall and the `SMOOTHING`; in the hollow's inner edges, and where one too narrow is filled, by more.
"""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.levels import level_surface
from pipeline.geometry.sampling import spread_points

Array = NDArray[np.float64]
Field = NDArray[np.float32]
Flags = NDArray[np.bool_]

FINENESS = 4.0
"""Steps of the grid to a wall, or to the narrowest hollow where that is less."""
MOST_POINTS = 12e6
"""Of a grid: its depths take four bytes each. Larger bodies have coarser ones."""
APART = 1.5
"""Steps between points of the skin."""
COARSEST = 2.0
"""Steps to a wall at least; a coarser grid makes the wall thicker."""
SMOOTHING = 0.02
"""Share of the wall by which the hollow's surface may be drawn simpler, and the wall is made thicker before."""
ROUNDING = 1.5
"""Steps farther than half its width that a hollow reaches round its core, so that its corners are kept."""
ASIDE = 0.0137
"""Share of a step by which slices lie off the grid, and so off the level facets of a body in the grid's corner."""


def hollow_in(body: manifold3d.Manifold, wall: float, cavity: float) -> manifold3d.Manifold | None:
    """Return the hollow of a closed outward body, or nothing where there is no room for one.

    Parameters
    ----------
    body
        Of any shape, mm; hollows it has are taken for outside.
    wall
        No point of the hollow is nearer to the skin, mm.
    cavity
        The hollow is nowhere narrower than this less a step, mm; what is wide enough within a step may be filled.
    """
    low, high = np.array(body.bounding_box()).reshape(2, 3)
    smooth = SMOOTHING * wall
    step, wall = _step(high - low, wall + smooth, cavity)
    if float((high - low).min()) < 2 * wall + cavity:
        return None
    least = wall**2 + (0.75 + APART**2 / 2) * step**2
    reach = math.ceil(math.sqrt(least) / step + math.sqrt(3))
    origin = low - reach * step
    shape = tuple(np.ceil((high - origin) / step).astype(np.int64)[::-1] + reach + 1)
    squares = _depths(spread_points(mesh_of(body), APART * step), origin, step, shape, reach)
    _clear_outside(body, squares, origin, step, least)
    values = squares - np.float32(least)
    if cavity > 0:
        np.minimum(values, _opened(values > 0, cavity, step), out=values)
    surface = level_surface(values, origin, step)
    if len(surface.triangles) == 0:
        return None
    pieces = [piece for piece in body_of(surface).simplify(smooth).decompose() if piece.volume() > step**3]
    return manifold3d.Manifold.compose(pieces) if pieces else None


def _step(sizes: Array, wall: float, cavity: float) -> tuple[float, float]:
    """Return the step of the grid for a body of sizes ``(3,)``, and the wall, thicker where the grid must be coarse."""
    wanted = (min(wall, cavity) if cavity > 0 else wall) / FINENESS
    step = max(wanted, float(np.prod(sizes) / MOST_POINTS) ** (1 / 3))
    return step, max(wall, COARSEST * step)


def _depths(points: Array, origin: Array, step: float, shape: tuple[int, ...], reach: int) -> Field:
    """Return the squared distances from the nearest of points ``(n, 3)``, mm^2; infinite from ``reach`` steps on."""
    squares = np.full(shape, np.inf, dtype=np.float32)
    nearest = np.rint((points - origin) / step).astype(np.int64)
    order = np.lexsort(nearest.T)
    homes, first = np.unique(nearest[order][:, ::-1], axis=0, return_index=True)
    away = (nearest * step + origin - points)[order].astype(np.float32)
    span = (np.arange(-reach, reach + 1) * step).astype(np.float32)
    x_squares, y_squares, z_squares = ((away[:, axis, None] + span) ** 2 for axis in range(3))
    side, ends = len(span), [*first[1:].tolist(), len(away)]
    for (z, y, x), start, end in zip((homes - reach).tolist(), first.tolist(), ends, strict=True):
        flat = y_squares[start:end, :, None] + x_squares[start:end, None]
        found = (z_squares[start:end, :, None, None] + flat[:, None]).min(axis=0)
        near = squares[z : z + side, y : y + side, x : x + side]
        np.minimum(near, found, out=near)
    return squares


def _clear_outside(body: manifold3d.Manifold, squares: Field, origin: Array, step: float, least: float) -> None:
    """Set the depths of points outside the body to 0, those that are near to the skin anyhow left out."""
    for k, layer in enumerate(squares):
        deep = layer >= least
        if not deep.any():
            continue
        y, x = np.nonzero(deep)
        places = origin[:2] + step * np.column_stack([x, y])
        inside = np.zeros(len(x), dtype=bool)
        for loop in body.slice(float(origin[2] + (k + ASIDE) * step)).to_polygons():
            if len(loop) > 2:
                inside ^= _within(np.asarray(loop, dtype=np.float64), places)
        layer[y[~inside], x[~inside]] = 0.0


def _within(loop: Array, places: Array) -> Flags:
    """Return which places ``(n, 2)`` lie within a loop ``(m, 2)``."""
    out = np.zeros(len(places), dtype=bool)
    low, high = loop.min(axis=0), loop.max(axis=0)
    near = np.flatnonzero(((places >= low) & (places <= high)).all(axis=1))
    polygon = shapely.Polygon(loop)
    shapely.prepare(polygon)
    out[near] = shapely.contains_xy(polygon, places[near, 0], places[near, 1])
    return out


def _opened(hollow: Flags, cavity: float, step: float) -> Field:
    """Return values above zero within ``cavity / 2`` and a little more of the core of a hollow, else below it, mm^2."""
    half = cavity / 2
    core = _to_nearest(~hollow, half + step, step) >= (half + step / 2) ** 2
    near = half + ROUNDING * step
    out: Field = np.float32(near**2) - _to_nearest(core, near, step)
    return out


def _to_nearest(seeds: Flags, most: float, step: float) -> Field:
    """Return the squared distance of each point of the grid from the nearest seed, exact up to ``most`` mm, mm^2.

    Axis by axis: P. Felzenszwalb, D. Huttenlocher, *Distance Transforms of Sampled Functions* (2012), each axis by
    trying every neighbour, as they are few.
    """
    reach = math.ceil(most / step)
    far = np.float32(((reach + 1) * step) ** 2)
    squares = np.where(seeds, np.float32(0), far)
    for axis in range(3):
        out = squares.copy()
        for k in range(1, reach + 1):
            more = np.float32((k * step) ** 2)
            ahead, behind = [slice(None)] * 3, [slice(None)] * 3
            ahead[axis], behind[axis] = slice(k, None), slice(None, -k)
            np.minimum(out[tuple(behind)], squares[tuple(ahead)] + more, out=out[tuple(behind)])
            np.minimum(out[tuple(ahead)], squares[tuple(behind)] + more, out=out[tuple(ahead)])
        squares = out
    return squares
