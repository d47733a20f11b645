"""The light of the imagined room, as a painter would lay it on: it belongs to the surfaces, not to the camera.

The tone of a point depends on its imagined place and imagined normal alone. So a built room and the imagined one
look alike from the eye, and from anywhere else the built room shows painted light that no longer fits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.vectors import lengths
from pipeline.sight.scenery import Scenery

Array = NDArray[np.float64]
Colours = NDArray[np.float32]

AMBIENT, HEAD, KEY = 0.58, 0.36, 0.32
"""Shares of the light: from everywhere, from the eye, and from one side."""
KEY_FROM = np.array([-0.46, -0.36, 0.81])
"""Unit direction toward the side light: from the left, the front and above."""
FALL = np.array([0.30, 0.36, 0.44])
"""Red, green and blue lost from the opening to the back wall; blue most, so the depth grows warm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Where the light comes from: the eye, and how deep the imagined room is, mm."""

    eye: tuple[float, float, float]
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paint:
    """What each triangle brings to its pixels: float32 ``(m, 3)`` tones, ``(m,)`` steady light, ``(m,)`` headlight."""

    tone: Colours
    steady: Colours
    head: Colours


def mix(scenery: Scenery, light: Light) -> Paint:
    """Return the paint of every triangle.

    The headlight on a plane is h / |E - p|, h the eye's height above it, so only the distance is left per pixel.
    """
    normals = scenery.planes[:, :3]
    height = normals @ np.asarray(light.eye) + scenery.planes[:, 3]
    turned = np.where(scenery.sheet & (height < 0), -1.0, 1.0)
    steady = AMBIENT + KEY * (0.5 + 0.5 * turned * (normals @ KEY_FROM))
    return Paint(
        tone=scenery.tone.astype(np.float32),
        steady=steady.astype(np.float32),
        head=(HEAD * np.maximum(turned * height, 0)).astype(np.float32),
    )


def shade(scenery: Scenery, paint: Paint, light: Light, index: NDArray[np.integer], points_imagined: Array) -> Colours:
    """Return the colours ``(n, 3)`` in [0, 1] of imagined points ``(n, 3)`` on triangles ``index`` ``(n,)``."""
    points = points_imagined.astype(np.float32)
    away = np.asarray(light.eye, dtype=np.float32) - points
    distance = np.sqrt(np.einsum("ij,ij->i", away, away))
    strength = paint.steady[index] + paint.head[index] / distance
    row = scenery.bend[index]
    bent = np.flatnonzero(row >= 0)
    if len(bent):
        strength[bent] = _bent_strength(scenery, row[bent], points_imagined[bent], away[bent] / distance[bent, None])
    deep = np.clip(points[:, 1] * np.float32(1 / light.depth), 0, 1)
    colours, tone = np.empty_like(points), paint.tone[index]
    for k, fall in enumerate(-FALL.astype(np.float32)):  # a channel at a time: numpy is slow along rows of three
        channel = deep * fall
        channel += 1
        channel *= strength
        channel *= tone[:, k]
        np.minimum(channel, 1, out=colours[:, k])
    return colours


def _bent_strength(scenery: Scenery, row: NDArray[np.integer], points_imagined: Array, toward_eye: Colours) -> Colours:
    bends = scenery.bends[row]
    normal = np.einsum("ijk,ik->ij", bends[:, :, :3], points_imagined) + bends[:, :, 3]
    normal /= lengths(normal)[:, None]
    head = np.maximum(np.einsum("ij,ij->i", normal, toward_eye), 0)
    strength: Colours = (AMBIENT + KEY * (0.5 + 0.5 * (normal @ KEY_FROM)) + HEAD * head).astype(np.float32)
    return strength
