"""Bodies whose measures are known in closed form."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.parts.bed import lay_on_bed
from pipeline.parts.model import Print
from pipeline.parts.solids import swept

Array = NDArray[np.float64]

FIT, WALL = 0.15, 1.001
SIDES = 32
EYES_FRONT = np.array([[0.0, -400.0, 60.0]])


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Mesh:
    mesh = swept("z", [0.0, z], [np.array([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)])] * 2)
    return Mesh(vertices=mesh.vertices + np.array(at), triangles=mesh.triangles)


def hollow_box(x: float, y: float, z: float, wall: float) -> Mesh:
    """Return a box with a sealed hollow behind walls of one thickness."""
    inner = box(x - 2 * wall, y - 2 * wall, z - 2 * wall, (wall, wall, wall))
    return mesh_of(body_of(box(x, y, z)) - body_of(inner))


def printed_as(body: Mesh, *, hollow: bool = False, wall: float = 1.0, name: str = "part") -> Print:
    """Return a body as a print whose imagined skin is itself: for the relief that changes nothing."""
    block = Block(id=name, mesh=body, contacts=(), joints=np.zeros((0, 2, 3)))
    return Print(
        solid=block, body=body, skin_imagined=body, built_from_bed=lay_on_bed(body), hollow=hollow,
        volume=signed_volume(body), min_wall=wall,
    )  # fmt: skip


def disc(radius: float) -> float:
    """Return the area of the polygon that stands for a round peg or hole: n r^2 sin(2 pi / n) / 2."""
    return SIDES * radius**2 * math.sin(2 * math.pi / SIDES) / 2
