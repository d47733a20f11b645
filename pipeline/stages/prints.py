"""Every print of a scene, as the printer takes it."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.surfaces import Face
from pipeline.geometry.booleans import BodyError
from pipeline.keeping.kept import Kept
from pipeline.parts.bent import web_block
from pipeline.parts.blocks import block_print
from pipeline.parts.brick_relief import is_raised, relief_print
from pipeline.parts.model import Print
from pipeline.parts.outlines import Making, beside
from pipeline.parts.panels import cut_region
from pipeline.parts.readying import Bulkheads, Readying, named_apart, ready
from pipeline.parts.shells import shell
from pipeline.relief.collineation import Relief
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.stages.covering import lay_face, lay_face_units


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """What every print is made for.

    Attributes
    ----------
    hall, relief
        The room.
    fit
        Play to what a print touches, mm.
    mesh_tolerance
        How far facets may stray from curves, mm.
    min_wall, min_cavity
        The printer's least wall, and the hollow under which it is filled, mm.
    """

    hall: Hall
    relief: Relief
    fit: float
    mesh_tolerance: float
    min_wall: float
    min_cavity: float


def printing_of(scene: Scene, room: Room) -> Printing:
    """Return what the prints of a scene are made for."""
    return Printing(
        hall=room.hall.shape,
        relief=room.relief,
        fit=scene.make.fit,
        mesh_tolerance=scene.make.mesh_tolerance,
        min_wall=scene.make.printer.min_wall,
        min_cavity=scene.make.printer.min_cavity,
    )


def make_prints(scene: Scene, room: Room, said: Imagined, kept: Kept) -> tuple[Print, ...]:
    """Return every print.

    Raises
    ------
    SceneError
        If too little is left of a body between the surfaces it touches.
    """
    printing = printing_of(scene, room)
    shells = tuple(kept.of(make_shell, printing, solid) for solid in said.solids)
    printed = tuple(web_block(web, room.relief, scene.make.printer.min_wall) for web in said.webs if web.printed)
    return shells + tuple(kept.of(cast, printing, block) for block in (*said.blocks, *printed))


def make_shell(printing: Printing, solid: Solid, bulkheads: Bulkheads = ()) -> Print:
    """Return a solid as a shell, its hollow filled on either side of planes it is to be cut by.

    Raises
    ------
    SceneError
        If not one closed body is left of it.
    """
    try:
        return shell(
            solid,
            printing.relief,
            printing.hall.below_vault if solid.axis == "z" else printing.hall,
            fit=printing.fit,
            mesh_tolerance=printing.mesh_tolerance,
            min_wall=printing.min_wall,
            min_cavity=printing.min_cavity,
            bulkheads=bulkheads,
        )
    except BodyError as error:
        raise SceneError([_nothing_left(solid, printing.fit, error)]) from error


def _nothing_left(part: Solid | Block | Face, fit: float, error: BodyError) -> Problem:
    return Problem(
        path=part.path, found=f"no one body is left of {part.id} in the relief: {error}",
        allowed=f"a body thicker than the play of {fit:g} mm wherever it touches a surface",
        remedy="make it larger, or move it away from floor and walls",
    )  # fmt: skip


def raise_units(
    scene: Scene, room: Room, said: Imagined, making: Making, prints: tuple[Print, ...], *, kept: Kept
) -> tuple[Print, ...]:
    """Return the prints, and after them every face whose units are raised; units keep clear of all before them.

    Raises
    ------
    SceneError
        If a plate falls into pieces.
    """
    for face in said.faces:
        cover = scene.covers.get(face.cover or "")
        if cover is not None and is_raised(cover, making.lies[face.id]):
            region = cut_region(face, said.cuts)
            try:
                raised = kept.of(
                    relief_print,
                    face,
                    region,
                    lay_face_units(face, cover, room.hall.scale, room.hall.foot),
                    lay_face(face, cover, room.hall.scale, room.hall.foot),
                    beside(making, face, region),
                    height=room.hall.millimetres(cover.relief),
                    marks=tuple(mark for mark in said.marks if not (mark.hidden or mark.loose)),
                    standing=prints,
                    fit=scene.make.fit,
                    mesh_tolerance=scene.make.mesh_tolerance,
                    detail=scene.make.printer.least_detail,
                )
            except BodyError as error:
                raise SceneError([_nothing_left(face, scene.make.fit, error)]) from error
            prints = (*prints, raised)
    return prints


def ready_prints(scene: Scene, room: Room, prints: tuple[Print, ...], kept: Kept) -> tuple[Print, ...]:
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

    printing = printing_of(scene, room)
    return named_apart(tuple(piece for part in prints for piece in kept.of(ready_print, part, readying, printing)))


def ready_print(part: Print, readying: Readying, printing: Printing) -> tuple[Print, ...]:
    """Return a print, or the pieces it is cut into, as the printer takes it.

    Raises
    ------
    SceneError
        If the bed would take too many pieces.
    """

    def remake(part: Print, bulkheads: Bulkheads) -> Print:
        if isinstance(part.solid, Solid):
            return make_shell(printing, part.solid, bulkheads)
        return cast(printing, part.solid, bulkheads) if isinstance(part.solid, Block) else part

    return ready(part, readying, remake)


def cast(printing: Printing, block: Block, bulkheads: Bulkheads = ()) -> Print:
    """Return a block as a print, any hollow of it filled on either side of planes it is to be cut by.

    Raises
    ------
    SceneError
        If not one closed body is left of it.
    """
    try:
        return block_print(
            block,
            printing.relief,
            printing.hall,
            fit=printing.fit,
            min_wall=printing.min_wall,
            min_cavity=printing.min_cavity,
            bulkheads=bulkheads,
        )
    except BodyError as error:
        raise SceneError([_nothing_left(block, printing.fit, error)]) from error
