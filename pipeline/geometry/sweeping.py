"""Closed bodies swept through plane sections.

Terms
-----
section
    A closed plane polygon, counter-clockwise.
loft
    The body between sections that correspond point by point, one behind the other along a third axis.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]


def loft(sections: ArrayLike, places: ArrayLike, frame: Array) -> Mesh:
    """Return the closed outward body through sections that correspond point by point.

    Parameters
    ----------
    sections
        ``(m, k, 2)`` polygons in the frame's first two axes, counter-clockwise, mm.
    places
        ``(m,)`` growing places along the frame's third axis, mm.
    frame
        ``(4, 4)`` right-handed rigid frame of the sections.
    """
    rings = np.asarray(sections, dtype=np.float64)
    count, size = rings.shape[:2]
    third = np.repeat(np.asarray(places, dtype=np.float64), size)
    vertices = np.column_stack([rings.reshape(-1, 2), third])
    i = np.arange(size)
    j = np.roll(i, -1)
    low = (np.arange(count - 1) * size)[:, None]
    near, next_near, far, next_far = low + i, low + j, low + size + i, low + size + j
    sides = [np.stack([near, next_near, next_far], axis=-1), np.stack([near, next_far, far], axis=-1)]
    first = np.asarray(manifold3d.triangulate([rings[0]], allow_convex=False), dtype=np.int64)
    last = np.asarray(manifold3d.triangulate([rings[-1]], allow_convex=False), dtype=np.int64)
    triangles = np.vstack([first[:, ::-1], last + (count - 1) * size, *(side.reshape(-1, 3) for side in sides)])
    return Mesh(vertices=frames.apply(frame, vertices), triangles=triangles)


def prism(section: ArrayLike, low: float, high: float, frame: Array) -> Mesh:
    """Return the closed outward body of one section ``(k, 2)`` between two places of the frame's third axis, mm."""
    ring = np.asarray(section, dtype=np.float64)
    return loft(np.stack([ring, ring]), [low, high], frame)
