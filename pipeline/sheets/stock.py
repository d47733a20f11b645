"""Which panel lies where on which sheet of its material."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.curves import flatten_path, signed_area
from pipeline.geometry.frames import moved
from pipeline.geometry.regions import Region, path_of
from pipeline.sheets.nesting import Layout, Size, nest
from pipeline.units import part_id

Array = NDArray[np.float64]

FLATTENING = 0.01
"""mm; far under the spacing, and what paper is drawn with."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A part to be laid on stock: its id, and the outlines of its visible and its hidden face, flat mm."""

    id: str
    cut: Region
    hidden: Region

    @property
    def area(self) -> float:
        """What its outline encloses on the visible face, mm^2."""
        return abs(signed_area(path_of(self.cut.outline)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A sheet material as it lies on the bench, mm; ``spacing`` is what stays between two cuts.

    ``offcuts`` are the sizes of single pieces, used up before a whole sheet is begun, the smallest first.
    """

    name: str
    size: Size
    kerf: float
    spacing: float
    margin: float
    grain: bool
    offcuts: tuple[Size, ...] = ()

    @property
    def gap(self) -> float:
        """Least distance between two parts, mm.

        Half the kerf is cut away on each side of a part, so contours come nearer by a whole one.
        """
        return max(self.spacing, self.kerf) + self.kerf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filled:
    """One sheet with what lies on it.

    Attributes
    ----------
    stock, number
        The material, and which of its sheets, from 1.
    size
        Of this sheet, mm: the stock's, or an offcut's.
    placed
        Piece id and its ``sheet_from_flat`` ``(3, 3)``.
    pieces, footprints
        The same pieces, and what each takes up as it lies on the sheet, mm.
    """

    stock: Stock
    number: int
    size: Size
    placed: tuple[tuple[str, Array], ...]
    pieces: tuple[Piece, ...]
    footprints: tuple[shapely.Polygon, ...]

    @property
    def file(self) -> str:
        """Name of its files, without ending."""
        return f"sheets/{part_id(self.stock.name)}-{self.number}"

    @property
    def used(self) -> float:
        """What the parts take up, mm^2."""
        return float(sum(shape.area for shape in self.footprints))

    @property
    def density(self) -> float:
        """Share of the sheet that becomes parts."""
        return self.used / (self.size[0] * self.size[1])


def lay(stock: Stock, shapes: list[shapely.Polygon], order: Sequence[int] | None = None) -> Layout:
    """Return the layout of footprints on a material; the largest first unless an order is given."""
    return nest(
        shapes,
        stock.size,
        spacing=stock.gap,
        margin=stock.margin,
        turns=not stock.grain,
        offcuts=stock.offcuts,
        order=order,
    )


def filled_by(stock: Stock, pieces: list[Piece], shapes: list[shapely.Polygon], layout: Layout) -> list[Filled]:
    """Return the sheets of a layout of pieces, whose footprints are ``shapes``."""
    sheets = []
    for number, size in enumerate(layout.sheets):
        placed = [p for p in layout.placed if p.sheet == number]
        sheets.append(
            Filled(
                stock=stock,
                number=number + 1,
                size=size,
                placed=tuple((pieces[p.part].id, p.sheet_from_flat) for p in placed),
                pieces=tuple(pieces[p.part] for p in placed),
                footprints=tuple(moved(shapes[p.part], p.sheet_from_flat) for p in placed),
            )
        )
    return sheets


def too_large(stock: Stock, shape: shapely.Polygon) -> bool:
    """Return whether a footprint fits no sheet and no offcut, however it is turned."""
    x0, y0, x1, y1 = shape.bounds
    sizes = [(x1 - x0, y1 - y0)] if stock.grain else [(x1 - x0, y1 - y0), (y1 - y0, x1 - x0)]
    room = [(width - 2 * stock.margin + 1e-9, height - 2 * stock.margin + 1e-9) for width, height in
            (stock.size, *stock.offcuts)]  # fmt: skip
    return not any(wide <= width and tall <= height for wide, tall in sizes for width, height in room)


def footprint(piece: Piece) -> shapely.Polygon:
    """Return what a piece takes up: everything inside its visible or its hidden outline."""
    both = shapely.union_all([polygon(piece.cut), polygon(piece.hidden)])
    return both if both.geom_type == "Polygon" else both.convex_hull


def polygon(region: Region) -> shapely.Polygon:
    """Return a region as a polygon of chords.

    A web without ribs ends in points whose two sides touch one another: nearer to the point than the chords can tell
    them apart these cross, and what lies beyond the crossing is left out.
    """
    loops = [flatten_path(path_of(loop), FLATTENING) for loop in region.loops]
    whole = shapely.Polygon(loops[0], loops[1:])
    if whole.is_valid:
        return whole
    return max(shapely.get_parts(shapely.make_valid(whole)), key=lambda part: part.area)
