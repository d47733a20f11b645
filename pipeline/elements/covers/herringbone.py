"""Herringbone at 45 degrees, its chevrons running along host v.

In a frame (x, y) turned by 45 degrees, with L = l + j and W = w + j, a unit lies in [0, L] x [0, W] and one stands in
[0, W] x [W, W + L]; both repeat by (W, W) and (L, -L), and fill the plane for any L and W:

    (W, W) -> (0, W sqrt 2),  (L, -L) -> (L sqrt 2, 0)   in (u, v)

Every joint is the lower or the left side of exactly one unit, and the two kinds run on into each other: per place of
the lattice one guide from (-W, 0) to (L, 0) and one from (0, 0) to (0, L + W), none drawn twice.

Moved by a (W, W) + b (L, -L), the first kind lies at y = a W - b L and the second at x = a W + b L. Guides are numbered
a -+ b n, n the whole part of L / W, so two that run beside each other lie as many W apart as their numbers, or more.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.covers.laying import Joints, Laying
from pipeline.elements.covers.table import Cover
from pipeline.elements.surfaces import Family
from pipeline.geometry.clip import clip_lines
from pipeline.geometry.curves import polygon
from pipeline.geometry.regions import Region, loop_of

Array = NDArray[np.float64]

WHOLE = 1e-6
"""How little a ratio of length to width may lack of a whole number and still be it."""
UV_FROM_XY = np.array([[1.0, -1.0], [1.0, 1.0]]) * math.sqrt(0.5)


def lay(cover_mm: Cover, extent_u: float, extent_v: float) -> list[Family]:
    """Return the rising and the falling joints; the first unit's lower corner is at the host's (0, 0)."""
    short, long = sorted((cover_mm.length, cover_mm.width))
    length, width = long + cover_mm.joint, short + cover_mm.joint
    ratio = math.floor(length / width + WHOLE)
    corner = UV_FROM_XY @ np.full(2, -cover_mm.joint / 2)
    face = Region(loop_of(polygon(np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [extent_u, extent_v])))
    joints = (np.array([[-width, 0.0], [length, 0.0]]), np.array([[0.0, 0.0], [0.0, length + width]]))
    across, along = length * math.sqrt(2), width * math.sqrt(2)
    families = []
    for joint_xy, sign in zip(joints, (-1, 1), strict=True):
        joint = joint_xy @ UV_FROM_XY.T + corner
        rows, columns = _reach(joint[:, 1], along, extent_v), _reach(joint[:, 0], across, extent_u)
        row, column = (grid.ravel() for grid in np.meshgrid(rows, columns, indexing="ij"))
        places = np.column_stack([column * across, row * along])
        lines, source = clip_lines(joint[None] + places[:, None], face)
        within = np.clip(lines, 0.0, [extent_u, extent_v])
        families.append(
            Family(lines=within, numbers=(row + sign * ratio * column)[source], step=np.array([0.0, along]))
        )
    return [family for family in families if len(family.lines)]


def units(cover_mm: Cover, extent_u: float, extent_v: float) -> Array:
    """Return every unit that can touch the face, ``(n, 4, 2)`` host coordinates; those on its border reach past it."""
    short, long = sorted((cover_mm.length, cover_mm.width))
    length, width, half = long + cover_mm.joint, short + cover_mm.joint, cover_mm.joint / 2
    lying = np.array([[half, half], [length - half, half], [length - half, width - half], [half, width - half]])
    standing = lying[::-1, ::-1] + [0.0, width]
    corner = UV_FROM_XY @ np.full(2, -half)
    across, along = length * math.sqrt(2), width * math.sqrt(2)
    parts = []
    for unit_xy in (lying, standing):
        unit = unit_xy @ UV_FROM_XY.T + corner
        rows, columns = _reach(unit[:, 1], along, extent_v), _reach(unit[:, 0], across, extent_u)
        row, column = (grid.ravel() for grid in np.meshgrid(rows, columns, indexing="ij"))
        parts.append(unit + np.column_stack([column * across, row * along])[:, None])
    return np.concatenate(parts)


def joints(cover_mm: Cover, extent_u: float, extent_v: float) -> Joints:
    """Return the ways across the rising and the falling joints, and their one width."""
    return tuple((way, cover_mm.joint) for way in UV_FROM_XY.T)


def count(cover_mm: Cover, extent_u: float, extent_v: float) -> float:
    """Return about how many guides there are: two for each place of the lattice that can touch the face."""
    length, width = cover_mm.length + cover_mm.joint, cover_mm.width + cover_mm.joint
    reach = (length + width) / math.sqrt(2)
    places = ((extent_u + reach) / (length * math.sqrt(2)) + 1) * ((extent_v + reach) / (width * math.sqrt(2)) + 1)
    return 2 * places


def _reach(ends: Array, pitch: float, extent: float) -> NDArray[np.int64]:
    """Return every m for which a line between ``ends``, moved by m pitches, can touch [0, extent]."""
    first, last = math.ceil(-ends.max() / pitch), math.floor((extent - ends.min()) / pitch)
    return np.arange(first, last + 1)


LAYING = Laying(lay=lay, units=units, joints=joints, count=count)
