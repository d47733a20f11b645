"""Drawings as DXF R12 (AC1009), for machines whose programs read nothing newer.

Written from the published *DXF Reference*, release 12: paths are POLYLINEs of VERTEX entities with bulges, lines LINEs,
notes TEXTs. R12 knows neither units nor true colours: what a number means is said in a comment and in a note, and
layers have the plain colours.
"""

from __future__ import annotations

import numpy as np

from pipeline.exports.drawing import Drawing, Layer, Shape
from pipeline.exports.dxf import COLOUR_INDEX, COORDINATE_DECIMALS, RATIO_DECIMALS, drawing_bounds, plain_text
from pipeline.exports.dxf_shell import tags
from pipeline.exports.numbers import rounded

UNITS = "all sizes in mm, 1 unit = 1 mm"
LETTER = 3.0
"""mm, height of the note of units below the drawing."""


def write_r12(drawing: Drawing, curve_tolerance: float) -> bytes:
    """Return the drawing as the bytes of a DXF R12 file, as every `WriteDrawing` does."""
    x0, y0, x1, y1 = drawing_bounds(drawing)
    texts = [(text.at, text.height, text.text) for text in drawing.texts]
    texts.append(((x0, y0 - 2 * LETTER), LETTER, UNITS))
    entities = [_lines(layer, drawing.lines[layer]) for layer in Layer if layer in drawing.lines]
    entities += [_polyline(shape, curve_tolerance) for shape in drawing.shapes]
    entities += [_text(*text) for text in texts]
    header = tags(
        (9, "$ACADVER"), (1, "AC1009"),
        (9, "$EXTMIN"), (10, f"{x0:.6f}"), (20, f"{y0 - 2 * LETTER:.6f}"),
        (9, "$EXTMAX"), (10, f"{x1:.6f}"), (20, f"{y1:.6f}"),
    )  # fmt: skip
    return (
        tags((999, UNITS), (0, "SECTION"), (2, "HEADER"))
        + header
        + tags((0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"))
        + _tables()
        + tags((0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES"))
        + "".join(entities)
        + tags((0, "ENDSEC"), (0, "EOF"))
    ).encode("ascii", "replace")


def _tables() -> str:
    line_type = tags((0, "LTYPE"), (2, "CONTINUOUS"), (70, 0), (3, "Solid line"), (72, 65), (73, 0), (40, 0.0))
    layers = [("0", 7), *((layer.value, COLOUR_INDEX[layer]) for layer in Layer)]
    rows = "".join(tags((0, "LAYER"), (2, name), (70, 0), (62, index), (6, "CONTINUOUS")) for name, index in layers)
    style = tags((0, "STYLE"), (2, "STANDARD"), (70, 0), (40, 0.0), (41, 1.0), (50, 0.0), (71, 0), (42, 2.5), (3, "txt"))
    style += tags((4, ""))
    return _table("LTYPE", 1, line_type) + _table("LAYER", len(layers), rows) + _table("STYLE", 1, style)


def _table(name: str, count: int, rows: str) -> str:
    return tags((0, "TABLE"), (2, name), (70, count)) + rows + tags((0, "ENDTAB"))


def _polyline(shape: Shape, tolerance: float) -> str:
    bulges = shape.fitted(tolerance)
    places = rounded(bulges.points[:, :2], COORDINATE_DECIMALS).tolist()
    turns = rounded(bulges.points[:, 2], RATIO_DECIMALS).tolist()
    head = f"  0\nPOLYLINE\n  8\n{shape.layer}\n 66\n1\n 10\n0.0\n 20\n0.0\n 30\n0.0\n 70\n{int(bulges.closed)}\n"
    vertices = [
        f"  0\nVERTEX\n  8\n{shape.layer}\n 10\n{x:.6f}\n 20\n{y:.6f}\n 30\n0.0\n"
        + (f" 42\n{turn:.12f}\n" if turn else "")
        for (x, y), turn in zip(places, turns, strict=True)
    ]
    return head + "".join(vertices) + f"  0\nSEQEND\n  8\n{shape.layer}\n"


def _lines(layer: Layer, lines: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
    rows = rounded(lines, COORDINATE_DECIMALS).reshape(-1, 4)
    rows = rows[(rows[:, :2] != rows[:, 2:]).any(axis=1)]
    form = f"  0\nLINE\n  8\n{layer}\n 10\n%.6f\n 20\n%.6f\n 30\n0.0\n 11\n%.6f\n 21\n%.6f\n 31\n0.0\n"
    return form * len(rows) % tuple(rows.ravel().tolist())


def _text(at: tuple[float, float], height: float, text: str) -> str:
    x, y, tall = rounded([*at, height], COORDINATE_DECIMALS).tolist()
    place = f" 10\n{x:.6f}\n 20\n{y:.6f}\n 30\n0.0\n 40\n{tall:.6f}\n"
    return f"  0\nTEXT\n  8\n{Layer.NOTES}\n{place}  1\n{plain_text(text)}\n"
