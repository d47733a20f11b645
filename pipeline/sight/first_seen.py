"""The points of a room that an eye sees first, on a lattice of rays and at the corners of what is there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, join
from pipeline.sight import rays

Array = NDArray[np.float64]

INSET = 1e-3
"""How far aims at corners lie within their triangle, as a share of the way to its middle: past its rim no ray slips."""


def first_seen(shown: list[Mesh], hiding: list[Mesh], eye: Array, aims: Array) -> Array:
    """Return where rays from an eye ``(3,)`` through aims ``(n, 3)`` first meet what is shown, ``(k, 3)``, mm.

    What is ``hiding`` only stands in the way; rays that meet it first, or nothing, are left out.
    """
    whole = join([*shown, *hiding])
    count = sum(len(mesh.triangles) for mesh in shown)
    ways = aims - eye
    starts = np.broadcast_to(eye, ways.shape)
    index = rays.caster(whole)(starts, ways).astype(np.int64)
    met = (index >= 0) & (index < count)
    t = rays.along(rays.plane_of(whole.corners[index[met]]), starts[met], ways[met])
    points: Array = eye + t[:, None] * ways[met]
    return points


def corner_aims(shown: list[Mesh]) -> Array:
    """Return ``(n, 3)`` points just within the corners of every triangle."""
    corners = join(shown).corners
    middles = corners.mean(axis=1, keepdims=True)
    aims: Array = (corners + INSET * (middles - corners)).reshape(-1, 3)
    return aims
