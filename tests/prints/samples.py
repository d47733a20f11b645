"""Halls, reliefs, and columns and arches to stand in them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.elements import arch, column
from pipeline.elements.bodies import Solid
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.parts.model import Print
from pipeline.parts.shells import shell
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

HALL = Hall(scale=24, width=340.0, height=280.0, depth=500.0, floor=3.0, apron=0.0, front=0.0)
RELIEF = Relief(eye=(20.0, -500.0, 120.0), apron=0.0, apparent_depth=500.0, built_depth=250.0)
IDENTITY = Relief(eye=(20.0, -500.0, 120.0), apron=0.0, apparent_depth=500.0, built_depth=500.0)
FLAT = Relief(eye=(-30.0, -420.0, 78.0), apron=0.0, apparent_depth=500.0, built_depth=90.0)

VOUSSOIRS = {"flat": 7, "round": 9, "segmental": 11, "pointed": 10, "ogee": 8, "basket": 9}


def columns(hall: Hall = HALL, /, **keys: Any) -> Imagined:
    table = {"name": "pier", "at": [1.0, 5.0], "diameter": 0.6, **keys}
    return column.imagine(column.ColumnTable.model_validate(table), hall, ("columns", 0))


def arches(hall: Hall = HALL, /, **keys: Any) -> Imagined:
    table = {"name": "cross arch", "at": 3.0, "springing": 1.6, "ring": 0.35, "depth": 1.0, **keys}
    return arch.imagine(arch.ArchTable.model_validate(table), hall, ("arches", 0))


def only(imagined: Imagined) -> Solid:
    assert imagined.problems == ()
    (solid,) = imagined.solids
    return solid


def printed(solid: Solid, relief: Relief = RELIEF, hall: Hall = HALL, **keys: Any) -> Print:
    making: dict[str, Any] = {"fit": 0.15, "mesh_tolerance": 0.02, "min_wall": 1.0, "min_cavity": 2.0, **keys}
    return shell(solid, relief, hall, **making)


def point_triangle_distances(points: Array, corners: Array) -> Array:
    """Return the least distance ``(n,)`` of points to triangles ``(m, 3, 3)``, by brute force.

    The foot on the plane where it falls inside, else the nearest point of the three sides.
    """
    best = np.full(len(points), np.inf)
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    n = np.cross(b - a, c - a)
    for k, p in enumerate(points):
        inside = np.ones(len(corners), dtype=bool)
        for s, e in ((a, b), (b, c), (c, a)):
            way, away = e - s, p - s
            inside &= np.einsum("ij,ij->i", np.cross(way, away), n) >= 0
            t = np.clip(np.einsum("ij,ij->i", way, away) / np.einsum("ij,ij->i", way, way), 0, 1)
            best[k] = min(best[k], np.linalg.norm(away - t[:, None] * way, axis=1).min())
        if inside.any():
            plane = np.abs(np.einsum("ij,ij->i", n, p - a)) / np.linalg.norm(n, axis=1)
            best[k] = min(best[k], plane[inside].min())
    return best
