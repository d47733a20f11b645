"""What figures and bodies throw on a plane from a point of light, near or infinitely far away.

Terms
-----
source
    Homogeneous ``(4,)``: a point (x, y, z, 1), or (-d, 0) for parallel light that travels along d.
receiver
    The plane that light falls on: a ``(4, 3)`` matrix from its own coordinates (u, v, 1), and its homogeneous plane
    ``(4,)`` with the lit side positive.
height
    Of a point, its distance from the receiver's plane as that plane measures it; that of the source is s.

The ray from the source S through P meets the plane pi in

    P' = s P - (pi . P) S,     s = pi . S,

since pi . P' = 0. Its weight is above zero where P lies nearer to the plane than the source does. What lies behind the
plane, or farther from it than the source, throws nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.shadows import shadow

Array = NDArray[np.float64]

FLATTENING = 5e-4
"""mm; how far the polygons that are compared stray from their curves. Machines place a hundred times as coarsely."""
FINEST = 2e-5
"""mm; the same for figures that are cut off before they are thrown, which may enlarge them many times."""
NEAREST = 1e-4
"""Share of the source's height; what comes nearer to its level throws so far that no room holds it."""
FARTHEST = 2000.0
"""mm; what is thrown farther than this is not drawn as an exact curve: no face is so large."""
ON_PLANE = 1e-6
"""mm; what lies so near to the plane lies in it."""
THIN = 1e-9
"""mm; a source this near to a figure's own plane sees it edge on."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Receiver:
    """A plane that light falls on, and the source it comes from.

    Attributes
    ----------
    source
        Homogeneous ``(4,)``.
    matrix
        ``(4, 3)`` from (u, v, 1).
    plane
        ``(4,)``, unit normal, the lit side positive.
    """

    source: Array
    matrix: Array
    plane: Array

    @property
    def height(self) -> float:
        """Height of the source; not above zero where the plane is turned away."""
        return float(self.plane @ self.source)

    @cached_property
    def thrown(self) -> Array:
        """The ``(3, 4)`` matrix from points to where they are thrown, (u, v, 1)."""
        onto = self.height * np.eye(4) - np.outer(self.source, self.plane)
        out: Array = np.linalg.pinv(self.matrix) @ onto
        return out

    @cached_property
    def limits(self) -> tuple[Array, ...]:
        """Homogeneous planes ``(4,)``: what throws lies on the positive side of each."""
        if self.source[3] == 0:
            return (self.plane,)
        away = -self.plane
        away[3] += self.height * (1 - NEAREST)
        return (self.plane, away)


@dataclass(frozen=True, slots=True, eq=False)
class Thrown:
    """A region of the receiver, and the exact curves that its border follows where it follows any."""

    shape: shapely.Geometry
    curves: tuple[Curve, ...] = ()


NOTHING = Thrown(shapely.Polygon())


def throw_figure(loops: Sequence[Path], matrix: Array, receiver: Receiver) -> Thrown:
    """Return what a plane figure throws.

    Parameters
    ----------
    loops
        Its outline first, then its holes, in its own coordinates.
    matrix
        ``(4, 3)`` from these to points.
    receiver
        What it is thrown on.
    """
    across = np.cross(matrix[:3, 0], matrix[:3, 1])
    own = np.array([*across, -across @ matrix[:3, 2]]) / np.linalg.norm(across)
    if abs(own @ receiver.source) < THIN:
        return NOTHING
    rows = [limit @ matrix for limit in receiver.limits]
    ends = curves.bounds([curve for loop in loops for curve in loop])
    corners = np.array([[u, v, 1.0] for u in ends[:, 0] for v in ends[:, 1]])
    heights = np.array([corners @ row for row in rows])
    if heights[0].max() < ON_PLANE or (heights.max(axis=1) <= 0).any():
        return NOTHING
    through = receiver.thrown @ matrix
    if heights.min() >= -ON_PLANE and (corners @ through[2] > 0).all():
        whole = _throw_whole(loops, through)
        if whole is not None:
            return whole
    shape = polygon(loops, FINEST)
    for row, height in zip(rows, heights, strict=True):
        if height.min() < 0:
            shape = shape.intersection(_half(row, ends))
    if shape.is_empty or shape.area == 0:
        return NOTHING
    return Thrown(_valid(shapely.transform(shape, lambda points: _moved(through, points))))


def _throw_whole(loops: Sequence[Path], through: Array) -> Thrown | None:
    """Return what a figure throws with its exact curves, or nothing where it is thrown too far for them."""
    thrown = tuple(curves.transform_path(loop, through) for loop in loops)
    if float(np.abs([curve.start for loop in thrown for curve in loop]).max()) > FARTHEST:
        return None
    try:
        shape = polygon(thrown)
    except ValueError:
        return None  # so far drawn out that even thousands of chords are too coarse
    return Thrown(shape, tuple(curve for loop in thrown for curve in loop if not curve.straight))


def throw_body(mesh: Mesh, receiver: Receiver, *, closed: bool) -> Thrown:
    """Return what a mesh throws: of a closed one, what its facets turned one way do; of an open one, all of them."""
    heights = np.array([mesh.vertices @ limit[:3] + limit[3] for limit in receiver.limits])
    if heights[0].max() < ON_PLANE or (heights.max(axis=1) <= 0).any():
        return NOTHING
    if heights.min() < 0:
        if not closed:
            return _throw_facets(mesh, receiver)
        try:
            body = body_of(mesh)
        except BodyError:
            return _throw_facets(mesh, receiver)
        for limit in receiver.limits:
            body = trim(body, limit)
        mesh = mesh_of(body)
        if not len(mesh.triangles):
            return NOTHING
    places = _moved3(receiver.thrown, mesh.vertices)
    corners = places[mesh.triangles]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    turned = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    flat = np.concatenate([corners, np.zeros((*corners.shape[:2], 1))], axis=2)
    across = np.eye(3)[:, :2]
    sides = [flat[turned > 0]] if closed else [flat[turned > 0], flat[turned < 0]]
    return Thrown(_valid(shapely.union_all([shadow(side, across) for side in sides if len(side)])))


def polygon(loops: Sequence[Path], tolerance: float = FLATTENING) -> shapely.Geometry:
    """Return the polygon of an outline and its holes."""
    rings = [curves.flatten_path(loop, tolerance) for loop in loops]
    return _valid(shapely.Polygon(rings[0], rings[1:]))


def _valid(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a region whose border does not cross itself; rounding may have turned a corner inside out."""
    return shape if shape.is_valid else shapely.make_valid(shape).buffer(0)


def _throw_facets(mesh: Mesh, receiver: Receiver) -> Thrown:
    """Return what the facets throw one by one, each cut off where it throws nothing."""
    corners, through = mesh.corners, receiver.thrown
    heights = np.array([corners @ limit[:3] + limit[3] for limit in receiver.limits])
    some = (heights >= 0).any(axis=2).all(axis=0)
    whole = (heights >= 0).all(axis=(0, 2))
    thrown = _moved3(through, corners[whole].reshape(-1, 3)).reshape(-1, 3, 2)
    pieces = shapely.polygons(thrown) if len(thrown) else np.zeros(0, dtype=object)
    cut = []
    for points in corners[some & ~whole]:  # few: those that reach past the plane, or past the source
        for limit in receiver.limits:
            points = _cut(points, limit)  # noqa: PLW2901
        if len(points) > 2:
            cut.append(shapely.Polygon(_moved3(through, points)))
    pieces = np.concatenate([pieces, np.array(cut, dtype=object)])
    pieces = pieces[shapely.is_valid(pieces) & (shapely.area(pieces) > 0)]
    return Thrown(shapely.union_all(pieces)) if len(pieces) else NOTHING


def _cut(points: Array, plane: Array) -> Array:
    """Return what of a convex polygon ``(n, 3)`` lies on the positive side of a plane (Sutherland and Hodgman)."""
    if not len(points):
        return points
    heights: list[float] = (points @ plane[:3] + plane[3]).tolist()
    corners: list[list[float]] = points.tolist()  # so few numbers are reckoned faster one by one
    out = []
    for here, there, a, b in zip(corners, corners[1:] + corners[:1], heights, heights[1:] + heights[:1], strict=True):
        if a >= 0:
            out.append(here)
        if (a >= 0) != (b >= 0):
            share = a / (a - b)
            out.append([x + share * (y - x) for x, y in zip(here, there, strict=True)])
    return np.array(out).reshape(-1, 3)


def _half(row: Array, ends: Array) -> shapely.Polygon:
    """Return the half plane ``row . (u, v, 1) >= 0`` as far as a figure within ``ends`` can reach."""
    size = 4 * float(np.linalg.norm(ends[1] - ends[0])) + 1.0
    middle = ends.mean(axis=0)
    length = float(np.linalg.norm(row[:2]))
    if length == 0:
        return shapely.box(*(middle - size), *(middle + size)) if row[2] >= 0 else shapely.Polygon()
    normal, off = row[:2] / length, (row[:2] @ middle + row[2]) / length
    foot = middle - np.clip(off, -size, size) * normal
    along = size * np.array([-normal[1], normal[0]])
    return shapely.Polygon(
        [foot + along, foot - along, foot - along + 3 * size * normal, foot + along + 3 * size * normal]
    )


def _moved(matrix: Array, points: Array) -> Array:
    rows = points @ matrix[:, :2].T + matrix[:, 2]
    out: Array = rows[:, :2] / rows[:, 2:]
    return out


def _moved3(matrix: Array, points: Array) -> Array:
    rows = points @ matrix[:, :3].T + matrix[:, 3]
    out: Array = rows[:, :2] / rows[:, 2:]
    return out
