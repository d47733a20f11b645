"""Small meshes written by trimesh, a second program, or by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]
ROOT = Path(__file__).parents[2]

WRITERS: dict[str, tuple[str, dict[str, str]]] = {
    "binary STL": ("stl", {}),
    "text STL": ("stl", {"file_type": "stl_ascii"}),
    "OBJ": ("obj", {}),
    "binary PLY": ("ply", {}),
    "text PLY": ("ply", {"encoding": "ascii"}),
    "GLB": ("glb", {}),
}
"""Ending of each format, and how trimesh is asked for it."""


def exported(mesh: trimesh.Trimesh, form: str) -> tuple[str, bytes]:
    """Return file name and bytes of a mesh as trimesh writes it."""
    ending, how = WRITERS[form]
    data = mesh.export(**{"file_type": ending, **how})
    return f"thing.{ending}", data.encode() if isinstance(data, str) else bytes(data)


def l_shape() -> trimesh.Trimesh:
    """Return a closed L, 3 x 2 x 1 with a 2 x 1 x 1 corner gone: volume 4, unlike along every axis."""
    outline = [(0, 0), (3, 0), (3, 1), (1, 1), (1, 2), (0, 2)]
    points = np.array([(x, y, z) for z in (0.0, 1.0) for x, y in outline])
    cap = [(0, 1, 3), (1, 2, 3), (0, 3, 5), (3, 4, 5)]
    walls = [t for i in range(6) for t in ((i, (i + 1) % 6, (i + 1) % 6 + 6), (i, (i + 1) % 6 + 6, i + 6))]
    faces = [(a, c, b) for a, b, c in cap] + [(a + 6, b + 6, c + 6) for a, b, c in cap] + walls
    return trimesh.Trimesh(points, faces, process=False)


def mesh_of(thing: trimesh.Trimesh) -> Mesh:
    """Return a trimesh mesh as ours."""
    return Mesh(vertices=np.array(thing.vertices, dtype=np.float64), triangles=np.array(thing.faces, dtype=np.int64))


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> trimesh.Trimesh:
    """Return a box between two corners."""
    return trimesh.creation.box(bounds=np.array([low, high]))


def stl_text(triangles: Array) -> bytes:
    """Return triangles ``(m, 3, 3)`` as a text STL, every digit written."""
    rows = ["solid by hand"]
    for corners in triangles.tolist():
        rows += ["facet normal 0 0 0", "outer loop"]
        rows += ["vertex " + " ".join(repr(value) for value in corner) for corner in corners]
        rows += ["endloop", "endfacet"]
    return "\n".join([*rows, "endsolid by hand", ""]).encode()


def as_loose(mesh: Mesh) -> Mesh:
    """Return the mesh with no corner shared, as STL files hold it."""
    return Mesh(vertices=mesh.corners.reshape(-1, 3), triangles=np.arange(3 * len(mesh.triangles)).reshape(-1, 3))


def edited(mesh: Mesh, *, without: tuple[int, ...] = (), turned: tuple[int, ...] = ()) -> Mesh:
    """Return the mesh with some facets left out and others turned over."""
    rows = np.array(mesh.triangles)
    rows[list(turned)] = rows[list(turned)][:, ::-1]
    return Mesh(vertices=mesh.vertices, triangles=np.delete(rows, list(without), axis=0))


def together(*things: trimesh.Trimesh) -> Mesh:
    """Return several as one mesh, nothing shared."""
    return mesh_of(trimesh.util.concatenate(things))
