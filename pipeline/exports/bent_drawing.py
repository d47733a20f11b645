"""A bent panel as a neutral drawing in its flat frame."""

from __future__ import annotations

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.geometry.regions import path_of
from pipeline.parts.bent import BentPanel

LETTER = 3.0
"""mm, height of a note."""


def draw_bent(panel: BentPanel, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing of a bent panel laid flat, as seen on its visible face, nominal, kerf not applied."""
    material = f"{panel.web.sheet.material} {panel.thickness:g} mm"
    return Drawing(
        title=panel.id,
        shapes=(Shape(layer=Layer.OUTLINE, path=path_of(panel.cut.outline)),),
        lines={Layer.GUIDE: panel.guides, Layer.FOLD: panel.folds},
        texts=(Text(at=(0.0, -2 * LETTER), height=LETTER, text=f"{panel.id}  {material}  visible face"),),
        colours=colours,
    )
