"""The back wall's sheet drawn out to the box's sides, bottom and top, so that it stands by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.elements.model import Imagined
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region, loop_of
from pipeline.room.measure import Room
from pipeline.scene.model import Scene


def stand_back(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return what was said with the back wall drawn out where the scene asks for it."""
    if scene.back.extend is None:
        return said
    faces = tuple(_drawn_out(face, scene, room) if face.id == "back-wall" else face for face in said.faces)
    return replace(said, faces=faces)


def _drawn_out(face: Face, scene: Scene, room: Room) -> Face:
    """Return the back wall with the box's inside less the clearance for its outline; what meets it ends flat on it."""
    clearance, (width, height, _) = scene.box.clearance, room.box
    half, y, top = width / 2 - clearance, room.relief.built_depth, height - clearance
    corners = [(-half, y, 0.0), (half, y, 0.0), (half, y, top), (-half, y, top)]
    points = frames.apply(room.relief.imagined_from_built, corners)
    flat = (points - face.imagined_from_host[:3, 2]) @ np.linalg.pinv(face.imagined_from_host[:3, :2]).T
    return replace(face, region=Region(loop_of(curves.polygon(flat))), through=True)
