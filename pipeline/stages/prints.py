"""Every print of a scene, as the printer takes it."""

from __future__ import annotations

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.covers import lay_units
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem, SceneError
from pipeline.geometry.booleans import BodyError
from pipeline.parts.bent import web_block
from pipeline.parts.blocks import solid_print
from pipeline.parts.brick_relief import is_raised, relief_print
from pipeline.parts.model import Print
from pipeline.parts.outlines import Making
from pipeline.parts.panels import cut_region
from pipeline.parts.readying import Bulkheads, Readying, ready_all
from pipeline.parts.shells import shell
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.stages.covering import lay_face


def make_prints(scene: Scene, room: Room, said: Imagined) -> tuple[Print, ...]:
    """Return every print.

    Raises
    ------
    SceneError
        If too little is left of a body between the surfaces it touches.
    """
    shells = tuple(make_shell(scene, room, solid) for solid in said.solids)
    printed = tuple(web_block(web, room.relief) for web in said.webs if web.printed)
    return shells + tuple(cast(scene, room, block) for block in (*said.blocks, *printed))


def make_shell(scene: Scene, room: Room, solid: Solid, bulkheads: Bulkheads = ()) -> Print:
    """Return a solid as a shell, its hollow filled on either side of planes it is to be cut by."""
    make = scene.make
    return shell(
        solid,
        room.relief,
        room.hall.below_vault if solid.axis == "z" else room.hall,
        fit=make.fit,
        mesh_tolerance=make.mesh_tolerance,
        min_wall=make.printer.min_wall,
        min_cavity=make.printer.min_cavity,
        bulkheads=bulkheads,
    )


def raise_units(
    scene: Scene, room: Room, said: Imagined, making: Making, prints: tuple[Print, ...]
) -> tuple[Print, ...]:
    """Return the prints, and after them every face whose units are raised; units keep clear of all before them."""
    for face in said.faces:
        cover = scene.covers.get(face.cover or "")
        if cover is not None and is_raised(face, cover, making.lies[face.id]):
            raised = relief_print(
                face,
                cut_region(face, said.cuts),
                lay_units(cover, room.hall.scale, *face.extent, level=face.level),
                lay_face(scene, room, face),
                making,
                height=room.hall.millimetres(cover.relief),
                marks=tuple(mark for mark in said.marks if not mark.hidden),
                standing=prints,
                fit=scene.make.fit,
                mesh_tolerance=scene.make.mesh_tolerance,
                detail=scene.make.printer.least_detail,
            )
            prints = (*prints, raised)
    return prints


def ready_prints(scene: Scene, room: Room, prints: tuple[Print, ...]) -> tuple[Print, ...]:
    """Return the prints as the printer takes them: cut to its bed, laid on it, drained.

    Raises
    ------
    SceneError
        If the bed would take too many pieces, or a piece would be named like another part.
    """
    printer = scene.make.printer
    readying = Readying(
        relief=room.relief,
        bed=printer.bed,
        fit=scene.make.fit,
        wall=printer.min_wall,
        drain=printer.drain,
        drains=printer.drains if printer.process == "resin" else 0,
    )

    def remake(part: Print, bulkheads: Bulkheads) -> Print:
        return make_shell(scene, room, part.solid, bulkheads) if isinstance(part.solid, Solid) else part

    return ready_all(prints, readying, remake)


def cast(scene: Scene, room: Room, block: Block) -> Print:
    """Return a block as a print.

    Raises
    ------
    SceneError
        If not one closed body is left of it.
    """
    try:
        return solid_print(block, room.relief, room.hall, scene.make.fit)
    except BodyError as error:
        problem = Problem(
            path=block.path, found=f"no one body is left of {block.id} in the relief: {error}",
            allowed=f"a body thicker than the play of {scene.make.fit:g} mm wherever it touches a surface",
            remedy="make it larger, or move it away from floor and walls",
        )  # fmt: skip
        raise SceneError([problem]) from error
