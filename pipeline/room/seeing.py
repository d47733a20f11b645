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
from pipeline.elements.model import Web
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import path_of

Array = NDArray[np.float64]

SEEN_MM2 = 1e-2
"""mm^2 of a face in the shadow that count as none: rounding at the shared edge."""

FLATTENING = 0.01
"""mm; the hole's edge is only looked through here."""

FACETS = 16
"""Of each piece of a web."""

FARTHEST = 100.0
"""A ray that leaves a face's plane, or runs along it, is followed this many times the way from the eye to the hole."""


def eye_corners(eye: tuple[float, float, float], size: tuple[float, float]) -> Array:
    """Return the corners of the eye box, ``(4, 3)`` built mm."""
    x, y, z = eye
    half, tall = size[0] / 2, size[1] / 2
    return np.array([[x + i * half, y, z + k * tall] for i in (-1, 1) for k in (-1, 1)])


def seen(face: Face, cut: Cut, hall: Hall, built_from_imagined: Array, eyes: Array) -> bool:
    """Return whether a face behind a hole is seen from the eye box, whose corners are ``eyes`` ``(4, 3)``."""
    built_from_host = built_from_imagined @ face.imagined_from_host
    outline = curves.flatten_path(path_of(face.region.outline), FLATTENING)
    a, b, c = frames.apply(built_from_host, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = frames.unit(np.cross(b - a, c - a))
    if np.cross(face.imagined_from_host[:3, 0], face.imagined_from_host[:3, 1]) @ face.inward < 0:
        normal = -normal
    return _shown(frames.apply(built_from_host, outline), normal, _edge(cut, hall, built_from_imagined), eyes)


def web_seen(web: Web, cut: Cut, hall: Hall, built_from_imagined: Array, eyes: Array) -> bool:
    """Return whether anything of a web behind a hole is seen from the eye box; told by narrow flat facets of it."""
    hole, t = _edge(cut, hall, built_from_imagined), np.linspace(0.0, 1.0, FACETS + 1)
    inside = frames.apply(built_from_imagined @ web.imagined_from_section, [_below(web)])[0]
    for near, far in zip(web.near, web.far, strict=True):
        one, other = (curves.evaluate(curves.transform(c, built_from_imagined), t) for c in (near, far))
        for k in range(FACETS):
            corners = np.array([one[k], other[k], other[k + 1], one[k + 1]])
            normal = frames.unit(np.cross(corners[2] - corners[0], corners[3] - corners[1]))
            if _shown(corners, normal if (inside - corners[0]) @ normal > 0 else -normal, hole, eyes):
                return True
    return False


def _below(web: Web) -> Array:
    """Return a point (a, z, u) on the axis of a web, level with its springing: every facet of a head looks there."""
    return np.array([0.0, min(float(web.section[0].start[1]), float(web.section[-1].end[1])), 0.0])


def _edge(cut: Cut, hall: Hall, built_from_imagined: Array) -> Array:
    """Return the hole's edge on the wall's visible face, ``(n, 3)`` built mm."""
    host = curves.flatten_path(cut.curve, FLATTENING)
    return frames.apply(built_from_imagined @ hall.imagined_from_host(cut.host), host)


def _shown(corners: Array, normal: Array, hole: Array, eyes: Array) -> bool:
    """Return whether a flat polygon ``(n, 3)`` that looks along ``normal`` is seen through a hole's edge ``(m, 3)``."""
    origin = corners[0]
    shadows = [_shadow(eye, hole, origin, normal) for eye in eyes if normal @ (eye - origin) > 0]
    if not shadows:
        return False
    right = frames.unit(corners[1] - origin)
    flat = np.column_stack([right, np.cross(normal, right)])
    shadow = shapely.MultiPoint((np.concatenate(shadows) - origin) @ flat).convex_hull
    return bool(shadow.intersection(shapely.Polygon((corners - origin) @ flat)).area > SEEN_MM2)


def _shadow(eye: Array, hole: Array, origin: Array, normal: Array) -> Array:
    """Return where rays from an eye past points of the hole meet a plane, ``(n, 3)``, at the hole or behind it."""
    ways = hole - eye
    toward = ways @ normal
    height = float((eye - origin) @ normal)
    reach = np.where(toward < -height / FARTHEST, -height / np.minimum(toward, -1e-300), FARTHEST)
    out: Array = eye + np.maximum(reach, 1.0)[:, None] * ways
    return out - ((out - origin) @ normal)[:, None] * normal
