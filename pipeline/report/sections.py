"""Bodies cut by a plane, and their outlines seen square to it."""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.geometry.vectors import cross

Array = NDArray[np.float64]
Loops = list[Array]

SIMPLE = 1e-3
"""mm by which an outline may be simplified; far below the width of a pen."""


def cut(mesh: Mesh, normal: Array, offset: float) -> Loops:
    """Return the closed loops ``(k, 3)``, mm, in which the plane ``normal . p = offset`` cuts a closed mesh.

    A vertex on the plane counts as above it, so every loop closes and none runs along a face. Fill them even-odd.
    """
    above = mesh.vertices @ normal - offset
    side = above[mesh.triangles] >= 0
    crossed = mesh.triangles[side.any(axis=1) & ~side.all(axis=1)]
    # In each crossed triangle the plane enters by one edge and leaves by another; the edge above -> below comes first.
    step: dict[tuple[int, int], tuple[int, int]] = {}
    for triangle in crossed.tolist():
        edges = list(zip(triangle, triangle[1:] + triangle[:1], strict=True))
        enter = next(edge for edge in edges if above[edge[0]] >= 0 > above[edge[1]])
        leave = next(edge for edge in edges if above[edge[0]] < 0 <= above[edge[1]])
        step[enter] = (leave[1], leave[0])
    loops = []
    while step:
        edge, following = step.popitem()
        loop = [edge]
        while following != edge and following in step:
            loop.append(following)
            following = step.pop(following)
        loops.append(_points(mesh, above, np.array(loop)))
    return loops


def _points(mesh: Mesh, above: Array, edges: NDArray[np.int64]) -> Array:
    one, two = above[edges[:, 0]], above[edges[:, 1]]
    t = (one / (one - two))[:, None]
    points: Array = mesh.vertices[edges[:, 0]] * (1 - t) + mesh.vertices[edges[:, 1]] * t
    return points


def outline(mesh: Mesh, right: Array, up: Array, before: float) -> Loops:
    """Return the loops ``(k, 2)``, mm, round the part of a closed mesh behind a plane, as seen square to it.

    Parameters
    ----------
    mesh
        Closed.
    right, up
        ``(3,)`` unit directions on paper; the viewer stands toward ``right x up``.
    before
        How far toward the viewer the plane lies.
    """
    toward = cross(right, up)
    if (mesh.vertices @ toward).min() >= before:
        return []
    turned = np.ascontiguousarray(mesh.vertices @ np.stack([right, up, toward], axis=1))
    body = manifold3d.Manifold(manifold3d.Mesh64(turned, np.ascontiguousarray(mesh.triangles, dtype=np.uint64)))
    half = body.trim_by_plane((0.0, 0.0, -1.0), -before)
    return [np.asarray(loop, dtype=np.float64) for loop in half.project().simplify(SIMPLE).to_polygons()]
