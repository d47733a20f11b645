"""A figure that is a mesh from a file: as tall as it is to be, its soles over its place, turned as it looks.

Terms
-----
soles
    What of the mesh lies in the lowest twentieth of its height; their middle stands on the figure's place.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall
from pipeline.elements.mesh import UPRIGHT, WALLS, across_apron, outside, refused
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import KeyPath
from pipeline.geometry.meshes import Mesh
from pipeline.units import part_id

if TYPE_CHECKING:
    from pipeline.elements.figure import FigureTable

Array = NDArray[np.float64]

SOLES = 0.05
"""Share of the height that soles are looked for in."""


def figure_block(table: FigureTable, file: str, hall: Hall, path: KeyPath) -> Imagined:
    """Return the body of a figure's mesh, or the problems against it; ``hall`` is as it is over its floor."""
    from pipeline.geometry.mending import MendError, mend  # only where a scene has meshes: others are answered sooner
    from pipeline.meshfiles import MeshFileError, read_mesh_file

    try:
        if file not in hall.files:
            raise MeshFileError("it was not read")
        read = read_mesh_file(file, hall.files[file])
        upright = UPRIGHT if (table.up or read.up) == "y" else np.eye(3)
        tall = float(np.ptp(read.mesh.corners.reshape(-1, 3) @ upright[2]))
        mended = mend(read.mesh, hall.millimetres(table.height) / tall if tall > 0 else None)
    except (MeshFileError, MendError) as refusal:
        return Imagined(problems=(refused(file, (*path, "mesh"), refusal),))
    mesh = _stood(table, hall, mended.mesh, upright)
    problems = outside(table.name, table.at, hall, path, mesh, smaller="height") or across_apron(hall, path, mesh)
    if problems:
        return Imagined(problems=tuple(problems))
    name = part_id(table.name)
    contacts = ("opening", *(wall for wall in WALLS if wall in hall.surfaces))
    floor = (np.array([0.0, 0.0, 1.0, -hall.floor]),)
    block = Block(id=name, mesh=mesh, contacts=contacts, seams=floor, joints=np.zeros((0, 2, 3)), path=path)
    size = " x ".join(f"{hall.metres(value):.3g}" for value in np.ptp(mesh.vertices, axis=0))
    facts = [f"{file}: {len(mesh.triangles):,} facets, {size} m (width x depth x height)"]
    if mended.repairs:
        facts.append(f"{file} was mended: {', '.join(mended.repairs)}")
    facts += [f"{file}: {note}" for note in read.notes]
    return Imagined(blocks=(block,), facts=tuple(Fact(subject=name, text=text) for text in facts))


def _stood(table: FigureTable, hall: Hall, mesh: Mesh, upright: Array) -> Mesh:
    """Return a mesh of a file's own size and place as tall as the figure, on its place, turned as it looks."""
    turn = math.radians(table.facing + (table.turn or 0.0))
    about = np.array([[math.cos(turn), -math.sin(turn), 0.0], [math.sin(turn), math.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    points = mesh.vertices @ (about @ upright).T
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    soles = points[points[:, 2] <= low + SOLES * (high - low), :2]
    middle = np.append((soles.min(axis=0) + soles.max(axis=0)) / 2, low)
    x, y = (hall.millimetres(value) for value in table.at)
    scale = hall.millimetres(table.height) / (high - low)
    return Mesh(vertices=np.array([x, y, hall.floor]) + scale * (points - middle), triangles=mesh.triangles)
