"""Rigid frames, planes and homogeneous points.

Matrices are named ``b_from_a`` and act on column vectors; arrays hold points as rows ``(n, 3)``.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import affinity

Array = NDArray[np.float64]


def apply(matrix: Array, points: ArrayLike) -> Array:
    """Return ``points`` ``(n, d)`` moved by a homogeneous ``(e + 1, d + 1)`` matrix, as ``(n, e)``.

    Raises
    ------
    ValueError
        If a point goes to infinity or beyond it (its weight is not above zero).
    """
    rows = np.atleast_2d(np.asarray(points, dtype=np.float64))
    moved = rows @ matrix[:, :-1].T + matrix[:, -1]
    weights = moved[:, -1:]
    if len(rows) and not (weights > 0).all():
        raise ValueError("a point passes through infinity under this matrix")
    out: Array = moved[:, :-1] / weights
    return out


def inverse(matrix: Array) -> Array:
    """Return the inverse of a homography, ``(n, n)``."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def unit(vector: ArrayLike) -> Array:
    """Return the vector ``(d,)`` at length 1.

    Raises
    ------
    ValueError
        If it has no length.
    """
    array = np.asarray(vector, dtype=np.float64)
    size = float(np.linalg.norm(array))
    if not size > 0:
        raise ValueError("a direction of no length")
    out: Array = array / size
    return out


def rigid(right: ArrayLike, up: ArrayLike, toward: ArrayLike, origin: ArrayLike) -> Array:
    """Return the ``(4, 4)`` matrix whose columns are three orthonormal axes and the origin."""
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2], matrix[:3, 3] = right, up, toward, origin
    return matrix


def invert_rigid(matrix: Array) -> Array:
    """Return the inverse of a rigid ``(4, 4)`` matrix, exactly transposed."""
    out = np.eye(4)
    out[:3, :3] = matrix[:3, :3].T
    out[:3, 3] = -matrix[:3, :3].T @ matrix[:3, 3]
    return out


def moved(shape: shapely.Polygon, matrix: Array) -> shapely.Polygon:
    """Return a polygon moved by a rigid ``(3, 3)`` matrix."""
    return affinity.affine_transform(shape, [*matrix[0, :2], *matrix[1, :2], matrix[0, 2], matrix[1, 2]])
