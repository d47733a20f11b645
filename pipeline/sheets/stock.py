"""Which panel lies where on which sheet of its material."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import Region, path_of
from pipeline.sheets.nesting import Size, nest
from pipeline.units import part_id

Array = NDArray[np.float64]

FLATTENING = 0.02
"""mm; far under the spacing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A part to be laid on stock: its id, and the outlines of its visible and its hidden face, flat mm."""

    id: str
    cut: Region
    hidden: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A sheet material as it lies on the bench, mm; ``spacing`` is what stays between two cuts."""

    name: str
    size: Size
    kerf: float
    spacing: float
    margin: float
    grain: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filled:
    """One sheet with what lies on it.

    Attributes
    ----------
    stock, number
        The material, and which of its sheets, from 1.
    placed
        Piece id and its ``sheet_from_flat`` ``(3, 3)``.
    density
        Share of the sheet that becomes parts.
    """

    stock: Stock
    number: int
    placed: tuple[tuple[str, Array], ...]
    density: float

    @property
    def file(self) -> str:
        """Name of its files, without ending."""
        return f"sheets/{part_id(self.stock.name)}-{self.number}"


def fill(stock: Stock, pieces: list[Piece]) -> tuple[list[Filled], list[str]]:
    """Return the sheets of one material, and the ids of pieces that are larger than any."""
    shapes = [footprint(piece) for piece in pieces]
    # Half the kerf is cut away on each side of a part, so contours come nearer by a whole one.
    gap = max(stock.spacing, stock.kerf) + stock.kerf
    layout = nest(shapes, stock.size, spacing=gap, margin=stock.margin, turns=not stock.grain)
    whole = stock.size[0] * stock.size[1]
    sheets = []
    for number in range(len(layout.sheets)):
        placed = [p for p in layout.placed if p.sheet == number]
        sheets.append(
            Filled(
                stock=stock,
                number=number + 1,
                placed=tuple((pieces[p.part].id, p.sheet_from_flat) for p in placed),
                density=float(sum(shapes[p.part].area for p in placed) / whole),
            )
        )
    return sheets, [pieces[i].id for i in layout.left_over]


def footprint(piece: Piece) -> shapely.Polygon:
    """Return what a piece takes up: everything inside its visible or its hidden outline."""
    both = shapely.union_all([polygon(piece.cut), polygon(piece.hidden)])
    return both if both.geom_type == "Polygon" else both.convex_hull


def polygon(region: Region) -> shapely.Polygon:
    """Return a region as a polygon of chords."""
    loops = [flatten_path(path_of(loop), FLATTENING) for loop in region.loops]
    return shapely.Polygon(loops[0], loops[1:])
