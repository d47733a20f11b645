"""Which side a print lies on, and the rigid frame that lays it there.

Terms
-----
rest
    A plane the whole body lies on one side of, and the side of its hull in it. A body stands steadily on a rest when
    its centre of mass lies over it.
"""

from __future__ import annotations

from functools import lru_cache

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.mending.welding import alike
from pipeline.geometry.meshes import Mesh, normals
from pipeline.geometry.vectors import cross, lengths
from pipeline.parts.overhang import hanging_area

Array = NDArray[np.float64]
Size = tuple[float, float, float]

IN_PLANE = 1e-3
"""mm; corners this near a plane rest on the bed: rounding is far less, any printer's layer far more."""
STEADY = 0.5
"""A rest narrower than this share of the widest is no broad one: the long thin facets of a curved skin are no feet."""
ALIKE_MM2 = 1.0
"""mm^2; two sides that leave less than about this much more or less hanging are equally good."""
MOST_TURNS = 12
"""Of the longest sides of a body's plan, so many are tried along the bed's; shorter ones are facets of a curve."""
REMEMBERED = 64
"""Bodies whose rests are remembered: each is laid down as it is made, and again when it is known who looks at it."""
SAME_WAY = 1e-6
"""Normals whose components round to the same multiples are one plane's."""


def lay_on_bed(
    body: Mesh,
    eyes: Array | None = None,
    bed: Size | None = None,
    beside: Array | None = None,
    *,
    drained: bool = False,
) -> Array:
    """Return built_from_bed, ``(4, 4)`` rigid, for a closed body in built mm.

    The body lies on a steady flat side, its longer way along x, in the corner of the bed: every coordinate from 0 up.
    Of all such sides the best is one that fits the bed, then a broad one, then one that leaves the least of what is
    seen hanging, then the largest.

    Parameters
    ----------
    body
        Closed, outward.
    eyes
        ``(k, 3)`` points it is looked at from, built mm; without them nothing is seen.
    bed
        The printer's width, depth and height, mm; without it any side fits.
    beside
        ``(n, 3, 3)`` facets of what stands against it in the built room and hides some of it.
    drained
        Whether holes are to be cut through the side it lies on, so that this should not be seen either.
    """
    best: tuple[tuple[bool, bool, int], Array] | None = None
    for down, broad in _rests(body):
        lying = _lying(body, down)
        if bed is not None and not fits(body, lying, bed):
            lying = _turned_to_fit(body, lying, bed)
        large = bed is not None and not fits(body, lying, bed)
        if best is not None and (large, not broad) > best[0][:2]:
            continue
        hangs = 0.0 if eyes is None else hanging_area(body.corners, eyes, lying, beside, resting=drained)
        rank = (large, not broad, round(hangs / ALIKE_MM2))
        if best is None or rank < best[0]:
            best = rank, lying
        if rank == (False, False, 0):
            break  # the largest of the best: the others cannot beat it
    if best is None:
        raise ValueError("a body without a flat side to lie on")
    return best[1]


def fits(body: Mesh, built_from_bed: Array, bed: Size) -> bool:
    """Return whether a body, lying so, fits the printer's bed (width, depth, height), mm, turned a quarter or not."""
    lying = body.vertices @ built_from_bed[:3, :3]
    x, y, z = (lying.max(axis=0) - lying.min(axis=0)).tolist()
    long, short = max(bed[:2]), min(bed[:2])
    return bool(max(x, y) <= long + IN_PLANE and min(x, y) <= short + IN_PLANE and z <= bed[2] + IN_PLANE)


def _turned_to_fit(body: Mesh, lying: Array, bed: Size) -> Array:
    """Return the body turned about the upright so that it fits, a side of its plan along x; or as it lies.

    Its longest box need not be the one that fits: a corner of a print may reach out of a wide one.
    """
    plan = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(body.vertices @ lying[:3, :2])))
    sides = np.diff(plan, axis=0)
    for x, y in sides[np.argsort(-np.round(np.linalg.norm(sides, axis=1), 6), kind="stable")][:MOST_TURNS]:
        right = frames.unit(x * lying[:3, 0] + y * lying[:3, 1])
        turned = in_corner(body, frames.rigid(right, cross(lying[:3, 2], right), lying[:3, 2], np.zeros(3)))
        if fits(body, turned, bed):
            return turned
    return lying


def in_corner(body: Mesh, built_from_bed: Array) -> Array:
    """Return built_from_bed ``(4, 4)``, turned as given, with the body in the corner of the bed."""
    turn = built_from_bed[:3, :3]
    return frames.rigid(turn[:, 0], turn[:, 1], turn[:, 2], turn @ (body.vertices @ turn).min(axis=0))


def _lying(body: Mesh, down: Array) -> Array:
    """Return built_from_bed for a body that lies on the side with the outward normal ``down``."""
    across = _across(down[None])[0]
    long_way = _long_way(body.vertices @ across)
    right = across[:, 0] * long_way[0] + across[:, 1] * long_way[1]
    return in_corner(body, frames.rigid(right, cross(-down, right), -down, np.zeros(3)))


def on_bed(body: Mesh, built_from_bed: Array) -> Mesh:
    """Return a built body in its bed frame, mm; ``built_from_bed`` is ``(4, 4)``, rigid."""
    return Mesh(vertices=frames.apply(frames.invert_rigid(built_from_bed), body.vertices), triangles=body.triangles)


@lru_cache(maxsize=REMEMBERED)
def _rests(body: Mesh) -> list[tuple[Array, bool]]:
    """Return the outward unit normals of the sides to lie on, and whether they are broad; broad before narrow.

    Of each kind the largest comes first.
    """
    hull = mesh_of(manifold3d.Manifold.hull(body_of(body)))
    crossed = normals(hull)
    sizes = lengths(crossed)
    kept = sizes > IN_PLANE**2
    units = crossed[kept] / sizes[kept][:, None]
    offsets = np.einsum("ij,ij->i", units, hull.corners[kept, 0])
    _, first, groups = np.unique(alike(np.round(units / SAME_WAY)), return_index=True, return_inverse=True)
    areas = np.bincount(groups, weights=sizes[kept]) / 2
    # Only the largest sides of the hull can win; ties go to the lower vector, so the choice never wavers.
    order = np.lexsort((first, -np.round(areas, 6)))[:24]
    centre = _centre_of_mass(body)
    rests = _sides(hull, units[first[order]], offsets[first[order]], centre)
    widest = max(width for _, width in rests)
    sides = [
        (units[first[k]], width >= STEADY * widest, area) for k, (area, width) in zip(order, rests, strict=True)
        if width > 0 or widest == 0
    ]  # fmt: skip
    ranked = sorted(range(len(sides)), key=lambda n: (not sides[n][1], -round(sides[n][2], 6), n))
    return [sides[n][:2] for n in ranked]


def _sides(hull: Mesh, units: Array, offsets: Array, centre: Array) -> list[tuple[float, float]]:
    """Return area and least width of the hull's side in each plane, both 0 where the body would topple."""
    across = _across(units)
    where, which = np.nonzero(units @ hull.vertices.T > offsets[:, None] - IN_PLANE)
    points = np.einsum("ni,nij->nj", hull.vertices[which], across[where])
    shapes = shapely.convex_hull(shapely.multipoints(points, indices=where))
    areas = shapely.area(shapes)
    over = shapely.contains_xy(shapes, *np.einsum("i,nij->jn", centre, across)) & (areas > 0)
    boxes = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapes[over])).reshape(-1, 5, 2)
    widths = np.linalg.norm(np.diff(boxes[:, :3], axis=1), axis=2).min(axis=1)
    out = np.zeros((len(units), 2))
    out[over] = np.column_stack([areas[over], widths])
    return [(area, width) for area, width in out.tolist()]


def _centre_of_mass(body: Mesh) -> Array:
    """Return the ``(3,)`` centre of mass: the mean of the tetrahedra over all triangles, weighted by volume."""
    a, b, c = body.corners[:, 0], body.corners[:, 1], body.corners[:, 2]
    volumes = np.einsum("ij,ij->i", a, cross(b, c))
    centre: Array = volumes @ (a + b + c) / 4 / volumes.sum()
    return centre


def _long_way(points: Array) -> Array:
    """Return the unit direction ``(2,)`` of the longer side of the least box around points ``(n, 2)``."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.MultiPoint(points)))
    one, two = corners[1] - corners[0], corners[2] - corners[1]
    way = frames.unit(one if np.linalg.norm(one) >= np.linalg.norm(two) else two)
    # Of both ends, the one that runs right, or up where it runs neither way.
    turn = way[0] < -SAME_WAY or (abs(way[0]) <= SAME_WAY and way[1] < 0)
    return -way if turn else way


def _across(downs: Array) -> Array:
    """Return two unit directions ``(n, 3, 2)`` square to each other and to unit vectors ``(n, 3)``.

    With the vector reversed they are a right-handed frame.
    """
    right = cross(np.eye(3)[np.abs(downs).argmin(axis=1)], -downs)
    right /= np.sqrt(np.vecdot(right, right))[:, None]
    return np.stack([right, cross(-downs, right)], axis=2)
