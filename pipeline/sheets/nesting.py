"""Parts laid on sheets of stock: bottom-left, largest first, whole quarter turns, holes of others used where they fit.

The sheet is a grid of cells. A part covers a cell if the cell's middle lies within half the spacing and half the
cell's diagonal of it; two parts that share no cell are then at least the spacing apart, whatever their shapes (were
two points nearer, the cell of the middle between them would belong to both). Where a part fits without sharing a cell
is found for all places at once by a correlation (fast Fourier transform). The layout is a pure function of shapes,
stock and settings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Size = tuple[float, float]

CELL = 1.0
"""mm; the most that is lost between two parts."""

TURNS = (0, 90, 180, 270)


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


@dataclass(frozen=True, slots=True, eq=False)
class _Turned:
    """A part turned: the matrix that brings its lower left corner to 0, its size, and the cells it covers."""

    to_corner: Array
    size: Size
    cells: Flags


class _Sheet:
    """A sheet being filled: its size and the cells taken."""

    def __init__(self, size: Size, pad: int) -> None:
        self.size = size
        self.taken = np.zeros((int(size[1] / CELL) + 2 * pad + 2, int(size[0] / CELL) + 2 * pad + 2), dtype=bool)
        self._spectrum: NDArray[np.complex128] | None = None

    def spectrum(self) -> NDArray[np.complex128]:
        """Return the taken cells' Fourier transform."""
        if self._spectrum is None:
            self._spectrum = np.fft.rfft2(self.taken.astype(np.float64), s=_fast(self.taken.shape))
        return self._spectrum

    def take(self, cells: Flags, row: int, column: int) -> None:
        """Mark cells as taken, their lower left at a row and column."""
        self.taken[row : row + cells.shape[0], column : column + cells.shape[1]] |= cells
        self._spectrum = None


def nest(parts: list[shapely.Polygon], stock: Size, *, spacing: float, margin: float, turns: bool = True) -> Layout:
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
    """
    reach = spacing / 2 + CELL * np.sqrt(0.5)
    pad = int(np.ceil(reach / CELL)) + 1
    inside = (stock[0] - 2 * margin, stock[1] - 2 * margin)
    sheets: list[_Sheet] = []
    placed: list[Placed] = []
    left_over: list[int] = []
    for part in sorted(range(len(parts)), key=lambda i: (-parts[i].area, i)):
        ways = [_turn(parts[part], angle, reach, pad) for angle in (TURNS if turns else TURNS[::2])]
        ways = [way for way in ways if way.size[0] <= inside[0] + 1e-9 and way.size[1] <= inside[1] + 1e-9]
        if not ways:
            left_over.append(part)
            continue
        for number in range(len(sheets) + 1):
            if number == len(sheets):
                sheets.append(_Sheet(inside, pad))
            found = _place(sheets[number], ways)
            if found is None:
                continue
            way, row, column = found
            sheets[number].take(way.cells, row, column)
            shift = np.array([[1.0, 0, margin + column * CELL], [0, 1, margin + row * CELL], [0, 0, 1]])
            placed.append(Placed(part=part, sheet=number, sheet_from_flat=shift @ way.to_corner))
            break
    return Layout(
        placed=tuple(sorted(placed, key=lambda p: p.part)),
        sheets=(stock,) * len(sheets),
        left_over=tuple(sorted(left_over)),
    )


def _turn(part: shapely.Polygon, angle: int, reach: float, pad: int) -> _Turned:
    turned = affinity.rotate(part, angle, origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    cos, sin = [(1, 0), (0, 1), (-1, 0), (0, -1)][angle // 90]
    to_corner = np.array([[cos, -sin, -x0], [sin, cos, -y0], [0, 0, 1]], dtype=np.float64)
    grown = affinity.translate(turned, -x0, -y0).buffer(reach, quad_segs=8)
    columns, rows = int((x1 - x0) / CELL) + 2 * pad + 1, int((y1 - y0) / CELL) + 2 * pad + 1
    middles_x = (np.arange(columns) - pad + 0.5) * CELL
    middles_y = (np.arange(rows) - pad + 0.5) * CELL
    gx, gy = np.meshgrid(middles_x, middles_y)
    return _Turned(to_corner, (x1 - x0, y1 - y0), shapely.contains_xy(grown, gx, gy))


def _place(sheet: _Sheet, ways: list[_Turned]) -> tuple[_Turned, int, int] | None:
    """Return the turn, row and column of the lowest, then leftmost free place."""
    best: tuple[float, int, int, int] | None = None
    shape = _fast(sheet.taken.shape)
    for index, way in enumerate(ways):
        rows = int((sheet.size[1] - way.size[1]) / CELL + 1e-9) + 1
        columns = int((sheet.size[0] - way.size[0]) / CELL + 1e-9) + 1
        mask = np.fft.rfft2(way.cells.astype(np.float64), s=shape)
        shared = np.fft.irfft2(sheet.spectrum() * mask.conj(), s=shape)[:rows, :columns]
        free = np.argwhere(shared < 0.5)
        if len(free):
            row, column = (int(x) for x in free[0])
            key = (row * CELL + way.size[1], column, row, index)
            best = key if best is None or key < best else best
    if best is None:
        return None
    _, column, row, index = best
    return ways[index], row, column


def _fast(shape: tuple[int, ...]) -> tuple[int, int]:
    """Return the shape rounded up to whole multiples of 32, which transform quickly; no place wraps round."""
    rows, columns = (-(-int(n) // 32) * 32 for n in shape)
    return rows, columns
