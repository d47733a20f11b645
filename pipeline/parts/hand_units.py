"""Units of a cover that are laid, scored or sculpted by hand: how many, whole or cut, and how much of them there is.

Terms
-----
whole
    A unit as large as the bond lays it, that nothing cuts.
cut
    What is left of a unit at an edge, an opening or a closer of the bond; a unit that an opening parts counts for each
    of its pieces.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import Region, path_of
from pipeline.geometry.vectors import cross, lengths

Array = NDArray[np.float64]
Place = Callable[[Array], Array]
"""Takes host coordinates ``(n, 2)`` to points ``(n, 3)``."""

FLATTENING = 0.002
"""mm, imagined; far below what a hand cuts."""
SLIVER = 0.02
"""Share of a whole unit below which what is left of one is no unit but mortar."""
SAME = 1e-6
"""Share by which two sizes may differ that are the same number but for rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutUnits:
    """The units of one face, host coordinates, imagined mm.

    Attributes
    ----------
    whole
        ``(n, 4, 2)``.
    cut
        Every piece of the others.
    """

    whole: Array
    cut: shapely.MultiPolygon

    @property
    def pieces(self) -> int:
        """How many cut ones there are."""
        return int(shapely.get_num_geometries(self.cut))

    def rings(self) -> tuple[Array, NDArray[np.int64], NDArray[np.bool_]]:
        """Return every ring of the cut ones.

        Returns
        -------
        corners
            ``(k, 2)`` of all of them, the first of each once more at its end.
        starts
            ``(r + 1,)`` where in these each ring starts, and where the last ends.
        outlines
            ``(r,)`` whether it is an outline, and no hole.
        """
        _, corners, (starts, firsts, _) = shapely.to_ragged_array([self.cut])
        outlines = np.zeros(len(starts) - 1, dtype=bool)
        outlines[firsts[:-1]] = True
        return corners, starts, outlines


def cut_units(units: Array, sizes: tuple[tuple[float, float], ...], region: Region) -> CutUnits:
    """Return the units ``(n, 4, 2)`` as a region cuts them.

    Parameters
    ----------
    units
        Counter-clockwise rectangles of a cover, host coordinates.
    sizes
        Every size a whole unit has in its bond.
    region
        What is left of the face.
    """
    loops = [flatten_path(path_of(loop), FLATTENING) for loop in region.loops]
    room = shapely.Polygon(loops[0], loops[1:])
    if not room.is_valid:
        room = room.buffer(0)
    low, high = np.array(room.bounds).reshape(2, 2)
    units = units[((units.max(axis=1) > low) & (units.min(axis=1) < high)).all(axis=1)]
    shapely.prepare(room)
    grown = room.buffer(FLATTENING, join_style="mitre")  # a unit that ends at the border is not cut by its rounding
    shapely.prepare(grown)
    polygons = shapely.polygons(units)
    sides = lengths(np.roll(units, -1, axis=1)[:, :2] - units[:, :2])
    full = np.zeros(len(units), dtype=bool)
    for one, other in sizes:
        for wide, tall in ((one, other), (other, one)):
            full |= (np.abs(sides[:, 0] - wide) <= SAME * wide) & (np.abs(sides[:, 1] - tall) <= SAME * tall)
    whole = full & shapely.contains(grown, polygons)
    others = polygons[~whole & shapely.intersects(room, polygons)]
    pieces = shapely.get_parts(shapely.intersection(others, room))
    least = SLIVER * min((one * other for one, other in sizes), default=0.0)
    return CutUnits(whole=units[whole], cut=pieces_over(pieces, least))


def pieces_over(pieces: NDArray[np.object_], least: float) -> shapely.MultiPolygon:
    """Return those of some shapes that are polygons of more than ``least``, mm^2."""
    flat = shapely.get_type_id(pieces) == shapely.GeometryType.POLYGON
    one: shapely.MultiPolygon = shapely.multipolygons(pieces[flat & (shapely.area(pieces) > least)])
    return one


def area(units: CutUnits, place: Place) -> float:
    """Return the area of all units where ``place`` puts them, flat or nearly so, mm^2."""
    whole = place(units.whole.reshape(-1, 2)).reshape(-1, 4, 3)
    diagonals = cross(whole[:, 2] - whole[:, 0], whole[:, 3] - whole[:, 1])
    quadrangles = float(lengths(diagonals).sum()) / 2
    if not units.pieces:
        return quadrangles
    corners, starts, outlines = units.rings()
    placed = place(corners)
    products = cross(placed[:-1], placed[1:])
    products[starts[1:-1] - 1] = 0.0  # from the end of one ring to the start of the next
    areas = lengths(np.add.reduceat(products, starts[:-1], axis=0)) / 2
    return quadrangles + float(areas[outlines].sum()) - float(areas[~outlines].sum())


def volume(units: CutUnits, foot: Place, top: Place) -> float:
    """Return the volume between the feet and the tops of all units, mm^3.

    The relief takes prisms to bodies with flat faces, whose volume the divergence theorem gives exactly.
    """
    flat, signs = list(units.whole), [1.0] * len(units.whole)
    if units.pieces:
        corners, starts, outlines = units.rings()
        flat += [ring[:-1] for ring in np.split(corners, starts[1:-1])]
        signs += np.where(outlines, 1.0, -1.0).tolist()
    if not flat:
        return 0.0
    ends = np.cumsum([len(ring) for ring in flat])[:-1]
    lows, highs = (np.split(place(np.concatenate(flat)), ends) for place in (foot, top))
    return sum(sign * abs(_between(low, high)) for sign, low, high in zip(signs, lows, highs, strict=True))


def _between(low: Array, high: Array) -> float:
    """Return the signed volume between two rings of points that correspond."""
    origin = low[0]
    low, high = low - origin, high - origin
    following_low, following_high = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    caps = _fan(high) - _fan(low)
    sides = _six_volumes(low, following_low, following_high) + _six_volumes(low, following_high, high)
    return float(caps + sides) / 6


def _fan(ring: Array) -> float:
    """Return six times the signed volume of the cone from the origin over a flat ring."""
    return float(_six_volumes(np.broadcast_to(ring[0], ring[1:-1].shape), ring[1:-1], ring[2:]))


def _six_volumes(a: Array, b: Array, c: Array) -> float:
    return float(np.einsum("ij,ij->", a, cross(b, c)))
