"""The files that people hold and nothing is checked on: paper templates, measures, cut list, and all prints in one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.casework.boards import Casework
from pipeline.casework.cut_list import cut_list_csv
from pipeline.exports.drawing import Text
from pipeline.exports.figure_drawing import draw_figure
from pipeline.exports.haze_strip import blocks_of
from pipeline.exports.net_drawing import net_folds, net_marks
from pipeline.exports.panel_drawing import panel_folds, panel_marks
from pipeline.exports.templates import PaperPart, templates_pdf
from pipeline.exports.threemf import write_3mf
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.parts.stencils import Stencil
from pipeline.room.airing import haze_of
from pipeline.room.figuring import stand
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.sheets.gaps import box_gaps
from pipeline.sheets.measures import measures_csv
from pipeline.stages.files import Drawn, bed_mesh, colours_of

Array = NDArray[np.float64]


def hand_out(
    scene: Scene,
    room: Room,
    drawn: Drawn,
    prints: tuple[Print, ...],
    *,
    casework: Casework | None = None,
    stencils: tuple[Stencil, ...] = (),
    kept: Kept = NOTHING_KEPT,
) -> dict[str, bytes]:
    """Return templates, measures, the box's cut list, and all prints on one bed."""
    files = {
        **hand_out_prints(scene, prints, kept),
        **hand_out_paper(scene, room, drawn, casework=casework, stencils=stencils, kept=kept),
    }
    if casework is not None:
        files["box/cut-list.csv"] = cut_list_csv(casework.shell, casework.boards)
    panels = tuple(panel for panel, _ in drawn.panels if isinstance(panel, Panel))
    gaps = box_gaps(panels, room.inside)
    files["measures.csv"] = kept.of(measures_csv, panels, -room.relief.eye[1], gaps, scene.make.ruler)
    return files


def hand_out_prints(scene: Scene, prints: tuple[Print, ...], kept: Kept = NOTHING_KEPT) -> dict[str, bytes]:
    """Return all prints as they lie on beds, where there are any."""
    lying = {part.id: bed_mesh(part) for part in prints}
    return {"prints.3mf": kept.of(write_3mf, lying, scene.title, scene.make.printer.bed[:2])} if lying else {}


def hand_out_paper(
    scene: Scene,
    room: Room,
    drawn: Drawn,
    *,
    casework: Casework | None,
    stencils: tuple[Stencil, ...],
    kept: Kept = NOTHING_KEPT,
) -> dict[str, bytes]:
    """Return the paper templates."""
    papers = lay_out(scene, room, drawn, casework, stencils)
    air = scene.air
    strip = () if air is None else blocks_of(haze_of(air, room.hall, room.relief), air.paints, air.haze)
    return {"templates.pdf": kept.of(templates_pdf, scene.title, papers, scene.make.paper, strip)}


def lay_out(
    scene: Scene, room: Room, drawn: Drawn, casework: Casework | None, stencils: tuple[Stencil, ...]
) -> list[PaperPart]:
    """Return what is drawn on paper: panels or the nets they are in, boards, stencils and figures."""
    inside = {panel.id for net, _ in drawn.nets for panel in net.panels}
    grain = {name: material.grain for name, material in scene.materials.items()}
    papers = [
        PaperPart(
            drawing=drawing,
            edges=panel.edges,
            grain=grain[panel.material],
            folds=folds_of(panel),
            marks=marks_of(panel),
        )
        for panel, drawing in drawn.panels
        if panel.id not in inside
    ]
    papers += [
        PaperPart(
            drawing=drawing, edges=(), grain=grain[net.material], folds=tuple(net_folds(net)), marks=net_marks(net)
        )
        for net, drawing in drawn.nets
    ]
    papers += [PaperPart(drawing=drawn.boards[name], edges=(), grain=True) for name in fingers_by_hand(scene, casework)]
    papers += [
        PaperPart(drawing=drawn.stencils[one.id], edges=(), one_sided=True) for one in stencils if not one.material
    ]
    stood = (stand(figure, room.hall, room.relief) for figure in scene.figures)
    papers += [PaperPart(drawing=draw_figure(one, colours_of(scene.make)), edges=()) for one in stood]
    return papers


def folds_of(panel: Panel | BentPanel) -> tuple[tuple[Array, float], ...]:
    """Return where a flat panel is folded and by how much; what is bent is not folded there by an angle."""
    return tuple(panel_folds(panel)) if isinstance(panel, Panel) else ()


def marks_of(panel: Panel | BentPanel) -> tuple[Text, ...]:
    """Return what is written at the marks of a flat panel; bent ones bear none that are named."""
    return panel_marks(panel) if isinstance(panel, Panel) else ()


def fingers_by_hand(scene: Scene, casework: Casework | None) -> list[str]:
    """Return the boards with fingers that no machine cuts, which want a template of paper; once, in the box's scene."""
    boards = () if casework is None or scene.box.part == "lid" else casework.boards
    return [
        board.id
        for board in boards
        if board.fingered and (not board.material or scene.materials[board.material].process == "hand")
    ]
