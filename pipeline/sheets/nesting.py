"""Parts laid on sheets of stock: bottom-left, largest first, whole quarter turns, holes of others used where they fit.

The sheet is a grid of cells. A part covers a cell if the cell's middle lies within half the spacing and half the
cell's diagonal of it; two parts that share no cell are then at least the spacing apart, whatever their shapes (were
two points nearer, the cell of the middle between them would belong to both). Where a part fits without sharing a cell
is found for all places at once, run by run: it does not fit where any of the cells that a run would cover is taken. The
layout is a pure function of shapes, stock and settings.

Terms
-----
run
    Cells next to one another in a row, all covered by a part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Size = tuple[float, float]

CELL = 1.0
"""mm; the most that is lost between two parts."""

TURNS = (0, 90, 180, 270)

LOOKED = 8
"""Runs after which it is looked whether any place is left."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A part on a sheet: ``sheet_from_flat`` ``(3, 3)``, turned by whole quarters, never mirrored."""

    part: int
    sheet: int
    sheet_from_flat: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """What lies where: the parts, the size of every sheet used, and the parts that fit on none."""

    placed: tuple[Placed, ...]
    sheets: tuple[Size, ...]
    left_over: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class _Turned:
    """A part turned: the matrix that brings its lower left corner to 0, its size, and the cells it covers."""

    to_corner: Array
    size: Size
    cells: Flags

    @cached_property
    def runs(self) -> list[tuple[int, int, int]]:
        """Row, first column and length of every run, the longest first: they rule out the most."""
        steps = np.diff(self.cells.astype(np.int8), axis=1, prepend=0, append=0)
        (row, start), (_, end) = np.nonzero(steps == 1), np.nonzero(steps == -1)
        size = end - start
        order = np.argsort(-size, kind="stable")
        return list(zip(row[order].tolist(), start[order].tolist(), size[order].tolist(), strict=True))


class _Sheet:
    """A sheet being filled: its size and the cells taken."""

    def __init__(self, size: Size, pad: int) -> None:
        self.size = size
        self.taken = np.zeros((int(size[1] / CELL) + 2 * pad + 2, int(size[0] / CELL) + 2 * pad + 2), dtype=bool)
        self.empty = True
        self._ahead: list[Flags] = []

    def take(self, cells: Flags, row: int, column: int) -> None:
        """Mark cells as taken, their lower left at a row and column."""
        self.taken[row : row + cells.shape[0], column : column + cells.shape[1]] |= cells
        self.empty = False
        self._ahead = []

    def first_free(self, way: _Turned, rows: int, columns: int) -> tuple[int, int] | None:
        """Return the lowest, then leftmost of the first rows and columns where a part shares no cell, if any."""
        blocked = np.zeros((rows, columns), dtype=bool)
        for number, (row, start, size) in enumerate(way.runs):
            power = size.bit_length() - 1
            taken = self._within(power)[row : row + rows]
            blocked |= taken[:, start : start + columns]
            late = start + size - (1 << power)
            if late > start:
                blocked |= taken[:, late : late + columns]
            if number % LOOKED == 0 and blocked.all():
                return None
        free = int(blocked.argmin())  # of flags, the first that is not set
        return None if blocked.flat[free] else divmod(free, columns)

    def _within(self, power: int) -> Flags:
        """Return where a cell or one of those to its right is taken, ``2 ** power`` of them in all."""
        ahead = self._ahead
        if not ahead:
            ahead.append(self.taken)
        while len(ahead) <= power:
            wider, step = ahead[-1].copy(), 1 << (len(ahead) - 1)
            wider[:, :-step] |= ahead[-1][:, step:]
            ahead.append(wider)
        return ahead[power]


def nest(
    parts: list[shapely.Polygon],
    stock: Size,
    *,
    spacing: float,
    margin: float,
    turns: bool = True,
    offcuts: Sequence[Size] = (),
    order: Sequence[int] | None = None,
) -> Layout:
    """Return a layout of parts on as many sheets as they need.

    Parameters
    ----------
    parts
        Footprints, mm, each in its own flat frame; holes may take smaller parts.
    stock
        Width and height of a sheet, mm.
    spacing
        Least distance between parts, mm.
    margin
        Kept free along the sheet's edges, mm.
    turns
        Whether parts may be turned by quarters; without, only by a half (grain).
    offcuts
        Sizes of single pieces of stock, used up before a whole sheet is begun.
    order
        In which the parts are laid; the largest first where nothing is said.
    """
    reach = spacing / 2 + CELL * np.sqrt(0.5)
    pad = int(np.ceil(reach / CELL)) + 1
    sizes = [*offcuts]
    sheets = [_Sheet((size[0] - 2 * margin, size[1] - 2 * margin), pad) for size in sizes]
    whole = (stock[0] - 2 * margin, stock[1] - 2 * margin)
    placed: list[tuple[int, int, Array]] = []
    left_over: list[int] = []
    for part in sorted(range(len(parts)), key=lambda i: (-parts[i].area, i)) if order is None else order:
        ways = _turns(parts[part], TURNS if turns else TURNS[::2], reach, pad)
        for number in range(len(sheets) + 1):
            sheet = sheets[number] if number < len(sheets) else _Sheet(whole, pad)
            found = _place(sheet, ways)
            if found is not None:
                break
        if found is None:
            left_over.append(part)
            continue
        if number == len(sheets):
            sheets.append(sheet)
            sizes.append(stock)
        way, row, column = found
        sheets[number].take(way.cells, row, column)
        shift = np.array([[1.0, 0, margin + column * CELL], [0, 1, margin + row * CELL], [0, 0, 1]])
        placed.append((part, number, shift @ way.to_corner))
    used = sorted({number for _, number, _ in placed})
    return Layout(
        placed=tuple(
            Placed(part=part, sheet=used.index(number), sheet_from_flat=matrix)
            for part, number, matrix in sorted(placed, key=lambda one: one[0])
        ),
        sheets=tuple(sizes[number] for number in used),
        left_over=tuple(sorted(left_over)),
    )


def corner_matrix(part: shapely.Polygon, angle: int) -> Array:
    """Return the ``(3, 3)`` matrix that turns a part by 0, 90, 180 or 270 degrees and brings its corner to 0."""
    cos, sin = [(1, 0), (0, 1), (-1, 0), (0, -1)][angle // 90]
    x0, y0, x1, y1 = part.bounds
    corners = np.array([[x0, y0], [x1, y1]]) @ np.array([[cos, sin], [-sin, cos]])
    low = corners.min(axis=0)
    return np.array([[cos, -sin, -low[0]], [sin, cos, -low[1]], [0, 0, 1]], dtype=np.float64)


def _turns(part: shapely.Polygon, angles: Sequence[int], reach: float, pad: int) -> list[_Turned]:
    """Return a part turned by angles; of two turns that cover the same cells the first alone."""
    grown = part.buffer(reach, quad_segs=8)
    rings = [np.asarray(ring.coords) for ring in (grown.exterior, *grown.interiors)]
    sides = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    x0, y0, x1, y1 = part.bounds
    ways: list[_Turned] = []
    for angle in angles:
        to_corner = corner_matrix(part, angle)
        size = (x1 - x0, y1 - y0) if angle % 180 == 0 else (y1 - y0, x1 - x0)
        shape = (int(size[1] / CELL) + 2 * pad + 1, int(size[0] / CELL) + 2 * pad + 1)
        cells = _cells(sides @ to_corner[:2, :2].T + to_corner[:2, 2], shape, pad)
        if not any(way.size == size and np.array_equal(cells, way.cells) for way in ways):
            ways.append(_Turned(to_corner, size, cells))
    return ways


def _cells(sides: Array, shape: tuple[int, int], pad: int) -> Flags:
    """Return the cells whose middles lie inside a polygon given by its sides ``(n, 2, 2)``.

    Along each row of middles, inside begins and ends where a side crosses it (even-odd).
    """
    rows = sides[..., 1] / CELL + pad - 0.5  # in rows of middles; a side crosses row r if one end lies at r or below
    low, high = np.ceil(rows.min(axis=1)).astype(np.int64), np.ceil(rows.max(axis=1)).astype(np.int64)
    low, high = np.clip(low, 0, shape[0]), np.clip(high, 0, shape[0])
    counts = high - low
    side = np.repeat(np.arange(len(sides)), counts)
    row = np.arange(len(side)) - np.repeat(np.cumsum(counts) - counts, counts) + low[side]
    share = (row - rows[side, 0]) / (rows[side, 1] - rows[side, 0])
    across = sides[side, 0, 0] + share * (sides[side, 1, 0] - sides[side, 0, 0])
    column = np.clip(np.ceil(across / CELL + pad - 0.5).astype(np.int64), 0, shape[1])
    wide = shape[1] + 1
    crossings = np.bincount(row * wide + column, minlength=shape[0] * wide).reshape(shape[0], wide)[:, :-1]
    # Counts past 255 begin again at 0, and stay odd or even.
    inside: Flags = (np.cumsum(crossings, axis=1, dtype=np.uint8) & 1).astype(bool)
    return inside


def _place(sheet: _Sheet, ways: list[_Turned]) -> tuple[_Turned, int, int] | None:
    """Return the turn, row and column of the lowest, then leftmost free place."""
    best: tuple[float, int, int, int] | None = None
    for index, way in enumerate(ways):
        if way.size[0] > sheet.size[0] + 1e-9 or way.size[1] > sheet.size[1] + 1e-9:
            continue
        if best is not None and way.size[1] > best[0]:
            continue  # wherever it lay, it would reach higher
        rows = int((sheet.size[1] - way.size[1]) / CELL + 1e-9) + 1
        columns = int((sheet.size[0] - way.size[0]) / CELL + 1e-9) + 1
        if best is not None:
            rows = min(rows, int((best[0] - way.size[1]) / CELL) + 2)
        at = (0, 0) if sheet.empty else sheet.first_free(way, rows, columns)
        if at is None:
            continue
        row, column = at
        place = (row * CELL + way.size[1], column, row, index)
        best = place if best is None or place < best else best
    if best is None:
        return None
    _, column, row, index = best
    return ways[index], row, column
