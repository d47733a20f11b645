"""A filled sheet as a neutral drawing: kerf applied, in cutting order."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.geometry import curves, frames
from pipeline.sheets.kerf import widen
from pipeline.sheets.stock import Filled

Array = NDArray[np.float64]

CONTROL = 50.0
"""mm; a square on NOTES to measure before anything is cut."""

ORDER = (Layer.PLACE, Layer.BEVEL, Layer.HOLES, Layer.OUTLINE)
"""Inside before outside: a part that is already loose must not be cut again. Guides and folds come before all."""


def draw_sheet(filled: Filled, drawings: dict[str, Drawing], tolerance: float, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing of a sheet, lower left corner at 0.

    Parameters
    ----------
    filled
        What lies where.
    drawings
        The nominal drawing of every piece, by id.
    tolerance
        Of arcs to exact curves, mm.
    colours
        Of the layers.

    Raises
    ------
    pipeline.sheets.kerf.KerfError
        If a feature is narrower than the cut.
    """
    shapes: list[Shape] = []
    lines: dict[Layer, list[Array]] = {layer: [] for layer in Layer}
    texts = []
    for name, matrix in filled.placed:
        drawing = drawings[name]
        for shape in drawing.shapes:
            path = shape.path
            if shape.layer in (Layer.OUTLINE, Layer.HOLES):
                path = widen(path, filled.stock.kerf / 2, tolerance)
            shapes.append(Shape(layer=shape.layer, path=curves.transform_path(path, matrix)))
        for layer, rows in drawing.lines.items():
            lines[layer].append(frames.apply(matrix, rows.reshape(-1, 2)).reshape(-1, 2, 2))
        texts.append(_name(name, next(s for s in drawing.shapes if s.layer == Layer.OUTLINE), matrix))
    shapes.sort(key=lambda shape: (ORDER.index(shape.layer), abs(curves.signed_area(shape.path))))
    width, height = filled.stock.size
    lines[Layer.NOTES].append(_frame(width, height))
    lines[Layer.NOTES].append(_frame(CONTROL, CONTROL) + np.array([width - CONTROL, height + 5.0]))
    return Drawing(
        title=f"{filled.stock.name} {filled.number}",
        shapes=tuple(shapes),
        lines={layer: np.concatenate(rows) for layer, rows in lines.items() if rows},
        texts=(*texts, Text(at=(0.0, height + 5.0), height=4.0, text=_legend(filled))),
        colours=colours,
    )


def _legend(filled: Filled) -> str:
    stock = filled.stock
    kerf = f"kerf {stock.kerf:g} mm applied, {stock.kerf / 2:g} each side" if stock.kerf else "no kerf applied"
    return f"{stock.name} sheet {filled.number}, {stock.size[0]:g} x {stock.size[1]:g} mm, {kerf}"


def _name(name: str, outline: Shape, matrix: Array) -> Text:
    low, high = curves.bounds(curves.transform_path(outline.path, matrix))
    height = min(4.0, 0.8 * float(high[0] - low[0]) / max(1, len(name)))
    return Text(
        at=(float(low[0]) + 2.0, float(low[1] + high[1]) / 2), height=math.floor(height * 10) / 10 or 0.5, text=name
    )


def _frame(width: float, height: float) -> Array:
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
