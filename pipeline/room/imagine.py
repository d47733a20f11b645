"""Everything the elements of a scene say, gathered, and what they get in one another's way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pipeline.elements import arch, column, hall, opening
from pipeline.elements.model import Hall, Imagined, KeyPath, gather
from pipeline.room.clashes import find_clashes
from pipeline.room.measure import Room
from pipeline.scene.model import Scene

Imagine = Callable[[Any, Hall, KeyPath], Imagined]

ELEMENTS: dict[str, Imagine] = {
    "openings": opening.imagine,
    "columns": column.imagine,
    "arches": arch.imagine,
}
"""Array of tables in the scene file to the function that imagines one of its tables."""


def imagine(scene: Scene, room: Room) -> Imagined:
    """Return the hall's faces and all that stands in it; its ``problems`` say what does not fit."""
    parts = [hall.imagine(room.hall, room.sheets)]
    for key, function in ELEMENTS.items():
        for index, table in enumerate(getattr(scene, key)):
            parts.append(function(table, room.hall, (key, index)))
    said = gather(parts)
    if said.problems:
        return said
    return gather([said, Imagined(problems=tuple(find_clashes(said)))])
