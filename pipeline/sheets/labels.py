"""Names beside the pieces of a sheet, in what is cut away.

Terms
-----
box
    The rectangle a name fills, upright or turned by a quarter.
leader
    A thin line from a box to the piece it names, where the box could not stand right beside it.

A name drawn on a piece would show: its drawn side is the visible one. So names go into the waste, nearer to their own
piece than to any other; where a sheet is packed too tightly, a leader tells whose it is. A piece that finds no place
at all is named on itself, and the sheet says that such names are for its hidden side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

from pipeline.sheets.letters import letter_strokes, text_width

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Size = tuple[float, float]

HEIGHTS = (3.0, 2.2, 1.6, 1.2)
"""mm of a letter, tried in turn; smaller ones cannot be read once burnt."""
OWN, OTHERS = 0.6, 1.4
"""mm between a name and its own piece, and between it and other pieces: more, so that it is clear whose it is."""
REACHES = (0.0, 6.0, 14.0, 28.0)
"""mm farther out, with a leader."""
EDGE = 1.0
"""mm between a name and the sheet's edge, or another name."""
STEP = 4.0
"""mm between the places tried along a piece's outline."""
TICK = 0.4
"""mm left between a leader and what it touches."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Label:
    """A name as it lies on the sheet.

    Attributes
    ----------
    strokes
        ``(n, 2, 2)`` mm, the leader among them.
    on_piece
        Whether it found no place beside its piece.
    """

    strokes: Array
    on_piece: bool


class _Sheet:
    """A sheet being labelled: its size, its kerf, the pieces on it, and the boxes taken already."""

    def __init__(self, pieces: Sequence[shapely.Polygon], size: Size, kerf: float) -> None:
        self.size, self.kerf, self.pieces = np.array(size), kerf, pieces
        self.tree = shapely.STRtree(pieces)
        self.taken: list[Array] = []

    def free(self, boxes: Array, index: int) -> Flags:
        """Return which boxes lie on the sheet, clear of their own piece, and clearer of all other things."""
        low, high = boxes[:, :2], boxes[:, 2:]
        keep = np.asarray((low >= EDGE) & (high <= self.size - EDGE)).all(axis=1).astype(bool)
        for other in self.taken:
            keep &= ((low > other[2:] + EDGE) | (high < other[:2] - EDGE)).any(axis=1)
        rest = np.flatnonzero(keep)
        if len(rest):
            clear = np.ones(len(rest), dtype=bool)
            hits = self.tree.query(_grown(boxes[rest], OTHERS + self.kerf / 2), predicate="intersects")
            clear[hits[0][hits[1] != index]] = False
            clear &= ~np.asarray(shapely.intersects(_grown(boxes[rest], 0.9 * OWN + self.kerf / 2), self.pieces[index]))
            keep[rest] = clear
        return keep

    def reachable(self, points: Array, middles: Array, index: int) -> Flags:
        """Return which leaders from points of a piece to the middles of boxes cross no other piece."""
        clear = np.ones(len(points), dtype=bool)
        hits = self.tree.query(shapely.linestrings(np.stack([points, middles], axis=1)), predicate="intersects")
        clear[hits[0][hits[1] != index]] = False
        return clear


def place_labels(names: Sequence[str], pieces: Sequence[shapely.Polygon], size: Size, kerf: float) -> list[Label]:
    """Return a label for each piece.

    Parameters
    ----------
    names
        Of the pieces.
    pieces
        What each takes up, as it lies on the sheet, mm.
    size
        Of the sheet, mm.
    kerf
        Full width of the cut round each, mm.
    """
    sheet = _Sheet(pieces, size, kerf)
    return [
        next(
            (
                label
                for reach in REACHES
                for height in HEIGHTS
                if (label := _beside(name, height, reach, index, sheet)) is not None
            ),
            None,
        )
        or _upon(name, pieces[index])
        for index, name in enumerate(names)
    ]


def _beside(name: str, height: float, reach: float, index: int, sheet: _Sheet) -> Label | None:
    """Return a name beside its piece, taking up the room, or nothing where there is none."""
    own = sheet.pieces[index]
    wide = text_width(name, height)
    points, normals = _outline_places(own)
    for upright in (True, False):
        half = np.array([wide, height] if upright else [height, wide]) / 2
        # Along its normal a box of half sizes (a, b) reaches a |nx| + b |ny| from its middle.
        away = np.abs(normals) @ half + OWN + sheet.kerf / 2 + reach
        middles = points + normals * away[:, None]
        boxes = np.hstack([middles - half, middles + half])
        keep = sheet.free(boxes, index)
        if reach:
            keep &= sheet.reachable(points, middles, index)
        if keep.any():
            middle = np.array(shapely.centroid(own).coords[0])
            best = int(np.argmin(np.where(keep, np.linalg.norm(middles - middle, axis=1), np.inf)))
            sheet.taken.append(boxes[best])
            strokes = _written(name, height, middles[best], upright)
            if reach:
                strokes = np.concatenate([strokes, _leader(points[best], boxes[best])])
            return Label(strokes=strokes, on_piece=False)
    return None


def _outline_places(piece: shapely.Polygon) -> tuple[Array, Array]:
    """Return points ``(n, 2)`` along every ring and the unit normals there, out of the piece."""
    points, normals = [], []
    oriented = orient(piece)
    for ring in (oriented.exterior, *oriented.interiors):
        corners = np.asarray(ring.coords)
        sides = np.diff(corners, axis=0)
        lengths = np.linalg.norm(sides, axis=1)
        ends = np.concatenate([[0.0], np.cumsum(lengths)])
        count = max(8, int(ends[-1] / STEP))
        at = (np.arange(count) + 0.5) / count * ends[-1]
        side = np.clip(np.searchsorted(ends, at, side="right") - 1, 0, len(sides) - 1)
        share = ((at - ends[side]) / lengths[side])[:, None]
        points.append(corners[side] + share * sides[side])
        normals.append(np.column_stack([sides[side, 1], -sides[side, 0]]) / lengths[side, None])
    return np.vstack(points), np.vstack(normals)


def _grown(boxes: Array, by: float) -> NDArray[np.object_]:
    out: NDArray[np.object_] = shapely.box(*(boxes + np.array([-1, -1, 1, 1]) * by).T)
    return out


def _leader(point: Array, box: Array) -> Array:
    """Return the line ``(1, 2, 2)`` from the nearest place of a box to a point of the outline, a little short of it."""
    start = np.clip(point, box[:2], box[2:])
    way = (point - start) / np.linalg.norm(point - start)
    return np.array([[start + TICK * way, point - TICK * way]])


def _written(name: str, height: float, middle: Array, upright: bool) -> Array:
    strokes = letter_strokes(name, height) - np.array([text_width(name, height), height]) / 2
    if not upright:
        strokes = np.stack([-strokes[..., 1], strokes[..., 0]], axis=-1)
    out: Array = strokes + middle
    return out


def _upon(name: str, piece: shapely.Polygon) -> Label:
    """Return a name on its piece, where that is widest."""
    inner = shapely.maximum_inscribed_circle(piece, tolerance=0.5)
    middle = np.array(inner.coords[0])
    room = 2 * float(shapely.length(inner))
    height = max(0.8, min(HEIGHTS[0], HEIGHTS[0] * room / max(text_width(name, HEIGHTS[0]), 1e-9)))
    return Label(strokes=_written(name, height, middle, upright=True), on_piece=True)
