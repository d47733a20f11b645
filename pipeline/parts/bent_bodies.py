"""A web as a closed body: as thick as its sheet, and within the planes its neighbours end on.

Terms
-----
row
    One ruling with its four corners: near and far on the visible face, near and far on the hidden face.
room
    How deep the sheet may be behind a ruling before the planes at its ends meet, or a plane beside it is passed. In
    the corners between two cells there is less room than a sheet is thick; there its hidden side is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.meshes import Mesh, signed_volume, weld
from pipeline.parts.bodies import ARC_STEPS
from pipeline.parts.webs import BuiltWeb, Piece

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

ROUNDING = 1e-12
"""mm; a plane passed by less is not passed."""
GRID_DECIMALS = 9
"""mm; corners that agree to a nanometre and less are one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WebBody:
    """Closed body, its cut edges alone, the visible face (built), the same triangles (imagined); mm."""

    body: Mesh
    cut_edges: Mesh
    visible: Mesh
    visible_imagined: Mesh


def web_body(built: BuiltWeb, thickness: float) -> WebBody:
    """Return a web's body."""
    rows = np.concatenate([_rows(built, piece, thickness) for piece in built.pieces])
    near, far, near_hidden, far_hidden = (np.round(rows[:, k], GRID_DECIMALS) for k in range(4))
    seen = _band(near, far)
    ends = [_quad(near[k], far[k], far_hidden[k], near_hidden[k]) for k in (0, -1)]
    rim = np.concatenate([_band(near_hidden, near), _band(far, far_hidden), ends[0][:, ::-1], ends[1]])
    closed = weld(_solid(np.concatenate([seen, _band(far_hidden, near_hidden), rim])))
    if signed_volume(closed) < 0:
        closed = Mesh(vertices=closed.vertices, triangles=closed.triangles[:, ::-1].copy())
        seen, rim = seen[:, ::-1], rim[:, ::-1]
    visible = weld(_solid(seen))
    back = np.linalg.inv(built.built_from_imagined)
    homogeneous = visible.vertices @ back[:, :3].T + back[:, 3]
    return WebBody(
        body=closed,
        cut_edges=weld(_solid(rim)),
        visible=visible,
        visible_imagined=Mesh(vertices=homogeneous[:, :3] / homogeneous[:, 3:], triangles=visible.triangles),
    )


def _rows(built: BuiltWeb, piece: Piece, thickness: float) -> Array:
    """Return ``(n, 4, 3)`` rows of one piece."""
    t = np.linspace(0.0, 1.0, ARC_STEPS + 1)
    near, far = curves.evaluate(piece.near, t), curves.evaluate(piece.far, t)
    at = np.searchsorted(piece.unrolled.t, t - 1e-12)
    rulings, normals = piece.unrolled.rulings[at], piece.unrolled.normals[at]
    depth = _room(built, near, rulings, normals, thickness)
    hidden = near - depth[:, None] * normals
    low, high = _span(built, hidden, rulings)
    near_hidden = hidden + low[:, None] * rulings + np.minimum(built.web.eased, depth)[:, None] * normals
    far_hidden = hidden + np.maximum(low, high)[:, None] * rulings
    return np.stack([near, far, near_hidden, far_hidden], axis=1)


def _span(built: BuiltWeb, points: Array, rulings: Array) -> tuple[Array, Array]:
    """Return from where to where rulings through points lie within the planes they end on."""
    low, high = np.full(len(points), -np.inf), np.full(len(points), np.inf)
    for plane in built.near_planes:
        low = np.maximum(low, _slide(points, rulings, plane))
    for plane in built.far_planes:
        high = np.minimum(high, _slide(points, rulings, plane))
    return low, high


def _slide(points: Array, rulings: Array, plane: Array) -> Array:
    """Return how far along the rulings each point lies from a plane."""
    out: Array = -(points @ plane[:3] + plane[3]) / (rulings @ plane[:3])
    return out


def _room(built: BuiltWeb, near: Array, rulings: Array, normals: Array, thickness: float) -> Array:
    """Return the depth of the sheet behind every ruling, at most its thickness.

    Along a normal everything is linear: the length left between two planes, and the distance to those beside.
    """
    depth = np.full(len(near), thickness)
    behind = near - thickness * normals
    pairs = [
        (_left(near, rulings, one, other), _left(behind, rulings, one, other))
        for one in built.near_planes
        for other in built.far_planes
    ]
    pairs += [(near @ plane[:3] + plane[3], behind @ plane[:3] + plane[3]) for plane in built.end_planes]
    for front, back in pairs:
        short = back < -ROUNDING
        kept = np.maximum(front[short], 0.0)
        depth[short] = np.minimum(depth[short], thickness * kept / (kept - back[short]))
    return depth


def _left(points: Array, rulings: Array, near_plane: Array, far_plane: Array) -> Array:
    """Return the length left of every ruling between two planes; below zero where they have crossed."""
    out: Array = _slide(points, rulings, far_plane) - _slide(points, rulings, near_plane)
    return out


def _band(a: Array, b: Array) -> Array:
    """Return triangles ``(m, 3, 3)`` between two rows of points."""
    halves = np.stack([a[:-1], b[:-1], b[1:]], axis=1), np.stack([a[:-1], b[1:], a[1:]], axis=1)
    out: Array = np.concatenate(halves)
    return out


def _quad(a: Array, b: Array, c: Array, d: Array) -> Array:
    return np.array([[a, b, c], [a, c, d]])


def _solid(corners: Array) -> Array:
    """Return the triangles whose three corners differ."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    same = (a == b).all(axis=1) | (b == c).all(axis=1) | (c == a).all(axis=1)
    out: Array = corners[~same]
    return out
