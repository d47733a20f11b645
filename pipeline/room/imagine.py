"""Everything the elements of a scene say, gathered, and what they get in one another's way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pipeline.elements import arch, column, figure, hall, light, mesh, opening, spiral_stair, steps
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined, gather
from pipeline.elements.problems import KeyPath
from pipeline.elements.vault import ribs, webs
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.room.backing import end_on_fillings, set_back
from pipeline.room.bearing import find_slight_capitals
from pipeline.room.clashes import find_clashes
from pipeline.room.crowding import find_crowded
from pipeline.room.figure_depth import keep_deep
from pipeline.room.fitting import fit, settle
from pipeline.room.footing import find_misfits
from pipeline.room.laminating import cut_slices
from pipeline.room.measure import Room
from pipeline.room.standing import stand_back
from pipeline.room.supports import hold_up
from pipeline.scene.model import Scene

Imagine = Callable[[Any, Hall, KeyPath], Imagined]

ELEMENTS: tuple[tuple[str, Imagine], ...] = (
    ("vault", webs.imagine),
    ("vault", ribs.imagine),
    ("openings", opening.imagine),
    ("columns", column.imagine),
    ("arches", arch.imagine),
    ("steps", steps.imagine),
    ("spiral_stairs", spiral_stair.imagine),
    ("meshes", mesh.imagine),
    ("figures", figure.imagine),
    ("lights", light.imagine),
)
"""Key of the scene file and the function that imagines its table, or each table of its array."""


def imagine(scene: Scene, room: Room, kept: Kept = NOTHING_KEPT) -> Imagined:
    """Return the hall's faces and all that stands in it; its ``problems`` say what does not fit."""

    def say(function: Imagine, table: Any, path: KeyPath) -> Imagined:
        return kept.watching((function, table, path), room.hall, lambda hall: function(table, hall, path))

    parts = [hall.imagine(room.hall, room.sheets)]
    for key, function in ELEMENTS:
        value = getattr(scene, key)
        if isinstance(value, tuple):
            parts += [say(function, table, (key, index)) for index, table in enumerate(value)]
        elif value is not None:
            parts.append(say(function, value, (key,)))
    said = gather(parts)
    if said.problems:
        return said
    said = keep_deep(settle(said, scene, room), scene.figures, room.hall, room.relief)
    if said.problems:
        return said
    misfits = (
        *find_clashes(said),
        *find_misfits(said, room),
        *find_slight_capitals(said, room.hall),
        *find_crowded(said, scene.figures, room.hall),
    )
    said = gather([set_back(said, scene, room), Imagined(problems=misfits)])
    if said.problems:
        return said
    said = cut_slices(said, scene, room)
    return (
        said
        if said.problems
        else hold_up(stand_back(end_on_fillings(fit(said, scene, room, kept)), scene, room), scene, room)
    )
