"""A net as a neutral drawing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.exports.panel_drawing import LETTER, SMALL, apart, fold_note, panel_folds, panel_marks
from pipeline.geometry import frames
from pipeline.geometry.regions import path_of
from pipeline.parts.nets import Net

Array = NDArray[np.float64]


def draw_net(net: Net, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing of a net as seen on its visible faces, nominal, kerf not applied."""
    shapes = [Shape(layer=Layer.OUTLINE, path=path_of(net.cut.outline))]
    shapes += [Shape(layer=Layer.HOLES, path=path_of(loop)) for loop in net.cut.holes]
    texts = [Text(at=(0.0, -2 * LETTER), height=LETTER, text=_note(net))]
    for panel in net.panels:
        places = (*panel.places, *(path for _, path in (*panel.hidden_places, *panel.light_places)))
        shapes += [Shape(layer=Layer.PLACE, path=net.placed_path(panel.id, path)) for path in places]
        middle = np.mean([edge.curve.start for edge in panel.cut.outline], axis=0)
        x, y = frames.apply(net.net_from_flat[panel.id], middle[None])[0]
        texts.append(Text(at=(float(x), float(y)), height=SMALL, text=panel.id))
    texts += net_marks(net)
    texts += [fold_note(line, angle) for line, angle in net_folds(net)]
    return Drawing(
        title=net.id,
        shapes=tuple(shapes),
        lines={Layer.GUIDE: net.guides, Layer.FOLD: net.folds},
        texts=tuple(texts),
        colours=colours,
    )


def net_marks(net: Net) -> tuple[Text, ...]:
    """Return what is written at the marks of a net's panels, where they lie on it, level."""
    texts = []
    for panel in net.panels:
        for text in panel_marks(panel):
            x, y = frames.apply(net.net_from_flat[panel.id], np.array([text.at]))[0]
            texts.append(replace(text, at=(float(x), float(y))))
    return apart(texts)


def net_folds(net: Net) -> list[tuple[Array, float]]:
    """Return the folds of a net, where they lie on it: a line ``(2, 2)``, and degrees toward the visible side."""
    folds = [(net.placed(one.id, line[None])[0], angle) for one in net.panels for line, angle in panel_folds(one)]
    return [*folds, *((crease.ends, crease.angle_deg) for crease in net.creases)]


def _note(net: Net) -> str:
    return f"{net.id}  {net.material} {net.thickness:g} mm  visible face  fold along the lines, valleys toward you"
