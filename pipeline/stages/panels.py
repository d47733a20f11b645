"""Every panel and bent panel of a scene."""

from __future__ import annotations

from pipeline.elements.covers import count_guides
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem, SceneError
from pipeline.elements.surfaces import Face
from pipeline.geometry.cutting import CutError
from pipeline.parts.bent import BentPanel, make_bent
from pipeline.parts.brick_relief import MOST_UNITS, is_raised
from pipeline.parts.model import Panel
from pipeline.parts.outlines import Making, prepare
from pipeline.parts.panels import cut_region, make_panel
from pipeline.room.inside import SIDES
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.stages.covering import lay_face, lay_web


def prepare_panels(scene: Scene, room: Room, said: Imagined) -> Making:
    """Return what panels need to know of one another."""
    return prepare(
        said.faces,
        room.relief,
        tuple(room.inside.planes[host] for host in SIDES),
        bevelled=scene.make.edges == "bevel",
        min_guide=scene.make.min_guide,
        planes=said.planes,
    )


def make_panels(scene: Scene, room: Room, said: Imagined, making: Making) -> tuple[Panel, ...]:
    """Return every panel; faces whose units are raised are printed instead.

    Raises
    ------
    SceneError
        If openings leave nothing of a wall, or a cover needs too many guides.
    """
    panels = []
    for face in said.faces:
        try:
            region = cut_region(face, said.cuts)
        except CutError as error:
            problem = Problem(
                path=face.path, found=f"the openings of the {face.id} leave no one piece of it: {error}",
                allowed="openings that leave the wall in one piece",
            )  # fmt: skip
            raise SceneError([problem]) from error
        families = lay_face(scene, room, face)
        if is_raised(face, scene.covers.get(face.cover or ""), making.lies[face.id]):
            refuse_relief(scene, room, face)
        else:
            panels.append(make_panel(face, region, families, said.marks, making))
    return tuple(panels)


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


def make_bents(scene: Scene, room: Room, said: Imagined) -> tuple[BentPanel, ...]:
    """Return every web that is bent from sheet.

    Raises
    ------
    SceneError
        If a cover needs too many guides.
    """
    return tuple(
        make_bent(
            web,
            lay_web(scene, room, web),
            room.relief,
            bend_factor=scene.materials[web.sheet.material].bend_factor,
            bend_tolerance=scene.make.bend_tolerance,
            min_guide=scene.make.min_guide,
        )
        for web in said.webs
        if not web.printed
    )
