"""Triangle meshes as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.vectors import cross, facet_normals

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Triangles over shared vertices.

    Attributes
    ----------
    vertices
        ``(n, 3)`` mm, in the frame the holder names.
    triangles
        ``(m, 3)`` indices, counter-clockwise seen from outside.
    """

    vertices: Array
    triangles: Indices

    def __post_init__(self) -> None:
        self.vertices.setflags(write=False)
        self.triangles.setflags(write=False)

    @property
    def corners(self) -> Array:
        """``(m, 3, 3)`` the corner points of every triangle."""
        corners: Array = self.vertices[self.triangles]
        return corners


EMPTY = Mesh(vertices=np.zeros((0, 3)), triangles=np.zeros((0, 3), dtype=np.int64))


def signed_volume(mesh: Mesh) -> float:
    """Return the enclosed volume in mm^3, positive for outward triangles (divergence theorem)."""
    a, b, c = mesh.corners[:, 0], mesh.corners[:, 1], mesh.corners[:, 2]
    return float(np.einsum("ij,ij->i", a, cross(b, c)).sum() / 6)


def normals(mesh: Mesh) -> Array:
    """Return the ``(m, 3)`` triangle normals, their lengths twice the areas."""
    return facet_normals(mesh.corners)


def loose(corners: Array) -> Mesh:
    """Return a mesh of ``(m, 3, 3)`` triangles none of which share a corner."""
    points = corners.reshape(-1, 3)
    return Mesh(vertices=points, triangles=np.arange(len(points)).reshape(-1, 3))


def weld(corners: Array) -> Mesh:
    """Return a mesh of ``(m, 3, 3)`` triangles whose exactly equal corners become one vertex."""
    points = corners.reshape(-1, 3)
    order = np.lexsort(points.T[::-1])  # ``np.unique`` along an axis finds the same, four times as slowly
    ordered = points[order]
    new = np.ones(len(points), dtype=bool)
    new[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    triangles = np.empty(len(points), dtype=np.int64)
    triangles[order] = np.cumsum(new) - 1
    return Mesh(vertices=ordered[new], triangles=triangles.reshape(-1, 3))


def join(meshes: list[Mesh]) -> Mesh:
    """Return all meshes as one, nothing shared between them."""
    if not meshes:
        return EMPTY
    offsets = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes[:-1]])
    return Mesh(
        vertices=np.vstack([mesh.vertices for mesh in meshes]),
        triangles=np.vstack([mesh.triangles + offset for mesh, offset in zip(meshes, offsets, strict=True)]),
    )
