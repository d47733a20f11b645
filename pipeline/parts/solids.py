"""The outside of a solid: its imagined skin in facets, carried into the built room.

Terms
-----
ring
    A level's section as a polygon; ring points of all levels correspond one to one.
placement
    The one matrix that carries a solid: the identity before the apron's end, the relief behind it. Solids lie wholly
    on one side, which their elements have made sure of.
"""

from __future__ import annotations

import math
from functools import lru_cache

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Solid
from pipeline.elements.hall_shape import Hall
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim
from pipeline.geometry.meshes import Mesh
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bodies import triangulate
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

TOUCH = 1e-6
"""mm; elements place things this near to a plane when they mean on it."""
BEYOND = 1.0
"""mm a sweep runs on past the faces its ends touch, so that cutting it to the hall meets no coinciding planes."""
SKIN_FINENESS = 0.25
"""The imagined skin's chord error over the print's: fine enough to measure the print against it."""
FEWEST_STEPS, MOST_STEPS = 2, 4096
"""Facets of one conic arc."""
REMEMBERED = 64
"""Solids whose depths are remembered: whoever makes, lights or checks one asks; they are known by identity."""


def placement(solid: Solid, relief: Relief) -> Array:
    """Return the ``(4, 4)`` matrix built_from_imagined of a solid."""
    far = depth_range(solid)[1]
    return np.eye(4) if far <= relief.apron + TOUCH else relief.built_from_imagined


@lru_cache(maxsize=REMEMBERED)
def depth_range(solid: Solid) -> tuple[float, float]:
    """Return the least and greatest imagined y of a solid's levels."""
    if solid.axis == "y":
        return solid.levels[0].at, solid.levels[-1].at
    spans = [curves.bounds(level.section)[:, 1] for level in solid.levels]
    return float(min(low for low, _ in spans)), float(max(high for _, high in spans))


def host_planes(hall: Hall) -> dict[str, Array]:
    """Return the imagined planes ``(4,)`` that bound the hall, normals into it, and the opening's."""
    half = hall.width / 2
    planes = {
        "floor": (0.0, 0.0, 1.0, -hall.floor),
        "ceiling": (0.0, 0.0, -1.0, hall.floor + hall.height),
        "left-wall": (1.0, 0.0, 0.0, half),
        "right-wall": (-1.0, 0.0, 0.0, half),
        "back-wall": (0.0, -1.0, 0.0, hall.depth),
        "opening": (0.0, 1.0, 0.0, 0.0),
    }
    return {host: np.array(plane) for host, plane in planes.items()}


def placed_planes(hall: Hall, built_from_imagined: Array) -> dict[str, Array]:
    """Return `host_planes` in the built room, ``(4,)`` with unit normals: plane' = M^-T plane."""
    carry = np.linalg.inv(built_from_imagined).T
    carried = {host: carry @ plane for host, plane in host_planes(hall).items()}
    return {host: plane / np.linalg.norm(plane[:3]) for host, plane in carried.items()}


def limits(solid: Solid) -> tuple[str, ...]:
    """Return the planes a solid is cut by: the hosts it touches, and the opening where it would stand out of it."""
    return (*solid.contacts, "opening") if depth_range(solid)[0] < -TOUCH else solid.contacts


def section_matrix(solid: Solid, built_from_imagined: Array, at: float) -> Array:
    """Return the ``(3, 3)`` homography from a section's plane to the built one, for the level ``at``.

    Of a column's section to the plan, which is the same for all levels, as verticals stay vertical; of an arch's
    section to the plane y' = const.
    """
    m = built_from_imagined
    if solid.axis == "z":
        return m[np.ix_([0, 1, 3], [0, 1, 3])]
    rows = m[[0, 2, 3]]
    return np.column_stack([rows[:, 0], rows[:, 2], rows[:, 1] * at + rows[:, 3]])


def rings(solid: Solid, built_from_imagined: Array, tolerance: float) -> list[Array]:
    """Return ``(n, 2)`` points of every level's section, imagined mm, on the exact curve.

    As built, no chord strays more than ``tolerance`` mm from its curve; corresponding curves get as many facets as
    the neediest of them.
    """
    carry = np.array([section_matrix(solid, built_from_imagined, level.at) for level in solid.levels])
    parts = []
    for column in zip(*(level.section for level in solid.levels), strict=True):
        control = np.array([curve.points for curve in column])
        count = 1 if column[0].straight else _steps(control @ carry.transpose(0, 2, 1), tolerance)
        parts.append(_points(control, np.arange(count) / count))
    return list(np.concatenate(parts, axis=1))


def _points(control: Array, t: Array) -> Array:
    """Return ``(k, n, 2)`` points at parameters ``t`` ``(n,)`` of curves with control points ``(k, 2 or 3, 3)``."""
    if control.shape[1] == 2:
        basis = np.column_stack([1 - t, t])
    else:
        basis = np.column_stack([(1 - t) ** 2, 2 * t * (1 - t), t**2])
    homogeneous = basis @ control
    points: Array = homogeneous[..., :2] / homogeneous[..., 2:]
    return points


def _steps(control: Array, tolerance: float) -> int:
    """Return how many chords of equal parameter keep within the tolerance on all arcs ``(k, 3, 3)``.

    The error falls as the square of the count.
    """
    count = FEWEST_STEPS
    while count < MOST_STEPS:
        points = _points(control, np.arange(2 * count + 1) / (2 * count))
        chords, away = points[:, 2::2] - points[:, :-2:2], points[:, 1::2] - points[:, :-2:2]
        across = np.abs(chords[..., 0] * away[..., 1] - chords[..., 1] * away[..., 0])
        error = float((across / np.linalg.norm(chords, axis=2)).max())
        if error <= tolerance:
            return count
        count = max(count + 1, min(4 * count, math.ceil(count * math.sqrt(error / tolerance))))
    raise BodyError("a curve does not flatten within the tolerance; is a length infinite?")


def sweep(solid: Solid, sections: list[Array], beyond: float) -> Mesh:
    """Return the closed imagined mesh through the rings, its ends drawn out ``beyond`` mm past faces they touch."""
    places = [level.at for level in solid.levels]
    first, last = ("floor", "ceiling") if solid.axis == "z" else ("", "back-wall")
    if beyond and first in solid.contacts:
        places, sections = [places[0] - beyond, *places], [sections[0], *sections]
    if beyond and last in solid.contacts:
        places, sections = [*places, places[-1] + beyond], [*sections, sections[-1]]
    return swept(solid.axis, places, sections)


def swept(axis: str, places: list[float], sections: list[Array]) -> Mesh:
    """Return the closed mesh through counter-clockwise rings ``(n, 2)`` at growing places along an axis."""
    count, stories = len(sections[0]), len(sections)
    flat = np.vstack(sections)
    along = np.repeat(places, count)
    vertices = np.column_stack([flat, along] if axis == "z" else [flat[:, 0], along, flat[:, 1]])
    i = np.arange(count)
    j = np.roll(i, -1)
    sides = []
    for story in range(stories - 1):
        low, high = story * count, (story + 1) * count
        sides += [np.column_stack([i + low, j + low, j + high]), np.column_stack([i + low, j + high, i + high])]
    bottom = triangulate([sections[0]])[:, ::-1]
    top = triangulate([sections[-1]]) + (stories - 1) * count
    triangles: Indices = np.vstack([bottom, top, *sides])
    # (x, z) seen along y is the other hand of (x, y) seen along z.
    return Mesh(vertices=vertices, triangles=triangles if axis == "z" else triangles[:, ::-1].copy())


def built_body(
    solid: Solid, sections: list[Array], hall: Hall, built_from_imagined: Array, fit: float
) -> manifold3d.Manifold:
    """Return the full body, built mm: carried over point by point, grooved, cut to the built hall.

    It stands off the hosts it touches by ``fit``; the opening it may reach.
    """
    mesh = sweep(solid, sections, BEYOND)
    moved = Mesh(vertices=frames.apply(built_from_imagined, mesh.vertices), triangles=mesh.triangles)
    body = body_of(moved)
    planes = placed_planes(hall, built_from_imagined)
    for host in limits(solid):
        body = trim(body, planes[host], 0.0 if host == "opening" else fit)
    return _grooved(solid, body, built_from_imagined)


def imagined_skin(
    solid: Solid, hall: Hall, built_from_imagined: Array, tolerance: float, kept: Kept = NOTHING_KEPT
) -> Mesh:
    """Return the closed imagined body kept inside the hall, imagined mm, for pictures and for measuring prints.

    Its facets stray ``SKIN_FINENESS`` times as far from the curves as a print's of that ``tolerance``, in the room
    where they stray more.
    """
    fine = tolerance * SKIN_FINENESS * min(1.0, 1.0 / _enlarging(solid, built_from_imagined))
    planes = host_planes(hall)
    ends = {"z": ("floor", "ceiling"), "y": ("back-wall",)}[solid.axis]
    # Behind the apron's end the relief only shrinks, so that the skin knows nothing of the eye.
    return kept.of(_skin_within, solid, [planes[host] for host in limits(solid) if host not in ends], fine)


def _skin_within(solid: Solid, planes: list[Array], tolerance: float) -> Mesh:
    """Return the closed imagined body on the positive side of planes ``(4,)``."""
    body = body_of(sweep(solid, rings(solid, np.eye(4), tolerance), 0.0))
    for plane in planes:
        body = trim(body, plane)
    return mesh_of(_grooved(solid, body, np.eye(4)))


def _enlarging(solid: Solid, built_from_imagined: Array) -> float:
    """Return the largest scale across the hall within the solid: 1 / w at its near end."""
    row = built_from_imagined[3]
    return float(1.0 / (row[1] * max(0.0, depth_range(solid)[0]) + row[3]))


def _grooved(solid: Solid, body: manifold3d.Manifold, matrix: Array) -> manifold3d.Manifold:
    if not solid.grooves:
        return body
    boxes = [manifold3d.Manifold.hull_points(frames.apply(matrix, groove.corners)) for groove in solid.grooves]
    return manifold3d.Manifold.batch_boolean([body, *boxes], manifold3d.OpType.Subtract)
