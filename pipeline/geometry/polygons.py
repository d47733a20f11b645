"""Faces of any number of corners, cut into triangles."""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


def cut_faces(points: Array, corners: Indices, counts: Indices) -> Indices:
    """Return ``(m, 3)`` triangles of faces.

    Parameters
    ----------
    points
        ``(n, 3)``.
    corners
        Indices of all faces' corners, one after the other; every one names a point.
    counts
        How many belong to each face, 3 or more.
    """
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.int64)
    out = [corners[starts[counts == 3][:, None] + np.arange(3)]]
    for start, count in zip(starts[counts > 3], counts[counts > 3], strict=True):
        face = corners[start : start + count]
        out.append(face[cut_polygon(points[face])])
    return np.vstack(out)


def cut_polygon(points: Array) -> Indices:
    """Return ``(k - 2, 3)`` triangles of a polygon ``(k, 3)``, cut in the plane it lies nearest to."""
    away = points - points[0]
    # Newell: the sum of the edges' cross products is twice the polygon's area along its normal.
    normal = np.cross(away, np.roll(away, -1, axis=0)).sum(axis=0)
    drop = int(np.argmax(np.abs(normal)))
    kept = [(drop + 1) % 3, (drop + 2) % 3]
    flat = points[:, kept] if normal[drop] >= 0 else points[:, kept[::-1]]
    fan = np.column_stack([np.zeros(len(points) - 2), np.arange(1, len(points) - 1), np.arange(2, len(points))])
    if not normal.any() or not np.isfinite(flat).all():
        return fan.astype(np.int64)
    cut = np.asarray(manifold3d.triangulate([np.ascontiguousarray(flat)]), dtype=np.int64)
    return cut if len(cut) == len(points) - 2 else fan.astype(np.int64)
