"""The first triangle a ray meets.

Embree finds it, in single precision; the distance is then taken afresh in double precision from the plane of the
triangle that was hit. Where embreex has no wheel, plain numpy does the same, more slowly: a fan for the rays of a
picture, a tree of boxes for all others.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry.meshes import Mesh, loose
from pipeline.geometry.vectors import facet_normals, lengths
from pipeline.sight import box_tree, fan

try:
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore import EmbreeDevice
    from embreex.rtcore_scene import EmbreeScene

    EMBREE = True
except ImportError:  # no wheel for this machine
    EMBREE = False

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

Caster = Callable[[NDArray[np.floating], NDArray[np.floating]], NDArray[np.integer]]
"""Origins ``(n, 3)`` and directions ``(n, 3)`` to the index of the triangle hit first, or -1, ``(n,)``."""


@cache
def _device(process: int) -> EmbreeDevice:
    """Return the one device all scenes of a process share: making one for each takes as long as a small scene.

    A process that was forked has none of the threads its parent's device counts on.
    """
    return EmbreeDevice()


def caster(mesh: Mesh) -> Caster:
    """Return a function that casts rays at a mesh, mm; it may be called from several threads at once."""
    if len(mesh.triangles) == 0:
        return lambda origins, directions: np.full(len(origins), -1, dtype=np.int64)
    if not EMBREE:
        return _numpy_caster(mesh.corners)
    scene = EmbreeScene(_device(os.getpid()))
    _lay(scene, mesh)
    one = np.ones((1, 3), dtype=np.float32)
    scene.run(one, one)  # the first run commits the scene, which threads must not do at once

    def first(origins: NDArray[np.floating], directions: NDArray[np.floating]) -> NDArray[np.integer]:
        hit: NDArray[np.int32] = scene.run(
            np.ascontiguousarray(origins, dtype=np.float32), np.ascontiguousarray(directions, dtype=np.float32)
        )
        return hit

    return first


def _lay(scene: EmbreeScene, mesh: Mesh) -> None:
    """Put a mesh into a scene, in whichever way takes fewer numbers: embreex reads them one by one, 0.3 us each.

    Nine for a triangle alone; three for each of its corners' places in the list and three for each point of the list.
    Every hit is the same.
    """
    points = mesh.vertices.astype(np.float32)
    if len(points) < 2 * len(mesh.triangles):
        TriangleMesh(scene, points, mesh.triangles.astype(np.int32))
    else:
        TriangleMesh(scene, points[mesh.triangles])


def _numpy_caster(corners: Array) -> Caster:
    tree: list[Caster] = []

    def first(origins: NDArray[np.floating], directions: NDArray[np.floating]) -> NDArray[np.integer]:
        starts, ways = np.asarray(origins, dtype=np.float64), np.asarray(directions, dtype=np.float64)
        if fan.spreads(corners, starts, ways):
            return fan.first(corners, starts[0], ways)
        if not tree:
            tree.append(box_tree.caster(corners))  # only when asked for: pictures do without
        return tree[0](starts, ways)

    return first


def cast(corners: ArrayLike, origins: ArrayLike, directions: ArrayLike) -> tuple[Indices, Array]:
    """Return which triangle each ray meets first, and how far away.

    Parameters
    ----------
    corners
        ``(m, 3, 3)`` triangles, mm; both sides count.
    origins, directions
        ``(n, 3)``; directions of any length above zero.

    Returns
    -------
    index
        ``(n,)`` of the triangle, -1 where a ray meets nothing.
    distance
        ``(n,)`` mm from the origin, infinite where a ray meets nothing.
    """
    return Target.of(corners).cast(origins, directions)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Target:
    """Triangles ``(m, 3, 3)``, mm, made ready once for casting at them again and again.

    Rays are found in single precision, which is finest near the origin; so they are cast with ``middle`` there.
    """

    corners: Array
    planes: Array
    middle: Array
    first: Caster

    @classmethod
    def of(cls, corners: ArrayLike) -> Target:
        """Return triangles ``(m, 3, 3)`` made ready."""
        return cls.on(loose(np.asarray(corners, dtype=np.float64).reshape(-1, 3, 3)))

    @classmethod
    def on(cls, mesh: Mesh) -> Target:
        """Return the triangles of a mesh made ready: the more they share their corners, the sooner."""
        points, corners = mesh.vertices, mesh.corners
        middle = (points.min(axis=0) + points.max(axis=0)) / 2 if len(points) else np.zeros(3)
        moved = Mesh(vertices=points - middle, triangles=mesh.triangles)
        return cls(corners=corners, planes=plane_of(corners), middle=middle, first=caster(moved))

    def hit(self, origins: Array, directions: Array) -> Indices:
        """Return which triangle each ray meets first, or -1, ``(n,)``."""
        return self.first(origins - self.middle, directions).astype(np.int64)

    def cast(self, origins: ArrayLike, directions: ArrayLike) -> tuple[Indices, Array]:
        """Return what ``cast`` does."""
        starts = np.atleast_2d(np.asarray(origins, dtype=np.float64))
        ways = np.atleast_2d(np.asarray(directions, dtype=np.float64))
        index = self.hit(starts, ways)
        return index, distances(self.planes, index, starts, ways)


def distances(planes: Array, index: Indices, origins: Array, directions: Array) -> Array:
    """Return ``(n,)`` mm along each ray to the plane of the triangle it meets, infinite for an index of -1."""
    distance = np.full(len(origins), np.inf)
    met = index >= 0
    distance[met] = along(planes[index[met]], origins[met], directions[met]) * lengths(directions[met])
    return distance


def plane_of(corners: Array) -> Array:
    """Return the planes ``(m, 4)`` (n, c), n . x + c = 0, of triangles ``(m, 3, 3)``; n as long as twice the area."""
    normals = facet_normals(corners)
    offsets = -np.einsum("ij,ij->i", normals, corners[:, 0])
    return np.column_stack([normals, offsets])


def along(planes: Array, origins: Array, directions: Array) -> Array:
    """Return ``(n,)`` t where ``origin + t direction`` meets its plane: -(n . o + c) / (n . d)."""
    above = np.einsum("ij,ij->i", planes[:, :3], origins) + planes[:, 3]
    t: Array = -above / np.einsum("ij,ij->i", planes[:, :3], directions)
    return t
