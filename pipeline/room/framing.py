"""How far into the hole of the front frame a vault's webs reach.

Terms
-----
hole
    The frame's inside, as large as the hall at the opening and cut straight back through its thickness.

Behind the opening the hall shrinks toward the eye's axis. Webs that began behind a thick frame would so stand well
inside its hole, and the bare box be seen between; they run on into it as far as the sheet behind their faces has room.
"""

from __future__ import annotations

import math

import numpy as np

from pipeline.elements.vault.shape import VaultShape
from pipeline.geometry import curves
from pipeline.relief.collineation import Relief

SAMPLES = np.linspace(0.0, 1.0, 65)
"""Of each curve of the barrel's section; between them the distance below changes by less than a hundredth."""


SNUG = 0.02
"""mm; left between the webs and the frame: what facets of either stray from their curves."""
WITHIN = 0.5
"""mm that webs should reach into the hole: seen past the rim of the hole, the gap beside them then is closed."""
MOST_EASED = 0.5
"""Share of the webs' thickness that may be taken off their hidden side for that. With less room than this, the frame's
back still covers their edge."""


def frame_webs(shape: VaultShape, relief: Relief, thickness: float, front: float) -> tuple[float, float]:
    """Return the imagined y from which webs along the hall start, and how much of their hidden side to ease there, mm.

    With the scale 1 / w across the hall at its depth, what is m mm outside the eye's axis, square to the barrel's
    outline, has come inward by m (1 - 1 / w). A sheet ``thickness`` mm thick that follows it takes up, across,
    thickness / cos(lean), where the tangent of its lean is its distance from the axis over the vanishing depth.

    Parameters
    ----------
    shape
        The vault.
    relief
        The collineation.
    thickness
        Of the webs, built mm.
    front
        Imagined y behind the frame, where walls start.
    """
    end = relief.built_y(front)
    if relief.a == 0 or front <= relief.apron or end <= WITHIN:
        return front, 0.0
    eye = np.array([relief.eye[0], relief.eye[2]])
    points = np.vstack([curves.evaluate(curve, SAMPLES) for curve in shape.barrel])
    ways = np.vstack([curves.tangents(curve, SAMPLES) for curve in shape.barrel])
    outward = np.column_stack([ways[:, 1], -ways[:, 0]]) / np.linalg.norm(ways, axis=1, keepdims=True)
    away = points - eye
    room = float(np.einsum("ij,ij->i", away, outward).min())
    needed = thickness * math.hypot(1.0, float(np.linalg.norm(away, axis=1).max()) * relief.a / relief.b) + SNUG
    snug = relief.apron + needed / (room - needed) / relief.a if needed < room else math.inf
    latest = relief.imagined_depth(max(end - WITHIN, relief.apron))
    if snug <= latest:
        return snug, 0.0
    short = needed - room * (1 - 1 / (1 + relief.a * (latest - relief.apron)))
    return (latest, short) if short <= MOST_EASED * thickness else (front, 0.0)
