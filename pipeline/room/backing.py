"""Pieces set behind their walls: where the wall's sheet is passed, built, the piece begins.

A piece lies flat on the back of the wall's sheet, or in a plane parallel to the imagined wall when that one clears the
sheet. The back of the sheet is a plane of the built room; the relief takes it to a plane of the imagined one, and a
piece drawn on the wall moves onto it square to the imagined wall:

    P = H (u, v, 1) + s(u, v) o,     pi . (P, 1) = 0     =>     s = -pi . H (u, v, 1) / (pi . (o, 0))

with H the wall's matrix, o the direction out of the room and pi the imagined plane; s is linear in u and v.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region
from pipeline.relief.collineation import Relief
from pipeline.room.measure import Room
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

ROUNDING = 1e-6
"""mm; figures turned from metres."""


def set_back(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return what was said with every piece that stands behind a wall moved there, or the problems of it.

    Behind a printed reveal it keeps the play that prints are given.
    """
    printed = {cut.path for cut in said.cuts if cut.reveal > 0 and cut.made_as == "print"}
    faces, problems = [], []
    for face in said.faces:
        if not face.behind or face.behind not in room.hall.surfaces:
            faces.append(face)
            continue
        if _crosses_apron(face, room.relief.apron):
            problems.append(_on_the_fold(face, room))
            continue
        moved = _moved(face, room, scene.make.fit if face.path[:-1] in printed else 0.0)
        problems += _outside(moved, room)
        faces.append(moved)
    return replace(said, faces=tuple(faces), problems=(*said.problems, *problems))


def back_plane(face: Face, host_matrix: Array, total: float, relief: Relief) -> Array:
    """Return the built plane ``(4,)`` (n, c), n into the room, ``total`` mm behind a face that does not fold."""
    normal, point = face.inward, host_matrix[:3, 2]
    plane = np.array([*normal, -normal @ point])
    if not _before_apron(face, relief.apron):
        plane = relief.build_plane(plane)
    out: Array = plane + np.array([0.0, 0.0, 0.0, total])
    return out


def end_on_fillings(said: Imagined) -> Imagined:
    """Return what was said with the strips of reveals ending flat against what fills their hole."""
    fillings = {face.path[:-1]: face.id for face in said.faces if face.behind}
    faces = [
        replace(face, through=True)
        if face.behind
        else replace(face, region=_ending_on(face.region, fillings[face.path]))
        if face.path in fillings
        else face
        for face in said.faces
    ]
    webs = [
        replace(web, far_ends=tuple(replace(end, against=end.against or fillings[web.path]) for end in web.far_ends))
        if web.path in fillings
        else web
        for web in said.webs
    ]
    return replace(said, faces=tuple(faces), webs=tuple(webs))


def _ending_on(region: Region, part: str) -> Region:
    """Return a strip's region; the end that lay against nothing lies against the part."""
    return Region(tuple(replace(edge, against=edge.against or part) for edge in region.outline), region.holes)


def _moved(face: Face, room: Room, play: float) -> Face:
    host, out = face.imagined_from_host, -face.inward
    sheet = room.hall.surfaces[face.behind]
    plane = plane_built = back_plane(face, host, sheet.thickness + sheet.finish, room.relief)
    if not _before_apron(face, room.relief.apron):
        plane = room.relief.built_from_imagined.T @ plane_built
    step = -(plane @ host) / (plane[:3] @ out)
    if face.inset is not None:
        corners = np.array([[*edge.curve.start, 1.0] for edge in face.region.outline])
        if (corners @ step <= face.inset + ROUNDING).all():
            step = np.array([0.0, 0.0, face.inset + play / _shrunk(face, plane_built, room.relief)])
    matrix = host.copy()
    matrix[:3] += np.outer(out, step)
    return replace(face, imagined_from_host=matrix)


def _shrunk(face: Face, plane_built: Array, relief: Relief) -> float:
    """Return the least built distance, square to the wall, that a mm out of the imagined room comes to."""
    corners = np.array([edge.curve.start for edge in face.region.outline])
    points = frames.apply(face.imagined_from_host, corners) - (face.inset or 0.0) * face.inward
    ways = relief.build_points(points - face.inward) - relief.build_points(points)
    return float((-ways @ plane_built[:3]).min())


def _depths(face: Face) -> tuple[float, float]:
    y = frames.apply(face.imagined_from_host, curves.bounds(face.region.curves))[:, 1]
    return float(y.min()), float(y.max())


def _before_apron(face: Face, apron: float) -> bool:
    return _depths(face)[1] <= apron + ROUNDING


def _crosses_apron(face: Face, apron: float) -> bool:
    low, high = _depths(face)
    return low < apron - ROUNDING and high > apron + ROUNDING


def _on_the_fold(face: Face, room: Room) -> Problem:
    apron = room.hall.metres(room.relief.apron)
    return Problem(
        path=face.path,
        found=f"{face.id} would be folded at the apron's end, {apron:.4g} m from the opening",
        allowed="pieces behind a wall that stand wholly before or behind it",
        remedy="move the opening, or give a smaller space.apron",
    )


def _outside(face: Face, room: Room) -> list[Problem]:
    """Return the problem of a piece that does not fit between its wall and the box."""
    points = np.vstack([curves.evaluate(edge.curve, [0.0, 0.5]) for edge in face.region.outline])
    visible = room.relief.build_points(frames.apply(face.imagined_from_host, points))
    wall = room.inside.planes["back-wall" if face.behind == "back-wall" else face.behind]
    left = float((visible @ wall[:3] + wall[3]).min())
    if left >= face.sheet.thickness:
        return []
    found = f"{face.id} is {face.sheet.thickness:g} mm thick, the box leaves {max(left, 0.0):.3g} mm behind the wall"
    remedy = "raise box.back_gap" if face.behind == "back-wall" else "move the opening farther back"
    remedy += ", or take a thinner sheet"
    return [Problem(path=face.path, found=found, allowed="a piece that fits", remedy=remedy)]
