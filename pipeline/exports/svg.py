"""Drawings as SVG at true size: plain strings, a group for each layer in cutting order, y down."""

from __future__ import annotations

import math
from collections.abc import Callable
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from pipeline.exports.drawing import CUTTING_ORDER, Drawing, Layer, Shape, Text
from pipeline.exports.dxf import drawing_bounds, plain_text
from pipeline.exports.numbers import rounded

Array = NDArray[np.float64]
Place = Callable[[Array], Array]

DECIMALS = 4
MARGIN = 2.0
"""mm of empty paper on each side."""
HAIRLINE = 0.07
"""mm; laser drivers take lines under about 0.076 mm (0.003 in) as cuts, not as areas to engrave."""
CAP_HEIGHT = 0.7
"""Height of a capital over the font size, near enough for common sans-serif faces."""
ADVANCE = 0.62
"""Mean width of a letter over the font size, for the room a note needs."""


def write_svg(drawing: Drawing, curve_tolerance: float) -> bytes:
    """Return the drawing as the bytes of an SVG file, in mm, as every `WriteDrawing` does.

    Width, height and viewBox bear the same numbers; the origin is the upper left corner.
    """
    x0, y0, x1, y1 = _extent(drawing)
    width, height = (f"{size:.{DECIMALS}f}" for size in (x1 - x0 + 2 * MARGIN, y1 - y0 + 2 * MARGIN))
    origin = np.array([x0 - MARGIN, y1 + MARGIN])

    def place(points: Array) -> Array:
        """Return flat ``(..., 2)`` points on the paper."""
        return rounded((points - origin) * [1.0, -1.0], DECIMALS)

    groups = "".join(_group(drawing, layer, curve_tolerance, place) for layer in CUTTING_ORDER)
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke-width="{HAIRLINE}" stroke-linejoin="round">\n'
        f"<title>{escape(plain_text(drawing.title))}</title>\n{groups}</svg>\n"
    )
    return text.encode("utf-8")


def _extent(drawing: Drawing) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = drawing_bounds(drawing)
    for text in drawing.texts:
        x1 = max(x1, text.at[0] + ADVANCE * len(text.text) * text.height / CAP_HEIGHT)
        y1 = max(y1, text.at[1] + text.height)
    return x0, y0, x1, y1


def _group(drawing: Drawing, layer: Layer, tolerance: float, place: Place) -> str:
    content = [_shape(shape, tolerance, place) for shape in drawing.shapes if shape.layer == layer]
    if layer in drawing.lines and len(drawing.lines[layer]):
        content.append(_lines(drawing.lines[layer], place))
    if layer == Layer.NOTES:
        content += [_text(text, drawing.colours[layer], place) for text in drawing.texts]
    return f'<g id="{layer}" stroke="{escape(drawing.colours[layer])}">\n{"".join(content)}</g>\n'


def _shape(shape: Shape, tolerance: float, place: Place) -> str:
    bulges = shape.fitted(tolerance)
    vertices = place(bulges.points[:, :2])
    following = np.roll(vertices, -1, axis=0)
    chords = np.hypot(*(following - vertices).T)
    count = len(vertices) if bulges.closed else len(vertices) - 1
    x, y = vertices[0].tolist()
    steps = [
        _step(bulge, chord, u, v)
        for bulge, chord, (u, v) in zip(bulges.points[:, 2].tolist(), chords.tolist(), following.tolist(), strict=True)
    ][:count]
    return f'<path d="M{x:.4f} {y:.4f}{"".join(steps)}{"Z" if bulges.closed else ""}"/>\n'


def _step(bulge: float, chord: float, x: float, y: float) -> str:
    """Return the path command of one segment; seen from above, y down, counter-clockwise has the sweep flag 0."""
    if bulge == 0:
        return f"L{x:.4f} {y:.4f}"
    radius = chord / (2 * math.sin(2 * math.atan(abs(bulge))))
    return f"A{radius:.6f} {radius:.6f} 0 0 {int(bulge < 0)} {x:.4f} {y:.4f}"


def _lines(lines: Array, place: Place) -> str:
    rows = place(lines).reshape(-1, 4)
    rows = rows[(rows[:, :2] != rows[:, 2:]).any(axis=1)]
    return f'<path d="{"M%.4f %.4fL%.4f %.4f" * len(rows) % tuple(rows.ravel().tolist())}"/>\n'


def _text(text: Text, colour: str, place: Place) -> str:
    x, y = place(np.array(text.at)).tolist()
    size = text.height / CAP_HEIGHT
    style = f'font-family="sans-serif" font-size="{size:.4f}" fill="{escape(colour)}" stroke="none"'
    return f'<text x="{x:.4f}" y="{y:.4f}" {style}>{escape(plain_text(text.text))}</text>\n'
