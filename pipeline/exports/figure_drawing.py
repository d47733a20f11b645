"""A paper figure: the outline of somebody who stands, with a foot to fold back onto the floor."""

from __future__ import annotations

import numpy as np

from pipeline.elements.figure import FOOT
from pipeline.elements.figure_outline import SOLE, figure_outline
from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.exports.panel_drawing import LETTER, fold_note
from pipeline.room.figuring import Standing


def draw_figure(figure: Standing, colours: dict[Layer, str]) -> Drawing:
    """Return a figure's outline at its built height, flat mm; the floor is at 0 and the foot hangs below it."""
    foot = FOOT * figure.height
    outline = figure_outline(figure.height, foot)
    half = SOLE * figure.height
    fold = np.array([[-half, 0.0], [half, 0.0]])
    turned = -(90.0 + figure.slope_deg)
    name = f"{figure.name} {figure.height:.1f} mm, fold foot back {-turned:.0f} deg  visible face"
    return Drawing(
        title=figure.name,
        shapes=(Shape(layer=Layer.OUTLINE, path=outline),),
        lines={Layer.FOLD: fold[None]},
        texts=(Text(at=(-half, -foot - 2 * LETTER), height=LETTER, text=name), fold_note(fold, turned)),
        colours=colours,
    )
