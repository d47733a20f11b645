"""A faceted surface split until it follows the curved one it was cut from.

Terms
-----
crease
    An edge whose two facets fold by more than an angle: it stays sharp. All others are cuts through a curve.
fan
    The facets round a corner that are joined without crossing a crease; they share the corner's normal.
patch
    A cubic triangle over a facet, square to the corners' normals (A. Vlachos, J. Peters, C. Boyd, J. L. Mitchell,
    *Curved PN Triangles*, 2001). Its borders depend on what the two facets of an edge share alone, so patches meet.

The inner points of a border lie from its ends along its tangents as far as makes it a circle's arc where it spans one:
with phi the angle between tangent and chord, chord / (3 cos^2(phi / 2)).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.mending.edges import find_edges
from pipeline.geometry.meshes import Mesh, normals

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

LEVELS = 7
"""Times that an edge is halved at most; each time what it strays falls to a quarter."""
STEEP = 0.3
"""Cosine; a tangent farther from its chord belongs to no curve the chord was cut from, and the edge stays straight."""
LEVEL = 1e-9
"""Sine under which the two sides of a crease lie in one plane and mark no way along it."""


class TooFineError(ValueError):
    """A surface that would take more facets than it may."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Net:
    """Facets of patches.

    ``triangles`` ``(m, 3)`` over ``points`` ``(n, 3)``; ``patch`` ``(m,)`` and where on it the corners lie, ``places``
    ``(m, 3, 3)``, in shares of its corners.
    """

    points: Array
    triangles: Indices
    patch: Indices
    places: Array


def follow_curve(mesh: Mesh, crease_deg: float, tolerance: float, most: int) -> Mesh:
    """Return a closed mesh split until its edges lie within a tolerance of the curved surface, mm.

    Corners stay where they are, creases sharp, and facets in one plane between creases in their plane.

    Parameters
    ----------
    mesh
        Closed, outward.
    crease_deg
        Edges that fold by more stay sharp, degrees.
    tolerance
        In the mesh's unit.
    most
        Facets it may come to have.

    Raises
    ------
    TooFineError
        If it would have more.
    """
    control = _patches(mesh, crease_deg)
    count = len(mesh.triangles)
    net = _Net(
        points=np.array(mesh.vertices),
        triangles=np.array(mesh.triangles),
        patch=np.arange(count),
        places=np.broadcast_to(np.eye(3), (count, 3, 3)),
    )
    for _ in range(LEVELS):
        split = _split(net, control, tolerance)
        if split is None:
            break
        net = split
        if len(net.triangles) > most:
            raise TooFineError(f"more than {most:,} facets")
    return Mesh(vertices=net.points, triangles=net.triangles)


def _patches(mesh: Mesh, crease_deg: float) -> Array:
    """Return the ten points ``(m, 10, 3)`` of each facet's patch: corners, two on each side, and the middle one."""
    corner_normals, across = _corner_normals(mesh, crease_deg)
    corners, sides = mesh.corners, np.zeros((len(mesh.triangles), 3, 2, 3))
    for k in range(3):
        for end in range(2):
            here, there = (k, (k + 1) % 3) if end == 0 else ((k + 1) % 3, k)
            sides[:, k, end] = _inner(corners[:, here], corners[:, there], corner_normals[:, here], across[:, k, end])
    middle = corners.mean(axis=1)
    rounded = sides.reshape(-1, 6, 3).mean(axis=1)
    centre = rounded + (rounded - middle) / 2
    return np.concatenate([corners, sides.reshape(-1, 6, 3), centre[:, None]], axis=1)


def _inner(here: Array, there: Array, normal: Array, other: Array) -> Array:
    """Return the inner points of borders next to their ends ``here``, ``(n, 3)``.

    The tangent is square to the normal of the facet's own fan and to that of the ``other`` side's; both are the same
    but on a crease.
    """
    chord = there - here
    length = np.linalg.norm(chord, axis=1, keepdims=True)
    along = np.cross(normal, other)
    size = np.linalg.norm(along, axis=1, keepdims=True)
    on_crease = (
        along / np.maximum(size, LEVEL) * (np.einsum("ij,ij->i", chord, along)[:, None] / np.maximum(size, LEVEL))
    )
    in_plane = chord - np.einsum("ij,ij->i", chord, normal)[:, None] * normal
    tangent = np.where(size > LEVEL, on_crease, in_plane)
    reach = np.linalg.norm(tangent, axis=1, keepdims=True)
    cosine = reach / length
    curved = tangent / np.maximum(reach, 1e-300) * length * 2 / (3 * (1 + cosine))
    out: Array = here + np.where(cosine > STEEP, curved, chord / 3)
    return out


def _corner_normals(mesh: Mesh, crease_deg: float) -> tuple[Array, Array]:
    """Return each facet's normal at its corners ``(m, 3, 3)``, and the other side's at the ends of its sides.

    Those are ``(m, 3, 2, 3)``. The normal of a fan is the mean of its facets', each weighted by its angle there.
    """
    crossed = normals(mesh)
    units = crossed / np.maximum(np.linalg.norm(crossed, axis=1), 1e-300)[:, None]
    neighbours = find_edges(mesh.triangles).neighbours
    count = len(mesh.triangles)
    facet, side = np.nonzero(neighbours >= 0)
    beyond = neighbours[facet, side]
    sharp = np.einsum("ij,ij->i", units[facet], units[beyond]) < np.cos(np.radians(crease_deg))
    back = (neighbours[beyond] == facet[:, None]).argmax(axis=1)
    fan = np.arange(3 * count)
    one = np.concatenate([3 * facet + side, 3 * facet + (side + 1) % 3])[np.tile(~sharp, 2)]
    two = np.concatenate([3 * beyond + (back + 1) % 3, 3 * beyond + back])[np.tile(~sharp, 2)]
    while True:
        least = np.minimum(fan[one], fan[two])
        spread = fan.copy()
        np.minimum.at(spread, one, least)
        np.minimum.at(spread, two, least)
        spread = spread[spread]
        if np.array_equal(spread, fan):
            break
        fan = spread
    weighted = (units[:, None] * _angles(mesh.corners)[..., None]).reshape(-1, 3)
    sums = np.column_stack([np.bincount(fan, weights=weighted[:, axis], minlength=3 * count) for axis in range(3)])
    mean = (sums / np.maximum(np.linalg.norm(sums, axis=1), 1e-300)[:, None])[fan].reshape(count, 3, 3)
    across = np.stack([mean, np.roll(mean, -1, axis=1)], axis=2)
    across[facet, side, 0], across[facet, side, 1] = mean[beyond, (back + 1) % 3], mean[beyond, back]
    return mean, across


def _angles(corners: Array) -> Array:
    """Return the angles ``(m, 3)`` of triangles, radians."""
    ahead = np.roll(corners, -1, axis=1) - corners
    behind = np.roll(corners, 1, axis=1) - corners
    sine = np.linalg.norm(np.cross(ahead, behind), axis=2)
    out: Array = np.arctan2(sine, np.einsum("mij,mij->mi", ahead, behind))
    return out


def _on_patches(control: Array, places: Array) -> Array:
    """Return points ``(n, 3)`` of patches ``(n, 10, 3)`` at shares ``(n, 3)`` of their corners (Bernstein)."""
    u, v, w = places.T
    cubes = [u**3, v**3, w**3]
    sides = [3 * u * u * v, 3 * u * v * v, 3 * v * v * w, 3 * v * w * w, 3 * w * w * u, 3 * w * u * u]
    out: Array = np.einsum("kn,nkj->nj", np.array([*cubes, *sides, 6 * u * v * w]), control)
    return out


def _split(net: _Net, control: Array, tolerance: float) -> _Net | None:
    """Return the net with every edge halved that strays too far from its patch, or nothing if none does."""
    t = net.triangles
    ends = np.sort(np.stack([t, np.roll(t, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    pairs, first, owner = np.unique(ends, axis=0, return_index=True, return_inverse=True)
    places = (net.places + np.roll(net.places, -1, axis=1)).reshape(-1, 3) / 2
    middles = _on_patches(control[net.patch[first // 3]], places[first])
    straight = net.points[pairs].mean(axis=1)
    halved = np.linalg.norm(middles - straight, axis=1) > tolerance
    if not halved.any():
        return None
    number = np.full(len(pairs), -1, dtype=np.int64)
    number[halved] = len(net.points) + np.arange(int(halved.sum()))
    added = number[owner.ravel()].reshape(-1, 3)
    rows, patches, spots = [], [], []
    corners = np.concatenate([t, added], axis=1)
    at = np.concatenate([net.places, places.reshape(-1, 3, 3)], axis=1)
    codes = (added >= 0) @ np.array([1, 2, 4])
    for code in range(8):
        mine = codes == code
        for pattern in _CUTS[code]:
            rows.append(corners[mine][:, pattern])
            patches.append(net.patch[mine])
            spots.append(at[mine][:, pattern])
    return _Net(
        points=np.vstack([net.points, middles[halved]]),
        triangles=np.concatenate(rows),
        patch=np.concatenate(patches),
        places=np.concatenate(spots),
    )


def _cuts() -> dict[int, list[list[int]]]:
    """Return for each set of halved sides, as bits, the triangles over the corners 0 to 2 and the middles 3 to 5."""
    one, two = [[0, 3, 2], [3, 1, 2]], [[0, 3, 2], [3, 4, 2], [3, 1, 4]]

    def turned(cut: list[list[int]], by: int) -> list[list[int]]:
        return [[(k + by) % 3 + 3 * (k > 2) for k in triangle] for triangle in cut]

    return {
        0: [[0, 1, 2]],
        **{1 << k: turned(one, k) for k in range(3)},
        **{(1 << k) | (1 << (k + 1) % 3): turned(two, k) for k in range(3)},
        7: [[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]],
    }


_CUTS = _cuts()
