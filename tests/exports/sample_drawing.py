"""A drawing with everything a panel's drawing can hold: warped doorways, a circle, lines, a note."""

from __future__ import annotations

import math

import numpy as np

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.geometry import curves
from pipeline.geometry.curves import Array, Path

WARP = np.array([[1.0, 0.1, 0.0], [0.05, 0.9, 3.0], [0.0004, 0.0002, 1.0]])
TOLERANCE = 0.02


def doorway() -> Path:
    """Return a warped hole with a round head, clockwise."""
    jambs = curves.polyline(np.array([[40.0, 30], [60, 30], [60, 50]]))
    path = (*jambs, *curves.arc((50, 50), 10, 0, math.pi), curves.line([40, 50], [40, 30]))
    return curves.transform_path(curves.reverse_path(path), WARP)


def lancet() -> Path:
    """Return a warped hole with a pointed head, clockwise."""
    jambs = curves.polyline(np.array([[100.0, 30], [120, 30], [120, 50]]))
    head = curves.arc((100, 50), 20, 0, math.pi / 3) + curves.arc((120, 50), 20, 2 * math.pi / 3, math.pi)
    return curves.transform_path(curves.reverse_path((*jambs, *head, curves.line([100, 50], [100, 30]))), WARP)


def guides(count: int) -> Array:
    """Return ``(count, 2, 2)`` level lines of different lengths."""
    y = np.linspace(2, 88, count)
    right = 20 + 120 * np.modf(np.arange(count) * 0.618034)[0]
    return np.stack([np.column_stack([np.full(count, 1.0), y]), np.column_stack([right, y])], axis=1)


def sample(count: int = 50, title: str = "left wall", note: str = "left-wall") -> Drawing:
    """Return the drawing, with so many guides."""
    outline = curves.transform_path(curves.polygon(np.array([[0.0, 0], [150, 0], [150, 100], [0, 90]])), WARP)
    hidden = curves.polygon(np.array([[-2.0, -2], [155, -2], [155, 105], [-2, 95]]))
    return Drawing(
        title=title,
        shapes=(
            Shape(layer=Layer.OUTLINE, path=outline),
            Shape(layer=Layer.HOLES, path=doorway()),
            Shape(layer=Layer.HOLES, path=lancet()),
            Shape(layer=Layer.PLACE, path=curves.arc((80, 75), 8, 0, 2 * math.pi)),
            Shape(layer=Layer.BEVEL, path=hidden),
        ),
        lines={Layer.GUIDE: guides(count), Layer.FOLD: np.array([[[5.0, 0.0], [5.0, 90.0]]])},
        texts=(Text(at=(10.0, 5.0), height=3.0, text=note),),
    )
