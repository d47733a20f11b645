"""A net as a neutral drawing."""

from __future__ import annotations

import numpy as np

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.exports.panel_drawing import LETTER, SMALL, fold_note
from pipeline.geometry import frames
from pipeline.geometry.regions import path_of
from pipeline.parts.model import Panel
from pipeline.parts.nets import Net


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
        for one in panel.additions:
            if one.fold is not None:
                line = net.placed(panel.id, one.fold[None])[0]
                texts.append(fold_note(line, one.fold_deg))
        if len(panel.leaves) == 2:
            texts += [fold_note(line, leaf_fold_deg(panel)) for line in net.placed(panel.id, panel.folds[:1])]
    texts += [fold_note(crease.ends, crease.angle_deg) for crease in net.creases]
    return Drawing(
        title=net.id,
        shapes=tuple(shapes),
        lines={Layer.GUIDE: net.guides, Layer.FOLD: net.folds},
        texts=tuple(texts),
        colours=colours,
    )


def leaf_fold_deg(panel: Panel) -> float:
    """Return how far a panel is folded toward its visible side at the apron's end, degrees; below zero away from it."""
    near, far = (leaf.built_from_flat[:3, 2] for leaf in panel.leaves)
    away = panel.leaves[1].built_from_flat[:3, :2] @ _into_far(panel)
    turn = np.arctan2(np.linalg.norm(np.cross(near, far)), near @ far)
    return float(np.degrees(turn) * np.sign(away @ near))


def _into_far(panel: Panel) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return the flat unit direction from the fold into the far leaf."""
    start, end = panel.folds[0]
    near, far = (leaf.built_from_flat for leaf in panel.leaves)
    way = (end - start) / np.linalg.norm(end - start)
    left = np.array([-way[1], way[0]])
    deeper = (far[:3, :2] @ left)[1] + (near[:3, :2] @ left)[1]
    return left if deeper > 0 else -left


def _note(net: Net) -> str:
    return f"{net.id}  {net.material} {net.thickness:g} mm  visible face  fold along the lines, valleys toward you"
