"""Floors that lie too high for the eye or too low for the box: the elements know neither.

A lower floor's sheet is lowest where it meets the riser that leads down to it. With the floor's built plane rising by
``tan a`` along the hall, thickness t of the floor's sheet and r of the riser's, its hidden corner lies at

    z' - r tan a - t / cos a,

with z' the built height of the visible edge; it is found for a fall of nothing and for the one asked, and in between
goes in a straight line nearly enough to say how much room there is.
"""

from __future__ import annotations

import math

from pipeline.elements.hall_shape import Ground
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Face
from pipeline.room.measure import Room

SLACK = 0.01
"""mm of room kept, so that rounding does not decide."""


def find_misfits(said: Imagined, room: Room) -> list[Problem]:
    """Return the problems of every floor that the eye would see from below or that would reach through the box."""
    faces = {face.id: face for face in said.faces}
    problems = []
    for before, ground in zip(room.hall.grounds, room.hall.grounds[1:], strict=False):
        face = faces[ground.part]
        problem = _too_high(room, ground, face.path) or _too_low(room, before, ground, face)
        if problem is not None:
            problems.append(problem)
    return problems


def _too_high(room: Room, ground: Ground, path: KeyPath) -> Problem | None:
    level, eye = room.hall.floor + ground.level, room.relief.eye[2]
    if level < eye - SLACK:
        return None
    metres = room.hall.metres
    return Problem(
        path=(*path, "rise"),
        found=f"the floor behind would lie {metres(ground.level):.4g} m up and be seen from below",
        allowed=f"below the eye, which is {metres(eye - room.hall.floor):.4g} m over the front floor",
        remedy="make the steps fewer or lower, or raise the eye",
    )


def _too_low(room: Room, before: Ground, ground: Ground, face: Face) -> Problem | None:
    if ground.level >= min(before.level, 0.0):
        return None
    total = face.sheet.thickness + face.sheet.finish
    least = _lowest(room, ground.origin, ground.level, total)
    if least >= 0:
        return None
    level, other = _lowest(room, ground.origin, 0.0, total), ground.level
    room_left = max(0.0, -other * (level - SLACK) / (level - least)) if level > 0 else 0.0
    metres = room.hall.metres
    return Problem(
        path=(*face.path, "rise"),
        found=f"the floor behind, {metres(-other):.4g} m down, would reach {-least:.3g} mm through the box's bottom",
        allowed=f"at {metres(ground.origin):.4g} m from the opening at most {metres(room_left):.4g} m down in all",
        remedy="begin the steps farther back, where the built floor lies higher, or make them fewer or lower",
    )


def _lowest(room: Room, y: float, level: float, total: float) -> float:
    """Return the built z of the lowest corner of a floor's sheet that begins at an imagined y."""
    relief, z = room.relief, room.hall.floor + level
    (_, y0, z0), (_, y1, z1) = relief.build_points([[0.0, y, z], [0.0, room.hall.depth, z]])
    slope = math.atan2(float(z1 - z0), float(y1 - y0))
    return float(z0) - total * math.tan(slope) - total / math.cos(slope)
