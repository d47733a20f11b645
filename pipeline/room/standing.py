"""The back wall's sheet drawn out to the box's sides, bottom and top, so that it stands by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.model import Imagined
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region, loop_of
from pipeline.room.inside import inset
from pipeline.room.measure import Room
from pipeline.scene.model import Scene

Array = NDArray[np.float64]


def stand_back(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return what was said with the back wall drawn out where the scene asks for it."""
    if scene.back.extend is None:
        return said
    faces = tuple(_drawn_out(face, scene, room) if face.id == "back-wall" else face for face in said.faces)
    return replace(said, faces=faces)


def _drawn_out(face: Face, scene: Scene, room: Room) -> Face:
    """Return the back wall with the box's inside less the clearance for its outline; what meets it ends flat on it."""
    y = room.relief.built_depth
    corners = [(x, y, z) for x, z in _border(face.sheet, scene, room)]
    points = frames.apply(room.relief.imagined_from_built, corners)
    flat = (points - face.imagined_from_host[:3, 2]) @ np.linalg.pinv(face.imagined_from_host[:3, :2]).T
    return replace(face, region=Region(loop_of(curves.polygon(flat))), through=True)


def _border(sheet: SurfaceSheet, scene: Scene, room: Room) -> Array:
    """Return the corners ``(4, 2)`` (x, z) of the box less its clearance, where the wall stands.

    In a box that narrows or leans the sheet is cut square, so each side keeps clear both of the box at the visible face
    and of the box at the hidden one.
    """
    clearance, inside = scene.box.clearance, room.inside
    if not inside.measured:
        width, height, _ = room.box
        half, top = width / 2 - clearance, height - clearance
        return np.array([(-half, 0.0), (half, 0.0), (half, top), (-half, top)])
    front = room.relief.built_depth + sheet.finish
    near, far = (inset(inside.section(y), clearance) for y in (front, front + sheet.thickness))
    low, high = np.minimum(near, far), np.maximum(near, far)
    return np.array([(high[0, 0], 0.0), (low[1, 0], 0.0), low[2], (high[3, 0], low[3, 1])])
