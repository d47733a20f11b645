"""Whether closed meshes hold points, and how near they come to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.geometry.nearest import on_triangles

Array = NDArray[np.float64]


def holds(mesh: Mesh, point: Array) -> bool:
    """Return whether a point lies within a closed mesh.

    The facets' solid angles seen from within add up to the whole sphere, from without to nothing (A. van Oosterom and
    J. Strackee, *The Solid Angle of a Plane Triangle*, 1983).
    """
    vertices = mesh.vertices
    if not len(vertices) or (point < vertices.min(axis=0)).any() or (point > vertices.max(axis=0)).any():
        return False
    a, b, c = (mesh.corners - point).transpose(1, 0, 2)
    la, lb, lc = (np.linalg.norm(one, axis=1) for one in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = la * lb * lc
    for one, other, length in ((a, b, lc), (b, c, la), (c, a, lb)):
        under = under + np.einsum("ij,ij->i", one, other) * length
    return bool(np.arctan2(over, under).sum() > np.pi)  # half of the half of 4 pi


def gap_to(mesh: Mesh, point: Array) -> float:
    """Return how far a point ``(3,)`` is from the surface of a mesh, mm."""
    corners = mesh.corners
    on = on_triangles(np.broadcast_to(point, (len(corners), 3)), corners)
    return float(np.sqrt(((on - point) ** 2).sum(axis=1).min()))
