"""Prints: solids hollowed from their hidden side, walls as built never thinner than the printer needs.

Terms
-----
ruling
    A straight line of the skin along the solid's axis. A column's stay vertical; an arch's run to the vanishing point,
    so that its sections by planes y' = const are all similar, and its skin a cone.
core
    The hollow: drawn along the rulings over one flat profile, so that it is exact and needs no general offset.
profile
    What every section of the solid has in common, inset by the wall. For a column in the built plan; for an arch
    in its imagined section, where the cone is a prism.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.bodies import Solid
from pipeline.elements.hall_shape import Hall
from pipeline.geometry import frames
from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim
from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.keeping.kept import around
from pipeline.parts.bed import lay_on_bed
from pipeline.parts.bodies import triangulate
from pipeline.parts.model import Print
from pipeline.parts.solids import (
    built_body,
    depth_range,
    imagined_skin,
    limits,
    placed_planes,
    placement,
    rings,
    section_matrix,
)
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

SPARE = 1e-3
"""mm every wall is made thicker than asked: above all rounding of written files, below any printer."""
SHORTEST = 1e-4
"""mm; edges shorter than this fall together when written in single precision, so they are taken out first."""
MITRE = 5.0
"""Longest corner of an inset, in walls."""
OPEN_END = 1.0
"""mm a core runs on past the face it opens through."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Making:
    """What a shell is made for, built mm."""

    fit: float
    wall: float
    cavity: float


def shell(
    solid: Solid,
    relief: Relief,
    hall: Hall,
    *,
    fit: float,
    mesh_tolerance: float,
    min_wall: float,
    min_cavity: float,
    bulkheads: tuple[tuple[Array, float], ...] = (),
) -> Print:
    """Return a solid as a print.

    Parameters
    ----------
    solid
        Imagined; wholly before or wholly behind the apron's end.
    fit
        Play to the panels it touches, mm.
    mesh_tolerance
        Facets to curved surfaces, built mm.
    min_wall
        No wall is thinner, square to its skin, built mm, but where the solid itself is.
    min_cavity
        Hollows narrower or shallower than this are filled, built mm.
    bulkheads
        Planes ``(4,)`` (n, c), built mm, and how far on either side of each the hollow is filled.

    Raises
    ------
    BodyError
        If the result is not one closed outward body.
    """
    hall = hall.standing(*depth_range(solid))
    matrix = placement(solid, relief)
    sections = rings(solid, matrix, mesh_tolerance)
    whole = built_body(solid, sections, hall, matrix, fit)
    making = _Making(fit=fit, wall=min_wall + SPARE, cavity=min_cavity)
    hollow = (_column_core if solid.axis == "z" else _arch_core)(solid, sections, hall, matrix, making)
    if hollow is not None and bulkheads:
        hollow = parted(hollow, bulkheads, min_cavity)
    body = mesh_of((whole if hollow is None else whole - hollow).simplify(SHORTEST))
    _assure_whole(solid, body)
    return Print(
        solid=solid,
        body=body,
        skin_imagined=imagined_skin(solid, hall, matrix, mesh_tolerance, around()),
        built_from_bed=lay_on_bed(body),
        hollow=hollow is not None,
        volume=signed_volume(body),
        min_wall=min_wall,
    )


def parted(
    hollow: manifold3d.Manifold, bulkheads: tuple[tuple[Array, float], ...], cavity: float
) -> manifold3d.Manifold | None:
    """Return a hollow less its bulkheads, and less what they leave of it too shallow to be one."""
    for plane, depth in bulkheads:
        kept = []
        for side in (plane, -plane):
            for piece in trim(hollow, side, depth).decompose():
                along = mesh_of(piece).vertices @ plane[:3]
                if np.ptp(along) >= cavity:
                    # A piece remembers every body that it ever was part of, and what is composed of pieces remembers
                    # all of theirs: plane by plane that would double.
                    kept.append(piece.as_original())
        if not kept:
            return None
        hollow = manifold3d.Manifold.compose(kept)
    return hollow


def _assure_whole(solid: Solid, body: Mesh) -> None:
    outside = [piece for piece in body_of(body).decompose() if piece.volume() > 0]
    if len(outside) != 1:
        raise BodyError(f"{solid.id} falls into {len(outside)} pieces")


def _column_core(
    solid: Solid, sections: list[Array], hall: Hall, matrix: Array, making: _Making
) -> manifold3d.Manifold | None:
    """Return the hollow of an upright solid, built mm, or nothing where there is no room for one."""
    plan = section_matrix(solid, matrix, 0.0)
    planes = placed_planes(hall, matrix)
    common = _common([frames.apply(plan, points) for points in sections])
    closed, mouth = [], None
    for host in limits(solid):
        if host in ("floor", "ceiling"):
            continue
        n, c = planes[host][:2], planes[host][3]
        if host == solid.opens:
            mouth = np.array([*n, c - making.fit])
        else:
            closed.append(np.array([*n, c - making.wall - (0.0 if host == "opening" else making.fit)]))
    profile = _profile(common, making.wall, making.cavity, closed, mouth)
    low, high = hall.floor - OPEN_END - making.wall, hall.floor + hall.height + OPEN_END + making.wall
    heights = frames.apply(matrix, [[0.0, y, z] for y in depth_range(solid) for z in (low, high)])[:, 2]
    ends = (float(heights.min()) - OPEN_END, float(heights.max()) + OPEN_END)

    def place(points: Array, end: int) -> Array:
        return np.column_stack([points, np.full(len(points), ends[end])])

    core = _prisms(profile, place)
    for host in ("floor", "ceiling"):
        if core is not None and host != solid.opens:
            core = trim(core, planes[host], making.fit + making.wall)
    if core is None or core.is_empty():
        return None
    box = core.bounding_box()
    return core if box[5] - box[2] >= making.cavity else None


def _arch_core(
    solid: Solid, sections: list[Array], hall: Hall, matrix: Array, making: _Making
) -> manifold3d.Manifold | None:
    """Return the hollow of a solid along the hall, built mm, or nothing where there is no room for one."""
    near, far = depth_range(solid)
    at_front, at_back = (float(frames.apply(matrix, [[0.0, y, 0.0]])[0, 1]) for y in (near, far))
    row = matrix[3]
    back_scale = 1.0 / (row[1] * far + row[3])
    joints_deep, joints_in = _groove_depths(solid, sections, matrix, at_front)
    front = at_front + making.wall + joints_deep
    touches_back = "back-wall" in solid.contacts
    ends_at = at_back - (making.fit if touches_back else 0.0)
    back = ends_at + OPEN_END if solid.opens else ends_at - making.wall
    if min(back, ends_at) - front < making.cavity:
        return None
    slant = _slant(_common(sections), matrix, far)
    # The rulings close in toward the back, so a gap given there is wider everywhere before it.
    gap = making.wall * slant / back_scale
    planes = {host: plane for host, plane in _section_planes(hall).items() if host in solid.contacts}
    closed = [plane - [0.0, 0.0, gap + making.fit * slant / back_scale] for plane in planes.values()]
    profile = _profile(_common(sections), gap + joints_in, making.cavity / back_scale, closed, None)
    back = _before_vanishing(back, ends_at, matrix) if solid.opens else back
    inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    places = [float(frames.apply(inverse, [[0.0, y, 0.0]])[0, 1]) for y in (front, back)]

    def place(points: Array, end: int) -> Array:
        return frames.apply(matrix, np.column_stack([points[:, 0], np.full(len(points), places[end]), points[:, 1]]))

    return _prisms(profile, place)


def _section_planes(hall: Hall) -> dict[str, Array]:
    """Return the hall's bounds ``(3,)`` in (x, z), normals into it."""
    half = hall.width / 2
    return {
        "floor": np.array([0.0, 1.0, -hall.floor]),
        "ceiling": np.array([0.0, -1.0, hall.floor + hall.height]),
        "left-wall": np.array([1.0, 0.0, half]),
        "right-wall": np.array([-1.0, 0.0, half]),
    }


def _common(sections: list[Array]) -> shapely.Polygon:
    """Return what all sections ``(n, 2)`` have in common."""
    shapes = list({points.tobytes(): shapely.Polygon(points) for points in sections}.values())
    out = shapes[0]
    for shape in shapes[1:]:
        out = shapely.intersection(out, shape)
    return out


def _profile(
    common: shapely.Polygon, inset: float, cavity: float, closed: list[Array], mouth: Array | None
) -> list[shapely.Polygon]:
    """Return the core's profile: ``inset`` from the skin, inside the ``closed`` lines, not narrower than ``cavity``.

    Lines are ``(3,)`` (n, c) with n . p + c >= 0 inside. The hollow opens through the ``mouth``, if any, and runs on
    past it; a hollow that reaches less than ``cavity`` behind the mouth is left out.
    """
    room = common.buffer(-inset, join_style="mitre", mitre_limit=MITRE)
    for line in closed:
        room = shapely.intersection(room, _half_plane(line, room))
    if cavity > 0:
        eroded = room.buffer(-cavity / 2, join_style="mitre", mitre_limit=MITRE)
        grown = eroded.buffer(cavity / 2, join_style="mitre", mitre_limit=MITRE)
        room = shapely.intersection(room, grown)
    pieces = [piece for piece in shapely.get_parts(room.simplify(SHORTEST)) if piece.area > SHORTEST]
    if mouth is not None:
        pieces = [p for p in pieces if (shapely.get_coordinates(p) @ mouth[:2] + mouth[2]).max() >= cavity]
    return [shapely.orient_polygons(piece) for piece in pieces]


def _half_plane(line: Array, shape: shapely.Geometry) -> shapely.Polygon:
    """Return a square large enough to stand for the inside of a line next to a shape."""
    if shape.is_empty:
        return shape
    low, high = np.array(shape.bounds[:2]), np.array(shape.bounds[2:])
    middle, reach = (low + high) / 2, float(np.linalg.norm(high - low)) + 1.0
    normal = line[:2] / np.linalg.norm(line[:2])
    foot = middle - (line[:2] @ middle + line[2]) / np.linalg.norm(line[:2]) * normal
    reach += float(np.linalg.norm(middle - foot))
    way = np.array([-normal[1], normal[0]]) * reach
    return shapely.Polygon([foot - way, foot + way, foot + way + normal * reach, foot - way + normal * reach])


def _groove_depths(solid: Solid, sections: list[Array], matrix: Array, at_front: float) -> tuple[float, float]:
    """Return how deep grooves go behind the front, built mm, and into the section from its border, imagined mm."""
    behind, inward = 0.0, 0.0
    section = _common(sections)
    for groove in solid.grooves:
        if groove.corners[:, 1].max() < solid.levels[-1].at:
            behind = max(behind, float(frames.apply(matrix, groove.corners)[:, 1].max()) - at_front)
            continue
        corners = shapely.points(groove.corners[:, [0, 2]])
        depths = shapely.distance(corners, section.exterior)[shapely.within(corners, section)]
        inward = max(inward, float(depths.max(initial=0.0)))
    return behind, inward


def _slant(common: shapely.Polygon, matrix: Array, far: float) -> float:
    """Return 1 / cos of the steepest angle between a ruling and the way into the box."""
    vanishing = _vanishing_point(matrix)
    if vanishing is None:
        return 1.0
    flat: Array = np.asarray(shapely.get_coordinates(common), dtype=np.float64)
    built = frames.apply(matrix, np.column_stack([flat[:, 0], np.full(len(flat), far), flat[:, 1]]))
    aside = np.linalg.norm((built - vanishing)[:, [0, 2]], axis=1).max()
    return math.hypot(1.0, float(aside) / float(vanishing[1] - built[0, 1]))


def _vanishing_point(matrix: Array) -> Array | None:
    """Return the built point where lines along the hall meet, or nothing where they stay parallel."""
    if matrix[3, 1] <= 0:
        return None
    point: Array = matrix[:3, 1] / matrix[3, 1]
    return point


def _before_vanishing(back: float, ends_at: float, matrix: Array) -> float:
    vanishing = _vanishing_point(matrix)
    return back if vanishing is None else min(back, (ends_at + float(vanishing[1])) / 2)


def _prisms(profile: list[shapely.Polygon], place: Callable[[Array, int], Array]) -> manifold3d.Manifold | None:
    """Return the bodies between a profile's two placed images; ``place`` takes points ``(n, 2)`` and an end, 0 or 1."""
    if not profile:
        return None
    return manifold3d.Manifold.compose([body_of(_prism(polygon, place)) for polygon in profile])


def _prism(polygon: shapely.Polygon, place: Callable[[Array, int], Array]) -> Mesh:
    loops = [np.array(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    points = np.vstack(loops)
    count = len(points)
    caps = triangulate(loops)
    sides, start = [], 0
    for loop in loops:
        i = np.arange(start, start + len(loop))
        j = np.roll(i, -1)
        sides += [np.column_stack([i, j, j + count]), np.column_stack([i, j + count, i + count])]
        start += len(loop)
    triangles = np.vstack([caps[:, ::-1], caps + count, *sides])
    mesh = Mesh(vertices=np.vstack([place(points, 0), place(points, 1)]), triangles=triangles)
    return mesh if signed_volume(mesh) > 0 else Mesh(vertices=mesh.vertices, triangles=triangles[:, ::-1].copy())
