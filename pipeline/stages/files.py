"""The files of panels, sheets, paper and prints."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.casework.boards import Casework
from pipeline.casework.cut_list import cut_list_csv
from pipeline.exports.bent_drawing import draw_bent
from pipeline.exports.board_drawing import draw_board
from pipeline.exports.cut_sheets import write_sheets
from pipeline.exports.drawing import Drawing, Layer, Text
from pipeline.exports.dxf import write_dxf
from pipeline.exports.dxf_r12 import write_r12
from pipeline.exports.figure_drawing import draw_figure
from pipeline.exports.haze_strip import blocks_of
from pipeline.exports.net_drawing import draw_net, net_folds, net_marks
from pipeline.exports.panel_drawing import draw_panel, panel_folds, panel_marks
from pipeline.exports.sheet_drawing import Bridges
from pipeline.exports.stencil_drawing import draw_stencil
from pipeline.exports.stl import write_stl
from pipeline.exports.svg import write_svg
from pipeline.exports.templates import PaperPart, templates_pdf
from pipeline.exports.threemf import write_3mf
from pipeline.geometry.frames import apply, invert_rigid
from pipeline.geometry.meshes import Mesh
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.parts.nets import Net
from pipeline.parts.stencils import Stencil
from pipeline.room.airing import haze_of
from pipeline.room.figuring import stand
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.sheets.gaps import box_gaps
from pipeline.sheets.measures import measures_csv
from pipeline.sheets.stock import Filled

Array = NDArray[np.float64]


def export(
    scene: Scene,
    panels: tuple[Panel, ...],
    bents: tuple[BentPanel, ...],
    prints: tuple[Print, ...],
    sheets: tuple[Filled, ...],
    *,
    nets: tuple[Net, ...],
    room: Room,
    casework: Casework | None = None,
    stencils: tuple[Stencil, ...] = (),
    kept: Kept = NOTHING_KEPT,
) -> dict[str, bytes]:
    """Return the files of panels, stencils, sheets, templates, measures, prints and of the box's boards.

    Raises
    ------
    SceneError
        If a cut is wider than a feature it goes round.
    """
    make = scene.make
    colours = {layer: getattr(make.colours, layer.value.lower()) for layer in Layer}
    files = {}
    drawn: list[tuple[Panel | BentPanel, Drawing]] = [(panel, draw_panel(panel, colours)) for panel in panels]
    drawn += [(panel, draw_bent(panel, colours)) for panel in bents]
    laid = [(net, draw_net(net, colours)) for net in nets]
    boards = draw_boards(casework, colours)
    masks = {stencil.id: draw_stencil(stencil, colours) for stencil in stencils}
    flat = [(f"panels/{panel.id}", drawing) for panel, drawing in (*drawn, *laid)]
    flat += [(f"stencils/{name}", drawing) for name, drawing in masks.items()]
    flat += [(f"box/{name}", drawing) for name, drawing in boards.items()]
    for path, drawing in flat:
        files[f"{path}.dxf"] = (
            kept.of(write_r12, drawing, make.curve_tolerance)
            if make.dxf == "R12"
            else kept.of(write_dxf, drawing, make.curve_tolerance, make.curves)
        )
        files[f"{path}.svg"] = kept.of(write_svg, drawing, make.curve_tolerance)
    lying = {part.id: bed_mesh(part) for part in prints}
    files |= {f"prints/{name}.stl": kept.of(write_stl, mesh, name) for name, mesh in lying.items()}
    if lying:
        files["prints.3mf"] = kept.of(write_3mf, lying, scene.title, make.printer.bed[:2])
    bridges = Bridges(width=make.bridges, count=make.bridge_count)
    files |= write_sheets(
        sheets,
        {**{part.id: drawing for part, drawing in (*drawn, *laid)}, **boards, **masks},
        make.curve_tolerance,
        bridges,
        write_r12 if make.dxf == "R12" else write_dxf,
        kept,
    )
    inside = {panel.id for net in nets for panel in net.panels}
    grain = {name: material.grain for name, material in scene.materials.items()}
    papers = [
        PaperPart(
            drawing=drawing,
            edges=panel.edges,
            grain=grain[panel.material],
            folds=folds_of(panel),
            marks=marks_of(panel),
        )
        for panel, drawing in drawn
        if panel.id not in inside
    ]
    papers += [
        PaperPart(
            drawing=drawing, edges=(), grain=grain[net.material], folds=tuple(net_folds(net)), marks=net_marks(net)
        )
        for net, drawing in laid
    ]
    papers += [PaperPart(drawing=boards[name], edges=(), grain=True) for name in fingers_by_hand(scene, casework)]
    papers += [PaperPart(drawing=masks[one.id], edges=(), one_sided=True) for one in stencils if not one.material]
    stood = (stand(figure, room.hall, room.relief) for figure in scene.figures)
    papers += [PaperPart(drawing=draw_figure(one, colours), edges=()) for one in stood]
    air = scene.air
    strip = () if air is None else blocks_of(haze_of(air, room.hall, room.relief), air.paints, air.haze)
    files["templates.pdf"] = kept.of(templates_pdf, scene.title, papers, make.paper, strip)
    if casework is not None:
        files["box/cut-list.csv"] = cut_list_csv(casework.shell, casework.boards)
    gaps = box_gaps(panels, room.inside)
    files["measures.csv"] = kept.of(measures_csv, panels, -room.relief.eye[1], gaps, make.ruler)
    return files


def folds_of(panel: Panel | BentPanel) -> tuple[tuple[Array, float], ...]:
    """Return where a flat panel is folded and by how much; what is bent is not folded there by an angle."""
    return tuple(panel_folds(panel)) if isinstance(panel, Panel) else ()


def marks_of(panel: Panel | BentPanel) -> tuple[Text, ...]:
    """Return what is written at the marks of a flat panel; bent ones bear none that are named."""
    return panel_marks(panel) if isinstance(panel, Panel) else ()


def draw_boards(casework: Casework | None, colours: dict[Layer, str]) -> dict[str, Drawing]:
    """Return the drawing of every board of the box, by its id."""
    if casework is None:
        return {}
    return {board.id: draw_board(casework, board, colours) for board in casework.boards}


def fingers_by_hand(scene: Scene, casework: Casework | None) -> list[str]:
    """Return the boards with fingers that no machine cuts, which want a template of paper; once, in the box's scene."""
    boards = () if casework is None or scene.box.part == "lid" else casework.boards
    return [
        board.id
        for board in boards
        if board.fingered and (not board.material or scene.materials[board.material].process == "hand")
    ]


def bed_mesh(part: Print) -> Mesh:
    """Return a print as it lies on the bed, mm."""
    return Mesh(vertices=apply(invert_rigid(part.built_from_bed), part.body.vertices), triangles=part.body.triangles)
