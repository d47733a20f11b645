"""A stencil as a neutral drawing in the flat frame of its panel."""

from __future__ import annotations

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.exports.panel_drawing import LETTER
from pipeline.geometry import curves
from pipeline.geometry.curves import bounds
from pipeline.geometry.regions import path_of
from pipeline.parts.stencils import BRIDGE, Stencil


def draw_stencil(stencil: Stencil, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing of a stencil as it is laid on the visible face, nominal, kerf not applied.

    The panel's edges stand on PLACE: they are laid on the real ones.
    """
    low = bounds(path_of(stencil.cut.outline))[0]
    shapes = [Shape(layer=Layer.OUTLINE, path=path_of(stencil.cut.outline))]
    shapes += [Shape(layer=Layer.HOLES, path=path_of(loop)) for loop in stencil.cut.holes]
    shapes += [
        Shape(layer=Layer.PLACE, path=(curves.line(start, end),), closed=False) for start, end in stencil.register
    ]
    return Drawing(
        title=stencil.id,
        shapes=tuple(shapes),
        lines={},
        texts=(Text(at=(float(low[0]), float(low[1]) - 2 * LETTER), height=LETTER, text=note_of(stencil)),),
        colours=colours,
    )


def note_of(stencil: Stencil) -> str:
    """Return the line written beside a stencil."""
    bridges = f", touch up {stencil.islands} bridge{'s' * (stencil.islands > 1)} of {BRIDGE:g} mm"
    pins = f", pins {stencil.number}" if stencil.number and len(stencil.pins) else ""
    return f"{stencil.id}  spray {stencil.kind}{pins}{bridges if stencil.islands else ''}  this side up"
