"""All sheets of a scene as files."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from pipeline.elements.problems import Problem, SceneError
from pipeline.exports.drawing import Drawing
from pipeline.exports.dxf import write_dxf
from pipeline.exports.sheet_drawing import Bridges, draw_sheet
from pipeline.exports.svg import write_svg
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.scene.materials import Material
from pipeline.sheets.kerf import KerfError
from pipeline.sheets.stock import Filled, Piece, Stock, fill


def fill_sheets(panels: tuple[Panel | BentPanel, ...], materials: Mapping[str, Material]) -> tuple[Filled, ...]:
    """Return every sheet of every material, in the order of the scene's materials.

    Panels larger than any sheet are left out; a check says so.
    """
    filled: list[Filled] = []
    for name, material in materials.items():
        pieces = [Piece(id=panel.id, cut=panel.cut, hidden=panel.hidden) for panel in panels if panel.material == name]
        if not pieces:
            continue
        filled += fill(stock_of(name, material), pieces)[0]
    return tuple(filled)


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
    dxf: Callable[[Drawing, float], bytes] = write_dxf,
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
            drawing = draw_sheet(sheet, drawings, tolerance, colours, bridges)
        except KerfError as error:
            problem = Problem(
                path=("materials", sheet.stock.name, "kerf"),
                found=str(error),
                allowed="a cut narrower than every feature",
                remedy="measure the kerf again, or make the feature larger",
            )
            raise SceneError([problem]) from error
        files[f"{sheet.file}.dxf"] = dxf(drawing, tolerance)
        files[f"{sheet.file}.svg"] = write_svg(drawing, tolerance)
    return files
