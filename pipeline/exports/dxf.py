"""Drawings as DXF R2010, in millimetres.

Entity text is written here and set into a shell (``dxf_shell``); both follow the published *DXF Reference*. Shapes
become closed LWPOLYLINEs with bulges, or exact closed rational SPLINEs of degree 2; lines become LINEs, notes TEXT.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain, count, islice
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.exports.drawing import Drawing, Layer, Shape
from pipeline.exports.dxf_shell import FIRST_FREE, MODEL_SPACE, Box, after_entities, before_entities
from pipeline.exports.numbers import rounded
from pipeline.geometry.arcs import SAME
from pipeline.geometry.curves import Curve, Path, bounds, normalised_weights, piece

Array = NDArray[np.float64]

COLOUR_INDEX: dict[Layer, int] = {
    Layer.OUTLINE: 3,
    Layer.HOLES: 6,
    Layer.FOLD: 2,
    Layer.GUIDE: 4,
    Layer.PLACE: 1,
    Layer.BEVEL: 5,
    Layer.NOTES: 8,
}
"""For programs without true colours: the plain colours, one for each layer so that layers never run together."""

COORDINATE_DECIMALS = 6
RATIO_DECIMALS = 12
"""Of bulges, and of everything of a spline, whose points are to be exact to 1e-9 mm."""

CLOSED, RATIONAL, PLANAR = 1, 4, 8
"""Bits of a SPLINE's group 70."""
MIN_WEIGHT = 0.05
"""A conic whose middle weight is smaller is halved first: its middle control point lies too far out."""

UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]+")


def write_dxf(drawing: Drawing, curve_tolerance: float, curves: Literal["arcs", "splines"] = "arcs") -> bytes:
    """Return the drawing as the bytes of a DXF file, as every `WriteDrawing` does.

    Parameters
    ----------
    drawing, curve_tolerance
        As in `WriteDrawing`.
    curves
        ``"arcs"``: bulges fitted within the tolerance. ``"splines"``: exact splines for loops that are not all
        straight.
    """
    handles = count(FIRST_FREE)
    # Guides and folds are made while the part is still held by its sheet, so they come first.
    entities = [_lines(layer, drawing.lines[layer], handles) for layer in Layer if layer in drawing.lines]
    entities += [_shape(shape, curve_tolerance, curves, handles) for shape in drawing.shapes]
    entities += [_text(text.at, text.height, text.text, next(handles)) for text in drawing.texts]
    layers = [(layer.value, COLOUR_INDEX[layer], _true_colour(drawing.colours[layer])) for layer in Layer]
    head = before_entities(layers, drawing_bounds(drawing), next(handles))
    return (head + "".join(entities) + after_entities()).encode("utf-8")


@lru_cache(maxsize=8)  # each drawing is written in several formats
def drawing_bounds(drawing: Drawing) -> Box:
    """Return least x, least y, greatest x, greatest y over shapes, lines and the corners of notes; zeros if empty."""
    points = [bounds(shape.path) for shape in drawing.shapes]
    points += [lines.reshape(-1, 2) for lines in drawing.lines.values() if len(lines)]
    points += [np.array([text.at]) for text in drawing.texts]
    if not points:
        return 0.0, 0.0, 0.0, 0.0
    stack = rounded(np.vstack(points), COORDINATE_DECIMALS)
    (x0, y0), (x1, y1) = stack.min(axis=0).tolist(), stack.max(axis=0).tolist()
    return x0, y0, x1, y1


def _true_colour(text: str) -> int:
    return int(text[1:], 16)


def _entity(kind: str, handle: int, layer: str, *subclasses: str) -> str:
    marks = "".join(f"100\n{name}\n" for name in subclasses)
    return f"  0\n{kind}\n  5\n{handle:X}\n330\n{MODEL_SPACE}\n100\nAcDbEntity\n  8\n{layer}\n{marks}"


def _shape(shape: Shape, tolerance: float, form: str, handles: Iterator[int]) -> str:
    if form == "splines" and not all(curve.straight for curve in shape.path):
        return _spline(shape, next(handles))
    return _polyline(shape, tolerance, next(handles))


def _polyline(shape: Shape, tolerance: float, handle: int) -> str:
    bulges = shape.fitted(tolerance)
    places = rounded(bulges.points[:, :2], COORDINATE_DECIMALS).tolist()
    turns = rounded(bulges.points[:, 2], RATIO_DECIMALS).tolist()
    head = _entity("LWPOLYLINE", handle, shape.layer, "AcDbPolyline") + f" 90\n{len(places)}\n 70\n{int(bulges.closed)}\n 43\n0.0\n"
    vertices = [
        f" 10\n{x:.6f}\n 20\n{y:.6f}\n" + (f" 42\n{turn:.12f}\n" if turn else "")
        for (x, y), turn in zip(places, turns, strict=True)
    ]
    return head + "".join(vertices)


def _spline(shape: Shape, handle: int) -> str:
    """Return a loop as one closed rational quadratic SPLINE: double knots where its curves meet."""
    points = _spline_points(shape.path)
    if np.abs(points[0] - points[-1]).max() > SAME:
        raise ValueError(f"a shape on {shape.layer} is not closed")
    pieces = (len(points) - 1) // 2
    knots = [0, *np.repeat(np.arange(pieces + 1), 2).tolist(), pieces]
    places = rounded(points[:, :2], RATIO_DECIMALS).tolist()
    weights = rounded(points[:, 2], RATIO_DECIMALS).tolist()
    flags = CLOSED | RATIONAL | PLANAR
    head = _entity("SPLINE", handle, shape.layer, "AcDbSpline")
    head += f"210\n0.0\n220\n0.0\n230\n1.0\n 70\n{flags}\n 71\n2\n 72\n{len(knots)}\n 73\n{len(places)}\n 74\n0\n"
    return (
        head
        + "".join(f" 40\n{knot:.1f}\n" for knot in knots)
        + "".join(f" 41\n{weight:.12f}\n" for weight in weights)
        + "".join(f" 10\n{x:.12f}\n 20\n{y:.12f}\n 30\n0.0\n" for x, y in places)
    )


def _spline_points(path: Path) -> Array:
    """Return ``(2 n + 1, 3)`` x, y and weight: the curves' ends, all of weight 1, and a middle point for each."""
    rows: list[Array] = []
    for curve in _tame(path):
        control, weights = normalised_weights(curve)
        if curve.straight:
            control, weights = np.array([control[0], (control[0] + control[1]) / 2, control[1]]), np.ones(3)
        rows += [np.append(control[0], 1.0), np.append(control[1], weights[1])]
    rows.append(np.append(path[-1].end, 1.0))
    return np.array(rows)


def _tame(path: Path) -> Iterator[Curve]:
    for curve in path:
        weights = curve.points[:, -1]
        if np.abs(curve.end - curve.start).max() == 0:
            continue
        if not curve.straight and weights[1] <= MIN_WEIGHT * np.sqrt(weights[0] * weights[2]):
            yield from _tame((piece(curve, 0.0, 0.5), piece(curve, 0.5, 1.0)))
        else:
            yield curve


def _lines(layer: Layer, lines: Array, handles: Iterator[int]) -> str:
    """Return LINE entities of ``(n, 2, 2)`` lines; one whose ends are written alike is left out."""
    rows = rounded(lines, COORDINATE_DECIMALS).reshape(-1, 4)
    rows = rows[(rows[:, :2] != rows[:, 2:]).any(axis=1)]
    head = _entity("LINE", 0, layer, "AcDbLine").replace("  5\n0\n", "  5\n%X\n")
    form = head + " 10\n%.6f\n 20\n%.6f\n 30\n0.0\n 11\n%.6f\n 21\n%.6f\n 31\n0.0\n"
    # All lines at once: half the time of one after the other.
    values = chain.from_iterable(zip(islice(handles, len(rows)), *rows.T.tolist(), strict=True))
    return form * len(rows) % tuple(values)


def _text(at: tuple[float, float], height: float, text: str, handle: int) -> str:
    x, y, tall = rounded([*at, height], COORDINATE_DECIMALS).tolist()
    place = f" 10\n{x:.6f}\n 20\n{y:.6f}\n 30\n0.0\n 40\n{tall:.6f}\n"
    words = f"  1\n{plain_text(text)}\n  7\nStandard\n100\nAcDbText\n"
    return _entity("TEXT", handle, Layer.NOTES, "AcDbText") + place + words


def plain_text(text: str) -> str:
    """Return a note as one line that reads as itself.

    Control characters and line breaks become a blank; a caret, which would start a control code, is followed by a
    blank as the *DXF Reference* asks, and doubled percent signs, which would start a symbol, are parted.
    """
    line = UNPRINTABLE.sub(" ", text).replace("^", "^ ")
    return re.sub("%(?=%)", "% ", line)
