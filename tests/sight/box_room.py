"""A small room of our own for the tests: five faces in running bond, one round column, made here from nothing else."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, weld
from pipeline.relief.collineation import Relief
from pipeline.sight.camera import Front, Rectangle
from pipeline.sight.light import Light
from pipeline.sight.scenery import Surface

Array = NDArray[np.float64]

WIDTH, FLOOR, HEIGHT, DEPTH = 168.0, 4.0, 140.0, 250.0
RELIEF = Relief(eye=(10.0, -420.0, 78.0), apron=0.0, apparent_depth=DEPTH, built_depth=76.0)
LIGHT = Light(eye=RELIEF.eye, depth=DEPTH)
FRONT = Front(
    box=Rectangle(left=-90, right=90, bottom=0, top=150),
    hall=Rectangle(left=-WIDTH / 2, right=WIDTH / 2, bottom=FLOOR, top=FLOOR + HEIGHT),
    rim=5.0,
)


def face(origin: Array, u: Array, v: Array) -> Array:
    """Two triangles of the parallelogram ``origin``, ``origin + u``, ``origin + v``."""
    a, b, c, d = origin, origin + u, origin + u + v, origin + v
    return np.array([[a, b, c], [a, c, d]])


def bond(origin: Array, u: Array, v: Array, length: float, gauge: float) -> Array:
    """Bed joints and half-lapped perpends, ``(n, 2, 3)``."""
    across, up = np.linalg.norm(u), np.linalg.norm(v)
    lines = []
    for n in range(int(up / gauge) + 1):
        z0, z1 = n * gauge, min((n + 1) * gauge, up)
        lines.append([[0, z0], [across, z0]])
        lines += [[[x, z0], [x, z1]] for x in np.arange((n % 2) * length / 2, across, length)]
    places = np.array(lines)
    out: Array = origin + places[..., :1] * (u / across) + places[..., 1:] * (v / up)
    return out


def column(x: float, y: float, radius: float, count: int = 48, levels: int = 12) -> Array:
    """The side of a round column, floor to ceiling, outward."""
    angle = np.linspace(0, 2 * np.pi, count + 1)
    angle[-1] = 0
    z = np.linspace(FLOOR, FLOOR + HEIGHT, levels + 1)
    ring = np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], axis=1)
    out = []
    for k in range(count):
        for m in range(levels):
            a, b = (*ring[k], z[m]), (*ring[k + 1], z[m])
            c, d = (*ring[k + 1], z[m + 1]), (*ring[k], z[m + 1])
            out += [[a, b, c], [a, c, d]]
    return np.array(out)


def imagined_faces() -> dict[str, tuple[Array, Array, Array]]:
    """Origin and sides of the five faces."""
    half = WIDTH / 2
    low, x, y, z = np.array([-half, 0, FLOOR]), *(np.diag([WIDTH, DEPTH, HEIGHT]))
    return {
        "floor": (low, x, y),
        "ceiling": (low + z, y, x),
        "left-wall": (low, y, z),
        "right-wall": (low + x, z, y),
        "back-wall": (low + y, x, z),
    }


TONES = {
    "floor": (0.78, 0.72, 0.64),
    "ceiling": (0.86, 0.83, 0.78),
    "left-wall": (0.80, 0.70, 0.62),
    "right-wall": (0.80, 0.70, 0.62),
    "back-wall": (0.82, 0.74, 0.66),
}


def surface(part: str, tone: tuple[float, float, float], corners: Array, lines: Array, solid: bool) -> Surface:
    """A surface whose built half is the relief of its imagined one."""
    mesh = weld(corners)
    return Surface(
        part=part,
        tone=tone,
        built=Mesh(vertices=RELIEF.build_points(mesh.vertices), triangles=mesh.triangles),
        imagined=mesh,
        lines_built=RELIEF.build_points(lines.reshape(-1, 3)).reshape(-1, 2, 3),
        lines_imagined=lines,
        solid=solid,
    )


def surfaces(brick: float = 8.0, count: int = 48, levels: int = 12) -> list[Surface]:
    """The whole room; ``brick`` is the length of a unit, mm at the opening."""
    none = np.zeros((0, 2, 3))
    out = [
        surface(name, TONES[name], face(*sides), bond(*sides, brick, brick / 3), solid=False)
        for name, sides in imagined_faces().items()
    ]
    for k, (x, y) in enumerate([(-60.0, 60.0), (55.0, 150.0)]):
        out.append(surface(f"pier-{k + 1}", (0.86, 0.82, 0.74), column(x, y, 9.0, count, levels), none, solid=True))
    return out
