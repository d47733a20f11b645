"""Which faces behind an opening any eye in the eye box can see.

Everything is told in the built room, where the eye box is: a face is seen if the shadow that the hole's edge casts on
its plane from somewhere in the eye box covers some of it. As the eye moves in a rectangle, the image of a point of the
edge moves in the quadrilateral of the images from its corners, so the hull of the corners' shadows holds all others.
Things that stand in the hall are not looked at: a face is rather kept than missed.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves, frames

Array = NDArray[np.float64]

SEEN_MM2 = 1e-2
"""mm^2 of a face in the shadow that count as none: rounding at the shared edge."""

FLATTENING = 0.01
"""mm; the hole's edge is only looked through here."""

FARTHEST = 100.0
"""A ray that leaves a face's plane, or runs along it, is followed this many times the way from the eye to the hole."""


def eye_corners(eye: tuple[float, float, float], size: tuple[float, float]) -> Array:
    """Return the corners of the eye box, ``(4, 3)`` built mm."""
    x, y, z = eye
    half, tall = size[0] / 2, size[1] / 2
    return np.array([[x + i * half, y, z + k * tall] for i in (-1, 1) for k in (-1, 1)])


def seen(face: Face, cut: Cut, hall: Hall, built_from_imagined: Array, eyes: Array) -> bool:
    """Return whether a face behind a hole is seen from the eye box, whose corners are ``eyes`` ``(4, 3)``."""
    host = curves.flatten_path(cut.curve, FLATTENING)
    hole = frames.apply(built_from_imagined @ hall.imagined_from_host(cut.host), host)
    built_from_host = built_from_imagined @ face.imagined_from_host
    corners = frames.apply(built_from_host, np.array([edge.curve.start for edge in face.region.outline]))
    origin, right, up = _axes(built_from_host)
    normal = np.cross(right, up)
    if np.cross(face.imagined_from_host[:3, 0], face.imagined_from_host[:3, 1]) @ face.inward < 0:
        normal = -normal
    shadows = [_shadow(eye, hole, origin, normal) for eye in eyes if normal @ (eye - origin) > 0]
    if not shadows:
        return False
    flat = np.column_stack([right, up])
    shadow = shapely.MultiPoint((np.concatenate(shadows) - origin) @ flat).convex_hull
    outline = shapely.Polygon((corners - origin) @ flat)
    return bool(shadow.intersection(outline).area > SEEN_MM2)


def _axes(built_from_host: Array) -> tuple[Array, Array, Array]:
    a, b, c = frames.apply(built_from_host, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    right = frames.unit(b - a)
    up = (c - a) - ((c - a) @ right) * right
    return a, right, frames.unit(up)


def _shadow(eye: Array, hole: Array, origin: Array, normal: Array) -> Array:
    """Return where rays from an eye past points of the hole meet a plane, ``(n, 3)``, at the hole or behind it."""
    ways = hole - eye
    toward = ways @ normal
    height = float((eye - origin) @ normal)
    reach = np.where(toward < -height / FARTHEST, -height / np.minimum(toward, -1e-300), FARTHEST)
    out: Array = eye + np.maximum(reach, 1.0)[:, None] * ways
    return out - ((out - origin) @ normal)[:, None] * normal
