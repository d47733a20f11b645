"""The files of panels, sheets and prints: what machines cut and print, and what is checked."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.casework.boards import Casework
from pipeline.exports.bent_drawing import draw_bent
from pipeline.exports.board_drawing import draw_board
from pipeline.exports.cut_sheets import write_sheets
from pipeline.exports.drawing import Drawing, Layer
from pipeline.exports.dxf import write_dxf
from pipeline.exports.dxf_r12 import write_r12
from pipeline.exports.net_drawing import draw_net
from pipeline.exports.panel_drawing import draw_panel
from pipeline.exports.sheet_drawing import Bridges
from pipeline.exports.stencil_drawing import draw_stencil
from pipeline.exports.stl import write_stl
from pipeline.exports.svg import write_svg
from pipeline.geometry.frames import apply, invert_rigid
from pipeline.geometry.meshes import Mesh
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.parts.nets import Net
from pipeline.parts.stencils import Stencil
from pipeline.scene.make import Make
from pipeline.sheets.stock import Filled


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """The drawings of everything flat: panels and nets each with its own, boards of the box and stencils by id."""

    panels: tuple[tuple[Panel | BentPanel, Drawing], ...]
    nets: tuple[tuple[Net, Drawing], ...]
    boards: dict[str, Drawing]
    stencils: dict[str, Drawing]


def draw(
    panels: tuple[Panel, ...],
    bents: tuple[BentPanel, ...],
    make: Make,
    *,
    nets: tuple[Net, ...] = (),
    casework: Casework | None = None,
    stencils: tuple[Stencil, ...] = (),
    kept: Kept = NOTHING_KEPT,
) -> Drawn:
    """Return the drawings of everything flat."""
    colours = colours_of(make)
    return Drawn(
        panels=(
            *((panel, kept.here(draw_panel, panel, colours)) for panel in panels),
            *((panel, kept.here(draw_bent, panel, colours)) for panel in bents),
        ),
        nets=tuple((net, kept.here(draw_net, net, colours)) for net in nets),
        boards=draw_boards(casework, colours, kept),
        stencils={stencil.id: draw_stencil(stencil, colours) for stencil in stencils},
    )


def colours_of(make: Make) -> dict[Layer, str]:
    """Return the colour of every layer."""
    return {layer: getattr(make.colours, layer.value.lower()) for layer in Layer}


def export(
    drawn: Drawn, prints: tuple[Print, ...], sheets: tuple[Filled, ...], make: Make, kept: Kept = NOTHING_KEPT
) -> dict[str, bytes]:
    """Return DXF and SVG of everything flat and of the sheets, and STL of prints.

    Raises
    ------
    pipeline.elements.problems.SceneError
        If a cut is wider than a feature it goes round.
    """
    files = {}
    flat = [(f"panels/{panel.id}", drawing) for panel, drawing in (*drawn.panels, *drawn.nets)]
    flat += [(f"stencils/{name}", drawing) for name, drawing in drawn.stencils.items()]
    flat += [(f"box/{name}", drawing) for name, drawing in drawn.boards.items()]
    for path, drawing in flat:
        files[f"{path}.dxf"] = (
            kept.of(write_r12, drawing, make.curve_tolerance)
            if make.dxf == "R12"
            else kept.of(write_dxf, drawing, make.curve_tolerance, make.curves)
        )
        files[f"{path}.svg"] = kept.of(write_svg, drawing, make.curve_tolerance)
    files |= {f"prints/{part.id}.stl": kept.of(write_stl, bed_mesh(part), part.id) for part in prints}
    return files | write_sheets(
        sheets,
        {
            **{part.id: drawing for part, drawing in (*drawn.panels, *drawn.nets)},
            **drawn.boards,
            **drawn.stencils,
        },
        make.curve_tolerance,
        Bridges(width=make.bridges, count=make.bridge_count),
        write_r12 if make.dxf == "R12" else write_dxf,
        kept,
    )


def draw_boards(casework: Casework | None, colours: dict[Layer, str], kept: Kept) -> dict[str, Drawing]:
    """Return the drawing of every board of the box, by its id."""
    if casework is None:
        return {}
    return {board.id: kept.here(draw_board, casework, board, colours) for board in casework.boards}


def bed_mesh(part: Print) -> Mesh:
    """Return a print as it lies on the bed, mm."""
    return Mesh(vertices=apply(invert_rigid(part.built_from_bed), part.body.vertices), triangles=part.body.triangles)
