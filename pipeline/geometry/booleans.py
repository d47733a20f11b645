"""Closed meshes as bodies for booleans, and back.

manifold3d reports no error for nonsense (NaN, inside-out input), so every body is looked at when it comes and goes.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]


class BodyError(ValueError):
    """A body that should be closed, outward and not empty is not."""


def body_of(mesh: Mesh) -> manifold3d.Manifold:
    """Return a closed outward mesh as a body.

    Raises
    ------
    BodyError
        If it holds NaN, is not closed, or encloses no volume.
    """
    if not np.isfinite(mesh.vertices).all():
        raise BodyError("a vertex is not a finite point")
    body = manifold3d.Manifold(
        manifold3d.Mesh64(
            np.array(mesh.vertices, dtype=np.float64, order="C"), np.array(mesh.triangles, dtype=np.uint64, order="C")
        )
    )
    if body.status() != manifold3d.Error.NoError or body.is_empty() or not body.volume() > 0:
        raise BodyError(f"not a closed outward body: {body.status()}, volume {body.volume():g}")
    return body


def mesh_of(body: manifold3d.Manifold) -> Mesh:
    """Return a body as a mesh; an empty body is an empty mesh."""
    raw = body.to_mesh64()
    return Mesh(
        vertices=np.array(raw.vert_properties[:, :3], dtype=np.float64),
        triangles=np.array(raw.tri_verts, dtype=np.int64),
    )


def trim(body: manifold3d.Manifold, plane: Array, inside: float = 0.0) -> manifold3d.Manifold:
    """Return the part of a body at least ``inside`` mm on the positive side of a unit plane (n, c)."""
    if body.is_empty():
        return body
    low, high = np.array(body.bounding_box()).reshape(2, 3)
    if np.where(plane[:3] > 0, low, high) @ plane[:3] + plane[3] >= inside:
        return body  # cutting off nothing takes as long as cutting
    return body.trim_by_plane(plane[:3].tolist(), float(inside - plane[3]))
