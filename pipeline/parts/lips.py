"""Thin places along edges that are no walls.

Terms
-----
lip
    A place thinner than is needed that juts out of material as thick as is needed no farther than it is thick itself,
    or than the corner of a cube does.
    A chamfer or a roll along an edge leaves such, but no wall that could break. The material is as thick as is needed
    where a ball of that diameter fits in.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import frames

Array = NDArray[np.float64]

STUB = math.sqrt(2.0)
"""Over its thickness: how far the corner of a stub that is as long as it is thick stands out."""
CUBE = math.sqrt(3.0)
"""Over a ball's radius: how far the corner of the cube round it lies from its middle. So near, nothing is a wall."""
LIP_STEPS = 48
"""Steps into the material in which such a ball is sought."""
LATTICE = 12
"""Places along each axis from which such a ball is sought when the way between the two sides leads to none."""
PUSHED = 1.5
"""Times what is missing that a ball is pushed off what is too near: beyond 1 it settles sooner, from 2 on never."""
SIDEWAYS = 1e-3
"""Sine; sides that part more slowly are parallel."""
NO_GAIN = 1e-6
"""mm that a ball is moved beyond what is missing, past rounding."""
NO_SIZE = 1e-9
"""mm; a point no farther from a facet lies on it, and is pushed nowhere."""
TIE = 1e-4
"""mm; facets as near as the nearest but for so little are as near."""


def lip_reach(thickness: float, needed: float) -> float:
    """Return how far from a thin place's middle the ball's middle may lie, for it to be a lip, mm."""
    return max(needed / 2 + STUB * thickness, CUBE * needed / 2)


def ball_beside(corners: Array, units: Array, middle: Array, needed: float, reach: float) -> Array | None:
    """Return the middle of a ball as wide as is needed that fits into the body beside a thin place, if one is found.

    It is sought from the thin place itself, then from the roomiest of a lattice of places round it.

    Parameters
    ----------
    corners, units
        Facets ``(m, 3, 3)`` of the body, mm, and their outward unit normals ``(m, 3)``.
    middle
        ``(3,)`` of the thin place's chord.
    needed
        The ball's diameter, mm.
    reach
        How far from there its middle may lie, mm.
    """
    low, high = corners.min(axis=1), corners.max(axis=1)
    near = ((low <= middle + 2 * reach) & (high >= middle - 2 * reach)).all(axis=1)
    corners, units = corners[near], units[near]
    found = _grown(corners, middle, middle, needed, reach)
    if found is not None and _room(found, corners, units) > 0:
        return found
    steps = np.linspace(-reach, reach, LATTICE)
    lattice = middle + np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    lattice = lattice[np.linalg.norm(lattice - middle, axis=1) <= reach]
    room = np.array([_room(point, corners, units) for point in lattice])
    found = _grown(corners, lattice[int(room.argmax())], middle, needed, reach) if room.max() > 0 else None
    return found if found is not None and _room(found, corners, units) > 0 else None


def _room(point: Array, corners: Array, units: Array) -> float:
    """Return how far a point ``(3,)`` lies within the body, mm; below zero outside."""
    ways = point - nearest_points(point, corners)
    away = np.linalg.norm(ways, axis=1)
    least = away <= away.min() + TIE  # at an edge or a corner the facet that is faced most squarely tells the side
    heights = np.einsum("ij,ij->i", ways[least], units[least])
    return -float(heights[np.abs(heights).argmax()])


def _grown(corners: Array, start: Array, middle: Array, needed: float, reach: float) -> Array | None:
    """Return the middle of a ball that no side comes near, sought from a point ``(3,)`` inside the body.

    It goes on between the two nearest sides, to where they part: each step in the direction in which both recede alike,
    then back to the middle between them. Where that ends, it is pushed off whatever is nearest (successive
    over-projection onto the half spaces of the facets): out through a thin plate too, so the ball may lie outside.
    """
    centre, parted = start, True
    for _ in range(2 * LIP_STEPS):
        ways = centre - nearest_points(centre, corners)
        away = np.linalg.norm(ways, axis=1)
        ways /= np.maximum(away, NO_SIZE)[:, None]
        one = int(away.argmin())
        if away[one] >= needed / 2:
            return centre if np.linalg.norm(centre - middle) <= reach else None
        facing = np.flatnonzero((ways @ ways[one] < -0.5) & (away < needed))
        if not parted:
            centre = centre + PUSHED * (needed / 2 - away[one]) * ways[one]
        elif len(facing) == 0:
            centre = centre + min(reach / LIP_STEPS, needed / 2 - away[one] + NO_GAIN) * ways[one]
        else:
            other = int(facing[away[facing].argmin()])
            parting = ways[one] + ways[other]
            if np.linalg.norm(parting) < SIDEWAYS:
                parted = False
                continue
            following = centre + (away[other] - away[one]) / 2 * ways[one] + reach / LIP_STEPS * frames.unit(parting)
            parted = bool(np.linalg.norm(following - middle) <= reach)
            centre = following if parted else centre
    return None


def nearest_points(points: Array, corners: Array) -> Array:
    """Return the nearest points ``(m, 3)`` to one point, or to points ``(m, 3)``, of triangles ``(m, 3, 3)``.

    The foot on the plane where it falls inside, else the nearest of the feet on the three sides.
    """
    sides = np.roll(corners, -1, axis=1) - corners
    away = points.reshape(-1, 1, 3) - corners
    t = np.clip(np.einsum("mij,mij->mi", sides, away) / np.einsum("mij,mij->mi", sides, sides), 0.0, 1.0)
    feet = corners + t[..., None] * sides
    apart = np.linalg.norm(feet - points.reshape(-1, 1, 3), axis=2)
    nearest: Array = feet[np.arange(len(corners)), apart.argmin(axis=1)]
    normals = np.cross(sides[:, 0], sides[:, 1])
    inside = (np.einsum("mij,mj->mi", np.cross(sides, away), normals) >= 0).all(axis=1)
    drop = np.einsum("mj,mj->m", normals, away[:, 0]) / np.einsum("mj,mj->m", normals, normals)
    nearest[inside] = (points - drop[:, None] * normals)[inside]
    return nearest
