"""Where to part a panel that is larger than every sheet of its material.

A seam shows least in a joint of the cover, so lines that run along a guide across all of the panel are taken before
others. Of those the one is taken whose pieces fit, or come nearest to it, and are most alike; what still fits no sheet
is parted again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import ops

from pipeline.geometry import frames
from pipeline.sheets.stock import Stock, too_large

Array = NDArray[np.float64]

MOST = 8
"""Lines; a panel that needs more of them wants another box, or other stock."""

ALONG = 0.6
"""Share of a line across the panel that a guide must cover for the seam to run in its joint."""

NARROW = 0.1
"""Of a panel's lesser side; guides shorter than this lie across none of it, and there may be tens of thousands."""

MOST_TRIED = 64
"""Joints tried for one seam, evenly over all: of a thousand courses one is as good as the next."""

SHARES = (0.5, 0.45, 0.55, 0.4, 0.6, 1 / 3, 2 / 3, 0.25, 0.75)
"""Where a panel is parted straight across, of its length; the middle first."""

ROUNDING = 1e-6
"""mm and mm^2; lines and pieces smaller than this are none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parting:
    """Lines ``(k, 2, 2)`` that part a panel, flat mm, in the order they are cut; which of them run along a guide.

    ``enough`` tells whether all pieces then fit a sheet.
    """

    lines: Array
    along_guide: tuple[bool, ...]
    enough: bool


def excess(stock: Stock, shape: shapely.Polygon) -> float:
    """Return how much a shape is larger than the roomiest way to lay it on a sheet, mm; at most 0 where it fits."""
    x0, y0, x1, y1 = shape.bounds
    sizes = [(x1 - x0, y1 - y0)] if stock.grain else [(x1 - x0, y1 - y0), (y1 - y0, x1 - x0)]
    over = [max(wide - width, tall - height) for wide, tall in sizes for width, height in (stock.size, *stock.offcuts)]
    return float(min(over)) + 2 * stock.margin


def part(shape: shapely.Polygon, guides: Array, stock: Stock) -> Parting:
    """Return how to part a panel.

    Parameters
    ----------
    shape
        What it takes up, flat mm.
    guides
        ``(n, 2, 2)`` lines of its cover, flat mm.
    stock
        What it is cut from.
    """
    lines: list[Array] = []
    along: list[bool] = []
    waiting = [shape]
    while waiting:
        piece = waiting.pop(0)
        if not too_large(stock, piece):
            continue
        found = _best(piece, guides, stock) if len(lines) < MOST else None
        if found is None:
            return Parting(lines=_stacked(lines), along_guide=tuple(along), enough=False)
        line, guided, pieces = found
        lines.append(line)
        along.append(guided)
        waiting += pieces
    return Parting(lines=_stacked(lines), along_guide=tuple(along), enough=True)


def _stacked(lines: list[Array]) -> Array:
    return np.array(lines).reshape(-1, 2, 2)


def _best(shape: shapely.Polygon, guides: Array, stock: Stock) -> tuple[Array, bool, list[shapely.Polygon]] | None:
    """Return the best line that brings a shape nearer to fitting, whether it is a guide's, and the pieces it leaves."""
    before = excess(stock, shape)
    best, least = None, (before - ROUNDING, 0, 0, 0.0)
    for guided, line in _candidates(shape, guides):
        pieces = [piece for piece in ops.split(shape, shapely.LineString(line)).geoms if piece.area > ROUNDING]
        if len(pieces) < 2:
            continue
        worst = max(0.0, *(excess(stock, piece) for piece in pieces))
        key = (round(worst, 3), int(not guided), len(pieces), round(max(piece.area for piece in pieces), 3))
        if key < least:
            best, least = (_clipped(line, shape), guided, pieces), key
    return best


def _candidates(shape: shapely.Polygon, guides: Array) -> Iterator[tuple[bool, Array]]:
    """Yield lines across a shape, those along guides first."""
    x0, y0, x1, y1 = shape.bounds
    far = 2 * (x1 - x0 + y1 - y0)
    long = np.linalg.norm(guides[:, 1] - guides[:, 0], axis=1)
    wide = long > NARROW * min(x1 - x0, y1 - y0)
    guides, long = guides[wide], long[wide]
    ways = (guides[:, 1] - guides[:, 0]) / long[:, None]
    lines = np.stack([guides[:, 0] - far * ways, guides[:, 0] + far * ways], axis=1)
    across = shapely.length(shapely.intersection(shape, shapely.linestrings(lines)))
    lines = lines[(across > ROUNDING) & (long >= ALONG * across)]
    for index in np.linspace(0, len(lines) - 1, min(len(lines), MOST_TRIED)).round().astype(int):
        yield True, lines[index]
    for share in SHARES:
        x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
        yield False, np.array([[x, y0 - far], [x, y1 + far]])
        yield False, np.array([[x0 - far, y], [x1 + far, y]])


def _clipped(line: Array, shape: shapely.Polygon) -> Array:
    """Return a line from where it first meets a shape to where it leaves it."""
    way = frames.unit(line[1] - line[0])
    reach = (shapely.get_coordinates(shape.intersection(shapely.LineString(line))) - line[0]) @ way
    out: Array = line[0] + np.array([[reach.min()], [reach.max()]]) * way
    return out
