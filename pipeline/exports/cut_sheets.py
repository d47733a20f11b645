"""All sheets of a scene as files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import shapely

from pipeline.casework.boards import Board
from pipeline.elements.problems import Problem, SceneError
from pipeline.exports.drawing import Drawing, WriteDrawing
from pipeline.exports.dxf import write_dxf
from pipeline.exports.sheet_drawing import Bridges, draw_sheet
from pipeline.exports.svg import write_svg
from pipeline.keeping.kept import NOTHING_KEPT, Kept, around
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.parts.nets import Net
from pipeline.parts.stencils import Stencil
from pipeline.scene.materials import Material
from pipeline.sheets.kerf import KerfError
from pipeline.sheets.layouts import LaidScene, laid_out, refuse_other_parts
from pipeline.sheets.stock import Filled, Piece, Stock, filled_by, footprint, lay, too_large


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pile:
    """All parts of one material before they are laid: ids, pieces, and what each takes up, flat mm."""

    stock: Stock
    pieces: tuple[Piece, ...]
    shapes: tuple[shapely.Polygon, ...]

    @property
    def names(self) -> list[str]:
        """Part ids."""
        return [piece.id for piece in self.pieces]


def pile_up(panels: tuple[Panel | BentPanel | Net | Board | Stencil, ...], materials: Mapping[str, Material]) -> tuple[Pile, ...]:
    """Return the parts of every material that has any, in the order of the scene's materials."""
    piles = []
    for name, material in materials.items():
        pieces = [Piece(id=panel.id, cut=panel.cut, hidden=panel.hidden) for panel in panels if panel.material == name]
        if pieces:
            shapes = tuple(around().of(footprint, piece) for piece in pieces)
            piles.append(Pile(stock=stock_of(name, material), pieces=tuple(pieces), shapes=shapes))
    return tuple(piles)


def fill_sheets(
    panels: tuple[Panel | BentPanel | Net | Board | Stencil, ...], materials: Mapping[str, Material], laid: LaidScene | None = None, kept: Kept = NOTHING_KEPT
) -> tuple[tuple[Filled, ...], tuple[str, ...]]:
    """Return every sheet of every material, and what is to be said of a layout that no longer fits.

    Panels larger than any sheet are left out; a check says so.

    Parameters
    ----------
    panels
        Everything cut from sheet.
    materials
        Of the scene, by name.
    laid
        A layout found before, used for each material whose parts it still fits.
    kept
        What earlier builds made.

    Raises
    ------
    pipeline.sheets.refusals.LayoutError
        If it is a layout of other parts.
    """
    filled: list[Filled] = []
    notes = []
    piles = kept.of(pile_up, panels, materials)
    if laid is not None:
        large = [pile.names[i] for pile in piles for i, shape in enumerate(pile.shapes) if too_large(pile.stock, shape)]
        refuse_other_parts(laid, {pile.stock.name: pile.names for pile in piles}, large)
    for pile in piles:
        stock, shapes = pile.stock, list(pile.shapes)
        layout, wrong = None, ""
        if laid is not None and stock.name in laid.materials:
            layout, wrong = laid_out(laid.materials[stock.name], stock, pile.names, shapes)
        if layout is None or wrong:
            layout = kept.of(lay, stock, shapes)
        if wrong:
            notes.append(f"the layout file no longer fits the {stock.name}, which was laid anew: {wrong}")
        filled += filled_by(stock, list(pile.pieces), shapes, layout)
    return tuple(filled), tuple(notes)


def stock_of(name: str, material: Material) -> Stock:
    """Return a material of the scene as stock on the bench."""
    offcuts = [(width, height) for width, height, count in material.offcuts for _ in range(count)]
    return Stock(
        name=name,
        size=material.sheet,
        kerf=material.kerf,
        spacing=material.spacing,
        margin=material.margin,
        grain=material.grain,
        offcuts=tuple(sorted(offcuts, key=lambda size: size[0] * size[1])),
    )


def write_sheets(
    filled: tuple[Filled, ...],
    drawings: dict[str, Drawing],
    tolerance: float,
    bridges: Bridges | None = None,
    dxf: WriteDrawing = write_dxf,
    kept: Kept = NOTHING_KEPT,
) -> dict[str, bytes]:
    """Return DXF and SVG of every sheet, kerf applied; ``dxf`` writes the DXF.

    Raises
    ------
    SceneError
        If a cut is wider than a feature it goes round.
    """
    files = {}
    for sheet in filled:
        colours = next(iter(drawings.values())).colours
        try:
            lying = {part: drawings[part] for part, _ in sheet.placed}
            drawing = kept.of(draw_sheet, sheet, lying, tolerance, colours, bridges)
        except KerfError as error:
            problem = Problem(
                path=("materials", sheet.stock.name, "kerf"),
                found=str(error),
                allowed="a cut narrower than every feature",
                remedy="measure the kerf again, make the feature larger, or leave it out",
            )
            raise SceneError([problem]) from error
        files[f"{sheet.file}.dxf"] = kept.of(dxf, drawing, tolerance)
        files[f"{sheet.file}.svg"] = kept.of(write_svg, drawing, tolerance)
    return files
