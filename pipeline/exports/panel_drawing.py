"""A panel as a neutral drawing in its flat frame."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.geometry.curves import Path, bounds, signed_area
from pipeline.geometry.regions import Loop, path_of
from pipeline.parts.model import Panel

Array = NDArray[np.float64]

SAME = 1e-6
"""mm; a hidden outline that differs by less is the visible one."""

LETTER, SMALL = 3.0, 2.0
"""mm, height of a note beside the panel and of one on it."""
BREADTH, LINE = 0.75, 1.4
"""Of a letter's height: how wide letters are, more or less, and how far lines are apart."""


def draw_panel(panel: Panel, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing of a panel as seen on its visible face, nominal, kerf not applied."""
    shapes = [Shape(layer=Layer.OUTLINE, path=path_of(panel.cut.outline))]
    shapes += [Shape(layer=Layer.HOLES, path=path_of(loop)) for loop in panel.cut.holes]
    for front, back in zip(panel.cut.loops, panel.hidden.loops, strict=True):
        if _differ(front, back):
            shapes.append(Shape(layer=Layer.BEVEL, path=path_of(back)))
    shapes += [Shape(layer=Layer.PLACE, path=path) for path in panel.places]
    shapes += [Shape(layer=Layer.PLACE, path=path) for _, path in panel.hidden_places]
    shapes += [Shape(layer=Layer.PLACE, path=path) for _, path in panel.light_places]
    low = bounds(path_of(panel.hidden.outline) + path_of(panel.cut.outline))[0]
    lines = {Layer.GUIDE: panel.guides, Layer.FOLD: panel.folds}
    if len(panel.partings):
        lines[Layer.NOTES] = panel.partings  # an offer, not a cut
    return Drawing(
        title=panel.id,
        shapes=tuple(shapes),
        lines=lines,
        texts=(
            Text(at=(0.0, float(low[1]) - 2 * LETTER), height=LETTER, text=note_of(panel)),
            *panel_marks(panel),
            *(fold_note(line, angle) for line, angle in panel_folds(panel)),
        ),
        colours=colours,
    )


def panel_marks(panel: Panel) -> tuple[Text, ...]:
    """Return what is written at the closed marks on a panel: hidden parts, light and shadow, figures, pins."""
    hidden = [_hidden_note(name, path) for name, path in panel.hidden_places]
    return apart([*(_label(words, path) for words, path in panel.labels), *hidden, *_light_notes(panel)])


def apart(texts: list[Text]) -> tuple[Text, ...]:
    """Return texts in their order, each moved up or down by the fewest lines that keep it off those before it."""
    placed: list[Text] = []
    for text in texts:
        x, y = text.at
        lines = (half // 2 * (1 if half % 2 else -1) for half in count(1))  # 0, -1, 1, -2, 2, ...
        moved = (replace(text, at=(x, y + line * LINE * text.height)) for line in lines)
        placed.append(next(one for one in moved if not any(_on_one_another(one, other) for other in placed)))
    return tuple(placed)


def _on_one_another(one: Text, other: Text) -> bool:
    (x, y), (u, v) = one.at, other.at
    wide, broad = (BREADTH * text.height * len(text.text) for text in (one, other))
    return x < u + broad and u < x + wide and abs(y - v) < LINE * max(one.height, other.height) * (1 - 1e-9)


def note_of(panel: Panel) -> str:
    """Return the line written beside a panel."""
    return f"{panel.id}  {panel.face.sheet.material} {panel.thickness:g} mm  visible face"


def panel_folds(panel: Panel) -> list[tuple[Array, float]]:
    """Return the folds of a panel, its flaps' and that of its leaves: a line ``(2, 2)`` flat, and degrees."""
    folds = [(one.fold, one.fold_deg) for one in panel.additions if one.fold is not None]
    if len(panel.leaves) == 2:
        folds += [(line, leaf_fold_deg(panel)) for line in panel.folds[:1]]
    return folds


def fold_note(line: Array, angle_deg: float) -> Text:
    """Return what is written at a fold ``(2, 2)``, in its middle."""
    x, y = line.mean(axis=0)
    return Text(at=(float(x), float(y)), height=SMALL, text=fold_words(angle_deg))


def fold_words(angle_deg: float) -> str:
    """Return how far a fold is turned from flat, and whether toward the one who looks at the visible face."""
    return f"{'valley' if angle_deg > 0 else 'mountain'} {abs(angle_deg):.1f} deg"


def leaf_fold_deg(panel: Panel) -> float:
    """Return how far a panel is folded toward its visible side at the apron's end, degrees; below zero away from it."""
    near, far = (leaf.built_from_flat[:3, 2] for leaf in panel.leaves)
    away = panel.leaves[1].built_from_flat[:3, :2] @ _into_far(panel)
    turn = np.arctan2(np.linalg.norm(np.cross(near, far)), near @ far)
    return float(np.degrees(turn) * np.sign(away @ near))


def _into_far(panel: Panel) -> Array:
    """Return the flat unit direction ``(2,)`` from the fold into the far leaf."""
    start, end = panel.folds[0]
    near, far = (leaf.built_from_flat for leaf in panel.leaves)
    way = (end - start) / np.linalg.norm(end - start)
    left = np.array([-way[1], way[0]])
    deeper = (far[:3, :2] @ left)[1] + (near[:3, :2] @ left)[1]
    return left if deeper > 0 else -left


def _hidden_note(name: str, path: Path) -> Text:
    """Return what is written at a place of the hidden face, so that nobody scores it into the visible one."""
    low, high = bounds(path)
    return Text(at=(float(high[0]) + SMALL / 2, float(low[1])), height=SMALL, text=f"{name}, hidden face")


def _label(words: str, path: Path) -> Text:
    """Return what is written beside a mark of the visible face."""
    low, high = bounds(path)
    return Text(at=(float(high[0]) + SMALL / 2, float((low[1] + high[1] - SMALL) / 2)), height=SMALL, text=words)


def _light_notes(panel: Panel) -> list[Text]:
    """Return what is written within borders of light and shadow, once for each light: at the largest of them."""
    largest: dict[str, tuple[float, Path]] = {}
    for words, path in panel.light_places:
        area = abs(signed_area(path))
        if words and area > largest.get(words, (0.0, path))[0]:
            largest[words] = (area, path)
    return [_light_note(words, path) for words, (_, path) in largest.items()]


def _light_note(words: str, path: Path) -> Text:
    low, high = bounds(path)
    x, y = (low + high) / 2
    return Text(at=(float(x), float(y)), height=SMALL, text=words)


def _differ(front: Loop, back: Loop) -> bool:
    if len(front) != len(back):
        return True
    ends = [(a.start - b.start, a.end - b.end) for a, b in zip(path_of(front), path_of(back), strict=True)]
    return bool(np.abs(np.array(ends)).max() > SAME)
