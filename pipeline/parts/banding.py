"""A polygon with thousands of holes, cut into triangles band by band: all at once takes time with their square."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.parts.bodies import triangulate

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

ON_LINE = 1e-6
"""mm; a line that passes a corner of the rim this near is no cut: it would leave an edge of rounding's length."""


def crossed(front: list[Array], back: list[Array], lines: Array) -> tuple[list[Array], list[Array], Array]:
    """Return two rims, point for point, with a point more wherever a line crosses an edge, and the cuts inside.

    Parameters
    ----------
    front, back
        Loops ``(n, 2)`` that correspond; lines cross the front ones.
    lines
        ``(k, 2, 2)``, each drawn out past the rim, none meeting another.

    Returns
    -------
    front, back, cuts
        The longer loops, and ``(m, 2, 2)`` stretches of the lines within the front rim, ends bit for bit on it.
    """
    front, back, cuts = list(front), list(back), [np.zeros((0, 2, 2))]
    if any((np.roll(loop, -1, axis=0) == loop).all(axis=1).any() for loop in front):
        return front, back, cuts[0]  # a step of the hidden rim: its corner stands twice in the front one
    for line in lines:
        way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        sides = [(loop - line[0]) @ [-way[1], way[0]] for loop in front]
        if min(np.abs(side).min() for side in sides) < ON_LINE:
            continue
        found = [np.zeros((0, 2))]
        for k, side in enumerate(sides):
            following = np.roll(side, -1)
            at = np.flatnonzero(side * following < 0)
            share = (side[at] / (side[at] - following[at]))[:, None]
            added = front[k][at] + share * (np.roll(front[k], -1, axis=0)[at] - front[k][at])
            found.append(added)
            behind = back[k][at] + share * (np.roll(back[k], -1, axis=0)[at] - back[k][at])
            front[k], back[k] = np.insert(front[k], at + 1, added, axis=0), np.insert(back[k], at + 1, behind, axis=0)
        points = np.concatenate(found)
        cuts.append(points[np.argsort(points @ way)].reshape(-1, 2, 2))
    return front, back, np.concatenate(cuts)


def triangulate_bands(rim: list[Array], cuts: Array, holes: list[Array]) -> Indices:
    """Return triangles ``(m, 3)`` over the stacked points of a rim and of holes well inside it, clockwise.

    Rim and holes are rings ``(n, 2)``; no triangle crosses one of the cuts ``(k, 2, 2)``.
    """
    if len(cuts) == 0:
        return triangulate([*rim, *holes])
    edges = np.concatenate([np.stack([loop, np.roll(loop, -1, axis=0)], axis=1) for loop in rim] + [cuts])
    bands = shapely.get_parts(shapely.polygonize(shapely.linestrings(edges)))
    bands = bands[shapely.contains(shapely.Polygon(rim[0], rim[1:]), shapely.point_on_surface(bands))]
    number = {tuple(point): k for k, point in enumerate(np.concatenate(rim).tolist())}
    starts = np.cumsum([len(number), *(len(hole) for hole in holes)])
    owner, mine = shapely.STRtree(bands).query(shapely.points([hole[0] for hole in holes]), predicate="within")[::-1]
    out = []
    for k, band in enumerate(shapely.orient_polygons(bands)):
        inside = mine[owner == k]
        rings = [shapely.get_coordinates(ring)[:-1] for ring in (band.exterior, *band.interiors)]
        numbers = [number[tuple(point)] for ring in rings for point in ring.tolist()]
        spans = [np.arange(starts[n], starts[n] + len(holes[n])) for n in inside]
        stacked = np.concatenate([np.array(numbers, dtype=np.int64), *spans])
        out.append(stacked[triangulate([*rings, *(holes[n] for n in inside)])])
    return np.concatenate(out)
