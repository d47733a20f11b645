"""Parts on paper at 1:1: which part, turned how, on which page.

Terms
-----
window
    The part of a page that shows drawings; a margin and the two 100 mm bars lie outside of it.
tile
    One window's worth of a part. Neighbouring tiles show ``OVERLAP`` mm of the same drawing.
seam
    The middle line of an overlap; both pages are cut or laid over one another there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Size = tuple[float, float]

PAPERS: dict[str, Size] = {"A4": (210.0, 297.0), "A3": (297.0, 420.0), "Letter": (215.9, 279.4)}
"""mm, upright. A4 and A3 by ISO 216; Letter is 8 1/2 x 11 in."""

LEFT, BOTTOM, RIGHT, TOP = 18.0, 24.0, 8.0, 10.0
"""mm outside the window; most printers leave 4 to 6 mm white, and the bars and the title need the rest."""

OVERLAP = 12.0
GAP = 8.0
"""mm between parts that share a page: room for their names."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tile:
    """A piece of a part on a page.

    Attributes
    ----------
    part
        Index of the part.
    page_from_flat
        ``(3, 3)`` mm; turned by a quarter or not, mirrored or not, never scaled.
    window
        (left, bottom, right, top) on the page that shows it.
    cell, cells
        Which column and row this is, from the lower left, and how many there are.
    seams
        ``(n, 2)`` places on the page of the crosshairs that meet those of the neighbours.
    """

    part: int
    page_from_flat: Array
    window: tuple[float, float, float, float]
    cell: tuple[int, int]
    cells: tuple[int, int]
    seams: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Page:
    """One sheet of paper."""

    tiles: tuple[Tile, ...]
    mirrored: bool


def window_of(paper: Size) -> tuple[float, float, float, float]:
    """Return (left, bottom, right, top) of the window, mm."""
    return LEFT, BOTTOM, paper[0] - RIGHT, paper[1] - TOP


def lay_pages(boxes: list[Array], paper: Size, *, mirrored: bool) -> list[Page]:
    """Return pages that show every part at 1:1.

    Parameters
    ----------
    boxes
        ``(2, 2)`` least and greatest flat coordinates of each part, mm.
    paper
        Width and height, mm.
    mirrored
        Whether parts are shown as seen from behind, for drawing on the hidden face.
    """
    left, bottom, right, top = window_of(paper)
    room = (right - left, top - bottom)
    turned = [_turn(box, room, mirrored) for box in boxes]
    small = [i for i, (_, size) in enumerate(turned) if size[0] <= room[0] and size[1] <= room[1]]
    pages = [
        page
        for i, (matrix, size) in enumerate(turned)
        if i not in small
        for page in _tiled(i, matrix, size, room, mirrored)
    ]
    return pages + _shared(small, turned, room, mirrored)


def _turn(box: Array, room: Size, mirrored: bool) -> tuple[Array, Size]:
    """Return the matrix that brings a part's lower left corner to 0, turned as needs fewest pages, and its size."""
    low, high = box
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    upright = np.array([[1.0, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1]])
    if mirrored:
        upright = np.array([[-1.0, 0, high[0]], [0, 1, -low[1]], [0, 0, 1]])
    if _count(size, room) <= _count(size[::-1], room):
        return upright, size
    quarter = np.array([[0.0, -1, size[1]], [1, 0, 0], [0, 0, 1]])
    return quarter @ upright, size[::-1]


def _count(size: Size, room: Size) -> int:
    columns, rows = (_cells(s, r) for s, r in zip(size, room, strict=True))
    return columns * rows


def _cells(size: float, room: float) -> int:
    return 1 if size <= room else math.ceil((size - OVERLAP) / (room - OVERLAP))


def _tiled(part: int, matrix: Array, size: Size, room: Size, mirrored: bool) -> list[Page]:
    columns, rows = (_cells(s, r) for s, r in zip(size, room, strict=True))
    step = np.array([room[0] - OVERLAP, room[1] - OVERLAP])
    pages = []
    for row in range(rows):
        for column in range(columns):
            corner = np.array([column, row]) * step
            shift = np.array([[1.0, 0, LEFT - corner[0]], [0, 1, BOTTOM - corner[1]], [0, 0, 1]])
            tile = Tile(
                part=part,
                page_from_flat=shift @ matrix,
                window=(LEFT, BOTTOM, LEFT + room[0], BOTTOM + room[1]),
                cell=(column, row),
                cells=(columns, rows),
                seams=_seams((column, row), (columns, rows), room),
            )
            pages.append(Page(tiles=(tile,), mirrored=mirrored))
    return pages


def _seams(cell: tuple[int, int], cells: tuple[int, int], room: Size) -> Array:
    """Return crosshairs on this page's seams: two on each, at a quarter and three quarters of the window."""
    width, height = room
    marks = []
    for side, there in ((OVERLAP / 2, cell[0] > 0), (width - OVERLAP / 2, cell[0] < cells[0] - 1)):
        if there:
            marks += [(LEFT + side, BOTTOM + share * height) for share in (0.25, 0.75)]
    for side, there in ((OVERLAP / 2, cell[1] > 0), (height - OVERLAP / 2, cell[1] < cells[1] - 1)):
        if there:
            marks += [(LEFT + share * width, BOTTOM + side) for share in (0.25, 0.75)]
    return np.array(marks).reshape(-1, 2)


def _shared(parts: list[int], turned: list[tuple[Array, Size]], room: Size, mirrored: bool) -> list[Page]:
    """Return pages of whole parts in rows, the tallest first."""
    pages: list[list[Tile]] = []
    at, row_height, page = [0.0, 0.0], 0.0, -1
    for i in sorted(parts, key=lambda i: (-turned[i][1][1], i)):
        matrix, (width, height) = turned[i]
        if page < 0 or at[0] + width > room[0]:
            at = [0.0, at[1] + row_height + GAP if page >= 0 else 0.0]
            row_height = height
        if page < 0 or at[1] + height > room[1]:
            pages.append([])
            page, at, row_height = page + 1, [0.0, 0.0], height
        shift = np.array([[1.0, 0, LEFT + at[0]], [0, 1, BOTTOM + at[1]], [0, 0, 1]])
        pages[page].append(
            Tile(
                part=i,
                page_from_flat=shift @ matrix,
                window=(LEFT, BOTTOM, LEFT + room[0], BOTTOM + room[1]),
                cell=(0, 0),
                cells=(1, 1),
                seams=np.zeros((0, 2)),
            )
        )
        at[0] += width + GAP
    return [Page(tiles=tuple(tiles), mirrored=mirrored) for tiles in pages]
