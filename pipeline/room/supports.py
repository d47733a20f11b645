"""What holds the room up: stringers under the floor, spacers beside the walls.

Terms
-----
stringer
    A wedge that stands on the box's bottom, along the box; its upper edge is the hidden face of the floor's sheet.
spacer
    A level strip between the hidden face of a side wall and the side of the box, parted where holes are behind it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import ROUNDING, SurfaceSheet
from pipeline.elements.hall_shape import Ground as Floor
from pipeline.elements.model import Fact, Imagined, gather
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.relief.collineation import Relief
from pipeline.room.hidden import built_face, hidden_mark
from pipeline.room.measure import Room
from pipeline.scene.model import Scene

Array = NDArray[np.float64]
Interval = tuple[float, float]

SHORTEST = 8.0
"""mm; shorter spacers are not worth the glue."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """A host to be held: its face, its visible built plane ``(4,)``, the hidden one, and its stretch of built y."""

    face: Face
    visible: Array
    hidden: Array
    start: float
    end: float


def hold_up(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return what was said with the supports the scene asks for, and their places on what they hold."""
    table, faces = scene.supports, {face.id: face for face in said.faces}
    if not table.stringers and not table.spacers:
        return replace(said, facts=(*said.facts, *_offer(scene, room)))
    parts = [_all_stringers(faces, scene, room)] if table.stringers else []
    for wall in ("left-wall", "right-wall"):
        if table.spacers and wall in faces:
            ground = _ground(faces[wall], room, room.hall.front, room.hall.depth)
            parts.append(_spacers(ground, said, scene, room))
    return replace(
        said,
        faces=(*said.faces, *(face for part in parts for face in part.faces)),
        marks=(*said.marks, *(mark for part in parts for mark in part.marks)),
        facts=(*said.facts, *(fact for part in parts for fact in part.facts)),
    )


def _offer(scene: Scene, room: Room) -> list[Fact]:
    """Return how to have supports, where the floor hangs in the air."""
    if room.relief.vanishing_depth is None or not scene.floor.build:
        return []
    held = 'only the back wall, which stands by itself (extend = "box"), holds its back edge.'
    loose = 'nothing holds its back edge; back.extend = "box" lets the back wall stand by itself.'
    text = f"The floor rises from the box's bottom, and {held if scene.back.extend else loose}"
    more = "A table [supports] with stringers = 3 adds wedges under it, spacers = 2 strips beside the walls."
    return [Fact(subject="supports", text=f"{text} {more}")]


def _ground(face: Face, room: Room, near: float, far: float) -> Ground:
    """Return a host as it lies behind the apron, between two imagined depths."""
    relief, total = room.relief, face.sheet.thickness + face.sheet.finish
    normal, point = face.inward, face.imagined_from_host[:3, 2]
    visible = relief.build_plane(np.array([*normal, -normal @ point]))
    hidden = visible + np.array([0.0, 0.0, 0.0, total])
    start = max(relief.apron, relief.built_y(near))
    return Ground(face=face, visible=visible, hidden=hidden, start=start, end=relief.built_y(far))


def _along(plane: Array, axis: int) -> tuple[float, float]:
    """Return (at, slope) with ``axis`` = at + slope y on a plane that holds the third axis."""
    return -float(plane[3] / plane[axis]), -float(plane[1] / plane[axis])


def _all_stringers(faces: dict[str, Face], scene: Scene, room: Room) -> Imagined:
    """Return the wedges under every floor, numbered through from the front."""
    hall, sheet = room.hall, room.hall.sheet(scene.supports.material)
    parts: list[Imagined] = []
    number = 0
    whole = Floor(part="floor", level=0.0, origin=0.0, near=0.0, far=hall.depth)
    for floor in hall.grounds or (whole,):
        if floor.part in faces:
            ground = _ground(faces[floor.part], room, floor.near, floor.far)
            parts.append(_stringers(ground, range(number, number + scene.supports.stringers), sheet, room))
            number += len(parts[-1].faces)
    said = gather(parts)
    if said.faces:
        return said
    low, none = "The floor lies too near the box's bottom for stringers.", "There is no floor for stringers to hold."
    text = low if "floor" in faces else none
    return Imagined(facts=(Fact(subject="supports", text=text),))


def _stringers(ground: Ground, numbers: range, sheet: SurfaceSheet, room: Room) -> Imagined:
    """Return wedges shared evenly over a floor's back edge, each from where it is as high as its sheet is thick.

    Where a flight of steps ends or begins the floor, they keep clear of the risers' sheets.
    """
    relief, hall, thick = room.relief, room.hall, sheet.thickness
    at, slope = _along(ground.hidden, 2)
    clear = 2 * ground.face.sheet.thickness
    start = ground.start + (clear if ground.start > relief.apron + ROUNDING else 0.0)
    end = ground.end - (clear if ground.end < relief.built_depth - ROUNDING else 0.0)
    if slope > 0:
        start = max(start, (thick - at) / slope)
    if end - start < SHORTEST or at + slope * start < thick - ROUNDING:
        return Imagined()
    faces, marks = [], []
    back = [[x, relief.imagined_depth(end), hall.floor] for x in (-hall.width / 2, hall.width / 2)]
    left, right = relief.build_points(back)[:, 0]
    for place, number in enumerate(numbers):
        x = left + (place + 0.5) / len(numbers) * (right - left) - thick / 2
        part = f"stringer-{number + 1}"
        profile = [(start, 0.0), (start, at + slope * start), (end, at + slope * end), (end, 0.0)]
        corners = [(x, y, z) for y, z in profile]
        path = ("supports", "stringers")
        faces.append(built_face(part, corners, (0.0, 0.0, 1.0), relief=relief, sheet=sheet, path=path))
        foot = [(x, start), (x + thick, start), (x + thick, end), (x, end)]
        contact = [(u, y, at + slope * y) for u, y in foot]
        marks.append(hidden_mark(ground.face, part, contact, ground.visible, relief))
    return Imagined(faces=tuple(faces), marks=tuple(marks))


def _spacers(ground: Ground, said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return strips at even heights of the wall's back edge, parted where holes and what fills them are."""
    relief, sheet, count = room.relief, room.hall.sheet(scene.supports.material), scene.supports.spacers
    side = 1.0 if ground.face.id == "right-wall" else -1.0
    holes = _holes(ground.face, said, relief, sheet.thickness + ground.face.sheet.thickness)
    at, slope = _along(ground.hidden, 0)
    faces: list[Face] = []
    marks, used, half = [], 0, sheet.thickness / 2
    for z in _heights(ground, count, room):
        beside = _box_side(ground, (z - half, z + half), scene, room)
        whole = _wide_enough(ground, side, beside, sheet.thickness)
        stretches = _free(whole, [(hole[0, 0], hole[1, 0]) for hole in holes if hole[0, 1] < z < hole[1, 1]])
        used += bool(stretches)
        for a, b in stretches:
            part = f"{ground.face.id.removesuffix('-wall')}-spacer-{len(faces) + 1}"
            plan = [(beside(a), a), (beside(b), b), (at + slope * b, b), (at + slope * a, a)]
            corners = [(x, y, z + half) for x, y in (plan if side > 0 else plan[::-1])]
            path = ("supports", "spacers")
            faces.append(built_face(part, corners, (0.0, 1.0, 0.0), relief=relief, sheet=sheet, path=path))
            edge = [(a, z - half), (b, z - half), (b, z + half), (a, z + half)]
            contact = [(at + slope * y, y, v) for y, v in edge]
            marks.append(hidden_mark(ground.face, part, contact, ground.visible, relief))
    text = f"Beside the {ground.face.id} there is room for spacers at {used} of {count} heights."
    facts = (Fact(subject="supports", text=text),) if used < count else ()
    return Imagined(faces=tuple(faces), marks=tuple(marks), facts=facts)


def _box_side(ground: Ground, heights: Interval, scene: Scene, room: Room) -> Callable[[float], float]:
    """Return x of the box's side less the clearance by built y: the line a strip between two heights may reach to.

    Of a side that leans or is twisted the strip, cut square, keeps clear at both its heights and both ends of the wall.
    """
    inside, host = room.inside, ground.face.id
    side = 1.0 if host == "right-wall" else -1.0
    ends = (ground.start, ground.end)
    first, last = (side * min(side * inside.beside(host, y, z) for z in heights) for y in ends)
    back = side * scene.box.clearance
    if first == last:
        return lambda _: first - back
    return lambda y: first + (y - ends[0]) / (ends[1] - ends[0]) * (last - first) - back


def _wide_enough(ground: Ground, side: float, beside: Callable[[float], float], least: float) -> Interval:
    """Return the stretch of built y where a side wall stands at least so far from the box; empty where nowhere."""
    at, slope = _along(ground.hidden, 0)
    start, end = ground.start, ground.end
    if side * (slope - (beside(end) - beside(start)) / (end - start)) < 0:
        begins = beside(start) - side * least - at - slope * start
        start = max(start, start + begins / (slope - (beside(end) - beside(start)) / (end - start)))
    wide = side * (beside(start) - at - slope * start) >= least - ROUNDING
    return (start if wide else end, end)


def _heights(ground: Ground, count: int, room: Room) -> Array:
    """Return the built z of the spacers' middles: even shares of the wall's back edge up to a vault's springing."""
    hall, relief = room.hall, room.relief
    top = hall.floor + hall.height if hall.springing is None else hall.springing
    x, back = float(ground.face.imagined_from_host[0, 2]), relief.imagined_depth(ground.end)
    low, high = relief.build_points([[x, back, z] for z in (hall.floor, top)])[:, 2]
    heights: Array = low + (np.arange(count) + 0.5) / count * (high - low)
    return heights


def _holes(wall: Face, said: Imagined, relief: Relief, margin: float) -> list[Array]:
    """Return the built (y, z) bounds ``(2, 2)``, a margin larger, of a wall's holes and of what stands behind it."""
    found = [(face.imagined_from_host, face.region.curves) for face in said.faces if face.behind == wall.id]
    found += [(wall.imagined_from_host, cut.curve) for cut in said.cuts if cut.host == wall.id]
    out = []
    for matrix, border in found:
        (u0, v0), (u1, v1) = curves.bounds(border)
        corners = relief.build_points(frames.apply(matrix, [(u0, v0), (u1, v0), (u1, v1), (u0, v1)]))[:, 1:]
        out.append(np.array([corners.min(axis=0) - margin, corners.max(axis=0) + margin]))
    return out


def _free(whole: Interval, taken: list[Interval]) -> list[Interval]:
    """Return what is left of an interval, pieces shorter than ``SHORTEST`` left out."""
    out, start = [], whole[0]
    for low, high in sorted(taken):
        out.append((start, min(low, whole[1])))
        start = max(start, high)
    out.append((start, whole[1]))
    return [(a, b) for a, b in out if b - a >= SHORTEST]
