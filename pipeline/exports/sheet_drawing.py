"""A filled sheet as a neutral drawing: kerf applied, in cutting order."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.exports.drawing import CUTTING_ORDER, Drawing, Layer, Shape, Text
from pipeline.geometry import curves, frames
from pipeline.geometry.bulges import Bulges, bulge_area, bulge_points
from pipeline.geometry.regions import Region
from pipeline.keeping.kept import around
from pipeline.sheets.bridges import bridged
from pipeline.sheets.kerf import KerfError, widen
from pipeline.sheets.labels import Label, place_labels
from pipeline.sheets.stock import Filled
from pipeline.sheets.tidying import lines_of, runs_without, without, without_stubs

Array = NDArray[np.float64]

CONTROL = 50.0
"""mm; a square on NOTES to measure before anything is cut."""

CUT = (Layer.OUTLINE, Layer.HOLES)
LETTER, LINE = 4.0, 6.0
"""mm, height of what is said above a sheet and of its lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridges:
    """Gaps that hold parts in their sheet: how wide, mm, and how many to an outline; a width of 0 leaves none."""

    width: float = 0.0
    count: int = 2


def draw_sheet(
    filled: Filled,
    drawings: dict[str, Drawing],
    tolerance: float,
    colours: dict[Layer, str],
    bridges: Bridges | None = None,
) -> Drawing:
    """Return the drawing of a sheet, lower left corner at 0.

    Parameters
    ----------
    filled
        What lies where.
    drawings
        The nominal drawing of every piece, by id.
    tolerance
        Of arcs to exact curves, mm.
    colours
        Of the layers.
    bridges
        What holds the parts; nothing for none.

    Raises
    ------
    pipeline.sheets.kerf.KerfError
        If a feature is narrower than the cut.
    """
    bridges = bridges or Bridges()
    shapes: list[tuple[tuple[int, float], Shape]] = []
    lines: dict[Layer, list[Array]] = {layer: [] for layer in Layer}
    nested = False
    for (name, matrix), piece in zip(filled.placed, filled.pieces, strict=True):
        # A sheet is drawn anew when one of its pieces has changed; the others lie as they did.
        laid = around().of(lay_piece, drawings[name], piece.cut, matrix, filled.stock.kerf / 2, tolerance, bridges)
        for shape in laid.shapes:
            # The runs of one outline stay together, by the size of the whole.
            size = piece.area if shape.layer == Layer.OUTLINE else abs(bulge_area(shape.fitted(tolerance)))
            if shape.layer == Layer.HOLES and _holds_others(shape, tolerance, filled.footprints):
                shape = replace(shape, layer=Layer.OUTLINE)
                nested = True
            shapes.append(((CUTTING_ORDER.index(shape.layer), size), shape))
        for layer, rows in laid.lines.items():
            lines[layer].append(rows)
    shapes.sort(key=lambda keyed: keyed[0])
    names = [name for name, _ in filled.placed]
    labels = around().of(place_labels, names, filled.footprints, filled.size, filled.stock.kerf)
    lines[Layer.NOTES] += [label.strokes for label in labels]
    width, height = filled.size
    lines[Layer.NOTES].append(_frame(width, height))
    lines[Layer.NOTES].append(_frame(CONTROL, CONTROL) + np.array([width - CONTROL, height + 5.0]))
    said = _legend(filled, labels, bridges, nested=nested)
    # On a narrow sheet what is said stands above the square, not in it.
    base = height + 5.0 + (CONTROL + LETTER if width < CONTROL + max(map(len, said)) * LETTER else 0.0)
    return Drawing(
        title=f"{filled.stock.name} {filled.number}",
        shapes=tuple(shape for _, shape in shapes),
        lines={layer: np.concatenate(rows) for layer, rows in lines.items() if rows},
        texts=tuple(
            Text(at=(0.0, base + LINE * row), height=LETTER, text=text) for row, text in enumerate(reversed(said))
        ),
        colours=colours,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """What is drawn of a piece where it lies on its sheet: paths, and straight lines ``(n, 2, 2)`` mm by layer."""

    shapes: tuple[Shape, ...]
    lines: dict[Layer, Array]


def lay_piece(drawing: Drawing, region: Region, matrix: Array, away: float, tolerance: float, bridges: Bridges) -> Laid:
    """Return what a sheet shows of a piece, its cuts moved ``away`` mm and each line drawn once.

    Parameters
    ----------
    drawing
        The nominal one, flat mm.
    region
        Of the sheet that is cut, flat mm.
    matrix
        ``(3, 3)`` rigid, from flat to the sheet.
    away
        Half the kerf, mm.
    tolerance
        Of arcs to exact curves, mm.
    bridges
        What holds it.

    Raises
    ------
    pipeline.sheets.kerf.KerfError
        If a feature is narrower than the cut.
    """
    straight = tuple(shape for shape in drawing.shapes if shape.layer in CUT)
    cut = around().of(move_cuts, drawing.title, straight, region, away=away, tolerance=tolerance, bridges=bridges)
    marks, rest = _marks(drawing, straight)
    return Laid(
        shapes=tuple(_placed(shape, matrix, tolerance) for shape in (*cut, *marks)),
        lines={layer: frames.apply(matrix, rows.reshape(-1, 2)).reshape(-1, 2, 2) for layer, rows in rest.items()},
    )


def move_cuts(
    title: str, nominal: tuple[Shape, ...], region: Region, *, away: float, tolerance: float, bridges: Bridges
) -> list[Shape]:
    """Return a part's contours moved by half the kerf.

    Raises
    ------
    pipeline.sheets.kerf.KerfError
        If a feature is narrower than the cut.
    """
    moved = []
    for shape in nominal:
        try:
            path = widen(shape.path, away, tolerance)
        except KerfError as error:
            raise KerfError(f"{title}: {error}") from None
        if bridges.width and shape.layer == Layer.OUTLINE:
            runs = bridged(path, region.outline, away=away, width=bridges.width, count=bridges.count)
            moved += [Shape(layer=shape.layer, path=run, closed=runs == (path,)) for run in runs]
        else:
            moved.append(Shape(layer=shape.layer, path=path))
    return moved


def _marks(drawing: Drawing, cut: tuple[Shape, ...]) -> tuple[list[Shape], dict[Layer, Array]]:
    """Return what else is drawn of a part, each line once: closed and open paths, and straight lines."""
    bent = tuple(curve for shape in cut for curve in shape.path)
    drawn = np.concatenate([lines_of(shape.path) for shape in cut])
    lines: dict[Layer, Array] = {}
    for layer in (Layer.FOLD, Layer.GUIDE):
        if layer in drawing.lines:
            lines[layer] = without_stubs(without(drawing.lines[layer], drawn), bent)
            drawn = np.concatenate([drawn, lines[layer]])
    marks: list[Shape] = []
    for shape in sorted(
        (shape for shape in drawing.shapes if shape.layer not in CUT),
        key=lambda shape: CUTTING_ORDER.index(shape.layer),
    ):
        runs = runs_without(shape.path, drawn, bent)
        marks += [shape] if runs is None else [Shape(layer=shape.layer, path=run, closed=False) for run in runs]
        drawn, bent = np.concatenate([drawn, lines_of(shape.path)]), bent + shape.path
    return marks, lines


def _holds_others(hole: Shape, tolerance: float, footprints: tuple[shapely.Polygon, ...]) -> bool:
    """Return whether parts lie in a hole as it lies on the sheet; cut before them, it would set them loose."""
    inside = shapely.Polygon(bulge_points(hole.fitted(tolerance), tolerance))
    low_x, low_y, high_x, high_y = inside.bounds
    near = [shape for shape in footprints if shape.bounds[0] > low_x and shape.bounds[2] < high_x
            and shape.bounds[1] > low_y and shape.bounds[3] < high_y]  # fmt: skip
    return any(inside.contains(shape.representative_point()) for shape in near)


def _placed(shape: Shape, matrix: Array, tolerance: float) -> Shape:
    """Return a shape where it lies; rigid motions keep the arcs that were fitted to it."""
    fit = shape.fitted(tolerance)
    points = np.column_stack([frames.apply(matrix, fit.points[:, :2]), fit.points[:, 2]])
    return Shape(
        layer=shape.layer,
        path=curves.transform_path(shape.path, matrix),
        closed=shape.closed,
        fit=Bulges(points=points, closed=fit.closed),
    )


def _legend(filled: Filled, labels: list[Label], bridges: Bridges, *, nested: bool) -> list[str]:
    """Return what is said above the sheet, line by line."""
    stock = filled.stock
    kerf = f"kerf {stock.kerf:g} mm applied, {stock.kerf / 2:g} each side" if stock.kerf else "no kerf applied"
    size = f"{filled.size[0]:g} x {filled.size[1]:g} mm"
    said = [f"{stock.name} sheet {filled.number}, {size}, {kerf}, {100 * filled.density:.0f} % used"]
    if stock.grain:
        said.append("grain along the width, left to right")
    if bridges.width:
        said.append(f"bridges of {bridges.width:g} mm hold the parts: cut them last, with a blade")
    if nested:
        said.append("a hole with parts in it is an outline here: it is cut after them")
    if any(label.on_piece for label in labels):
        said.append("a name on a part is for its hidden side: do not cut or draw it here")
    return said


def _frame(width: float, height: float) -> Array:
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
