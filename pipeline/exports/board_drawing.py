"""A board of the box as a neutral drawing."""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.casework.boards import Board, Casework
from pipeline.casework.cut_list import end_words, rebate_words
from pipeline.casework.marks import hinge_marks
from pipeline.casework.shell import Array
from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.geometry.curves import Path, polyline
from pipeline.geometry.regions import path_of

LETTER, SMALL = 3.0, 2.0
"""mm, height of a note beside the board and of one on it."""
LINE = 5.0
"""mm from one note beside the board to the next."""


def draw_board(casework: Casework, board: Board, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing of a board as seen on its outside, nominal, kerf not applied, the grain along x.

    The saw's two borders and the hinges are on PLACE; rebates, which are in the inside, are on NOTES, so that no cutter
    scores them into the outside.
    """
    shapes = [Shape(layer=Layer.OUTLINE, path=path_of(board.cut.outline))]
    if not np.array_equal(board.corners, _starts(path_of(board.hidden.outline))):
        shapes.append(Shape(layer=Layer.BEVEL, path=path_of(board.hidden.outline)))
    shapes += [Shape(layer=Layer.PLACE, path=polyline(line), closed=False) for line in _saw_lines(board)]
    shapes += [Shape(layer=Layer.PLACE, path=polyline(line), closed=False) for line in hinge_marks(board, casework.hinging)]
    rings = rebate_rings(board)
    return Drawing(
        title=board.id,
        shapes=tuple(shapes),
        lines={Layer.NOTES: np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])}
        if rings
        else {},
        texts=tuple(_texts(casework, board)),
        colours=colours,
    )


def rebate_rings(board: Board) -> list[Array]:
    """Return where a board's rebates lie within its outline, ``(n, 2)`` each, counter-clockwise, flat mm."""
    outline = shapely.Polygon(board.corners)
    rings = []
    for rebate in board.rebates:
        inside = shapely.intersection(outline, shapely.box(*rebate.low, *rebate.high))
        for piece in shapely.get_parts(inside):
            if piece.geom_type == "Polygon" and piece.area > 0:
                ring = shapely.orient_polygons(shapely.simplify(piece, 0.0)).exterior
                rings.append(np.array(ring.coords)[:-1])
    return rings


def _saw_lines(board: Board) -> list[Array]:
    """Return the borders of what the saw takes out, ``(2, 2)`` each, across the whole board."""
    if board.saw is None:
        return []
    corners = board.corners
    lines = []
    for y in board.saw:
        # At the saw the board is as wide as its sawn finger, or its notch, makes it.
        band = shapely.intersection(shapely.Polygon(corners), shapely.LineString([[-1e7, y], [1e7, y]]))
        x0, _, x1, _ = band.bounds
        lines.append(np.array([[x0, y], [x1, y]]))
    return lines


def _texts(casework: Casework, board: Board) -> list[Text]:
    (length, _), hinging = board.size, casework.hinging
    said = [f"{board.id}  {board.thickness:g} mm  outside  grain along the length"]
    said.append(f"ends: {end_words(casework.shell, board)}")
    said += [f"inside: rebate {words}" for words in rebate_words(board)]
    texts = [
        Text(at=(0.0, -2 * LETTER - LINE * row), height=LETTER, text=text) for row, text in enumerate(said)
    ]  # fmt: skip
    if board.saw is not None:
        box, lid = board.saw
        below = box - hinging.screws  # clear of the hinges' marks
        notes = [f"box below; saw line {box:.2f} from the back edge, saw out {lid - box:g} mm above it"]
        if len(hinge_marks(board, hinging)):
            notes.append(f"hinges: screws {hinging.screws:g} from each rim, middles {hinging.from_ends:.1f} from the ends")
        texts += [
            Text(at=(length / 10, below - 2 * SMALL * (row + 1)), height=SMALL, text=note)
            for row, note in enumerate(notes)
        ]
        texts.append(Text(at=(0.45 * length, lid + SMALL), height=SMALL, text="lid above"))
    return texts


def _starts(path: Path) -> Array:
    return np.array([curve.start for curve in path])
