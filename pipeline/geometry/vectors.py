"""Products of many vectors at once.

``np.cross`` takes vectors of either two or three numbers along any axis, and spends ten times as long finding that
out as the product of a few takes.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def cross(a: Array, b: Array) -> Array:
    """Return the products ``(..., 3)`` of vectors ``(..., 3)``, to the last bit those of ``np.cross``."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    for k, (i, j) in enumerate(((1, 2), (2, 0), (0, 1))):
        np.multiply(a[..., i], b[..., j], out=out[..., k])
        out[..., k] -= a[..., j] * b[..., i]
    return out


def facet_normals(corners: Array) -> Array:
    """Return the normals ``(m, 3)`` of triangles ``(m, 3, 3)``, as long as twice their areas."""
    return cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


def lengths(vectors: Array) -> Array:
    """Return the lengths ``(...,)`` of vectors ``(..., d)``, to the last bit those of ``np.linalg.norm``.

    numpy sums along a last axis of two or three numbers one short row after the other; whole columns are several times
    as fast.
    """
    total = vectors[..., 0] * vectors[..., 0]
    for k in range(1, vectors.shape[-1]):
        total += vectors[..., k] * vectors[..., k]
    out: Array = np.sqrt(total)
    return out


def norm(vector: Array) -> float:
    """Return the length of one vector ``(d,)``, to the last bit that of ``np.linalg.norm``, only sooner."""
    row = vector.ravel()  # of numbers that lie apart the product is rounded otherwise
    return math.sqrt(row.dot(row))
