"""Every panel and bent panel of a scene."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.elements.covers import count_guides
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem, SceneError
from pipeline.elements.surfaces import Cut, Face, Family, Mark
from pipeline.geometry.curves import signed_area
from pipeline.geometry.cutting import CutError
from pipeline.geometry.regions import Region, path_of
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel, make_bent
from pipeline.parts.blanks import make_blank
from pipeline.parts.brick_relief import MOST_UNITS, is_raised
from pipeline.parts.model import Panel
from pipeline.parts.outlines import Making, beside, prepare, uncovered
from pipeline.parts.panels import cut_region, make_panel
from pipeline.parts.web_edges import trim_webs
from pipeline.room.inside import SIDES
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.stages.covering import lay_face, lay_web, refuse_crowds


def prepare_panels(scene: Scene, room: Room, said: Imagined, kept: Kept = NOTHING_KEPT) -> Making:
    """Return what panels need to know of one another.

    Raises
    ------
    SceneError
        If openings leave nothing of a wall, or covers need too many guides.
    """
    refuse_crowds(scene, said.faces, said.webs)
    return prepare(
        said.faces,
        room.relief,
        (*(room.inside.planes[host] for host in SIDES), np.array([0.0, -1.0, 0.0, room.box[2]])),
        regions={
            face.id: kept.of(cut_face, uncovered(face), tuple(cut for cut in said.cuts if cut.host == face.id))
            for face in said.faces
        },
        bevelled=scene.make.edges == "bevel",
        butted=scene.make.joint == "butt",
        min_guide=scene.make.min_guide,
        planes=said.planes,
        sweeps=said.sweeps,
        bents=frozenset(web.id for web in said.webs),
        kept=kept,
    )


def make_panels(
    scene: Scene, room: Room, said: Imagined, making: Making, kept: Kept = NOTHING_KEPT
) -> tuple[Panel, ...]:
    """Return every panel; faces whose units are raised are printed instead.

    Raises
    ------
    SceneError
        If a cover needs too many guides.
    """
    panels = []
    for face in said.faces:
        region = making.regions[face.id]
        cover = scene.covers.get(face.cover or "")
        families = kept.of(lay_face, face, cover, room.hall.scale, room.hall.foot)
        if is_raised(cover, making.lies[face.id]):
            refuse_relief(scene, room, face)
        else:
            marks = tuple(mark for mark in said.marks if mark.host == face.id)
            panels.append(panel_of(face, region, families, marks, making=making, kept=kept))
    refuse_eaten(panels)
    return tuple(panels)


def panel_of(
    face: Face, region: Region, families: list[Family], marks: tuple[Mark, ...], *, making: Making, kept: Kept
) -> Panel:
    """Return the panel of a face, cut anew only if something else than its cover and marks has changed."""
    blank = kept.of(make_blank, uncovered(face), region, beside(making, face, region))
    return kept.of(make_panel, face, blank, families, marks, relief=making.relief, min_guide=making.min_guide)


def cut_face(face: Face, cuts: tuple[Cut, ...]) -> Region:
    """Return a face's region without its openings.

    Raises
    ------
    SceneError
        If they leave nothing of it, or more than one piece.
    """
    try:
        return cut_region(face, cuts)
    except CutError as error:
        problem = Problem(
            path=face.path, found=f"the openings of the {face.id} leave no one piece of it: {error}",
            allowed="openings that leave the wall in one piece",
            remedy="make them smaller, or move them apart and off the edges",
        )  # fmt: skip
        raise SceneError([problem]) from error


def refuse_eaten(panels: Sequence[Panel]) -> None:
    """Refuse panels whose sheets nothing is left of once they stand back behind those they meet.

    The edges of such a sheet pass one another, so that its border, counter-clockwise where anything is left, runs
    clockwise: a riser of 0.6 mm below a tread of 1 mm sheet.

    Raises
    ------
    SceneError
        If there are any; all are named.
    """
    eaten = [panel for panel in panels if any(signed_area(path_of(region.outline)) <= 0
                                              for region in (panel.cut, panel.hidden))]  # fmt: skip
    if eaten:
        raise SceneError([_eaten(panel) for panel in eaten])


def _eaten(panel: Panel) -> Problem:
    least, most = sorted(np.ptp(panel.visible.vertices @ panel.leaves[0].built_from_flat[:3, :2], axis=0))
    return Problem(
        path=panel.face.path,
        found=f"the {panel.id} is {most:.3g} by {least:.3g} mm, and the sheets that it meets leave nothing of it",
        allowed=f"sheets thinner than it is wide (its own is {panel.thickness:g} mm), or a larger part",
        remedy="make it larger in the scene, take thinner sheet there, or leave it out",
    )


def refuse_relief(scene: Scene, room: Room, face: Face) -> None:
    """Refuse to raise the units of a face whose plate would be too thin, or of too many units.

    Raises
    ------
    SceneError
        If so.
    """
    least, thickness = scene.make.printer.min_wall, face.sheet.thickness + face.sheet.finish
    count = count_guides(scene.covers[face.cover or ""], room.hall.scale, *face.extent, level=face.level)
    path: KeyPath = ("covers", face.cover or "", "relief")
    if thickness < least:
        found = f"the {face.id} is {thickness:g} mm thick, so its plate would be thinner than the printer's least wall"
        allowed, remedy = f"{least:g} mm (make.printer.min_wall) or more", "give it a thicker material, or relief = 0"
    elif count > MOST_UNITS:
        found, allowed = f"the {face.id} would have about {count:.3g} units", f"at most {MOST_UNITS:,} on a print"
        remedy = 'give larger units, or relief_as = "guides"'
    else:
        return
    raise SceneError([Problem(path=path, found=found, allowed=allowed, remedy=remedy)])


def make_bents(scene: Scene, room: Room, said: Imagined, kept: Kept) -> tuple[BentPanel, ...]:
    """Return every web that is bent from sheet.

    Raises
    ------
    SceneError
        If a cover needs too many guides.
    """
    sheets = tuple(web for web in said.webs if not web.printed)
    trims = kept.of(trim_webs, sheets, room.relief) if scene.make.edges == "square" else {}
    return tuple(
        kept.of(
            make_bent,
            web,
            kept.of(lay_web, web, scene.covers.get(web.cover or ""), room.hall.scale),
            room.relief,
            bend_factor=scene.materials[web.sheet.material].bend_factor,
            bend_tolerance=scene.make.bend_tolerance,
            min_guide=scene.make.min_guide,
            trim=trims.get(web.id),
        )
        for web in sheets
    )
