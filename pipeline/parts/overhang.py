"""Which facets of a print will be looked at, and how much of them hangs over the bed.

Terms
-----
seen
    A facet some part of which an eye before the opening sees past the rest of its own body.
hanging
    Facing the bed within ``SUPPORT_DEG`` of straight down, and not lying on it: printed on supports, which leave marks.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.shadows import shadow
from pipeline.sight.rays import cast

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

ASIDE_MM = (0.0, -60.0, 60.0)
"""Eyes at the eye and this far to either side: whoever looks moves the head."""
SUPPORT_DEG = 45.0
"""Facets nearer than this to facing straight down need support: the usual rule for filament and resin."""
ON_BED = 1e-3
"""mm; facets this near to the bed lie on it: rounding is far less, any printer's layer far more."""
NARROW = 1.0
"""mm; a hanging strip narrower than this, such as the floor of a joint, holds itself between its sides."""
CLEAR = 1e-3
"""mm before a facet, where a ray from it starts."""
BARYCENTRIC = np.array([[1, 1, 1], [4, 1, 1], [1, 4, 1], [1, 1, 4]]) / np.array([[3], [6], [6], [6]])
"""Where on a facet it is looked at: its middle, and half-way from there to each corner."""


def eyes_before(eye: tuple[float, float, float]) -> Array:
    """Return the points ``(3, 3)`` a print is looked at from, built mm."""
    return np.array([(eye[0] + aside, eye[1], eye[2]) for aside in ASIDE_MM])


def seen_facets(corners: Array, eyes: Array, beside: Array | None = None, among: Flags | None = None) -> Flags:
    """Return which facets ``(m,)`` of a closed outward body are seen.

    Parameters
    ----------
    corners
        ``(m, 3, 3)`` built mm.
    eyes
        ``(k, 3)`` built mm.
    beside
        ``(n, 3, 3)`` facets of what stands against it, such as the other pieces it was cut from.
    among
        ``(m,)`` the facets asked about; the answer for others is no.
    """
    asked = np.arange(len(corners)) if among is None else np.flatnonzero(among)
    faces, units = corners[asked], _units(corners[asked])
    which_eye, which = np.nonzero(np.einsum("kmj,mj->km", eyes[:, None] - faces.mean(axis=1), units) > 0)
    out = np.zeros(len(corners), dtype=bool)
    if len(which) == 0:
        return out
    places = np.einsum("sk,mkj->msj", BARYCENTRIC, faces) + CLEAR * units[:, None]
    starts = places[which].reshape(-1, 3)
    ways = np.repeat(eyes[which_eye], len(BARYCENTRIC), axis=0) - starts
    before = corners if beside is None else np.concatenate([corners, beside])
    middle = before.reshape(-1, 3).mean(axis=0)  # rays are found in single precision: nearer the origin it is finer
    index, _ = cast(before - middle, starts - middle, ways)
    out[asked[which[(index < 0).reshape(-1, len(BARYCENTRIC)).any(axis=1)]]] = True
    return out


def hanging(corners: Array, up: Array, resting: bool = False) -> Flags:
    """Return which facets ``(m,)`` hang, or rest on the bed if that is asked, when ``up`` ``(3,)`` is up."""
    crossed = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    heights = corners @ up
    above = heights.max(axis=1) > heights.min(initial=np.inf) + ON_BED
    steep = crossed @ up < -np.cos(np.radians(SUPPORT_DEG)) * np.linalg.norm(crossed, axis=1) - 1e-12
    out: Flags = steep if resting else above & steep
    return out


def hanging_area(
    corners: Array, eyes: Array, built_from_bed: Array, beside: Array | None = None, *, resting: bool = False
) -> float:
    """Return how much of a body hangs and is seen, mm^2 as looked at from the bed, narrow strips left out.

    Parameters
    ----------
    corners
        ``(m, 3, 3)`` of the whole body, built mm.
    eyes, beside
        As for `seen_facets`.
    built_from_bed
        ``(4, 4)`` rigid.
    resting
        Whether what lies on the bed counts as well.
    """
    bad = hanging(corners, built_from_bed[:3, 2], resting)
    if bad.any():
        bad = seen_facets(corners, eyes, beside, bad)
    if not bad.any():
        return 0.0
    half = NARROW / 2
    opened = (
        shadow(corners[bad], built_from_bed[:3, :2]).buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    )
    return float(opened.area)


def _units(corners: Array) -> Array:
    crossed = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    units: Array = crossed / np.maximum(np.linalg.norm(crossed, axis=1), 1e-300)[:, None]
    return units
