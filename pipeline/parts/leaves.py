"""Where a flat face lies: its built plane, its own drawing frame, and its fold at the apron's end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region
from pipeline.geometry.vectors import cross
from pipeline.parts.model import Leaf
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

APRON_TOUCH = 1e-6
"""mm; a face that reaches over the apron's end by less does not fold."""


@dataclass(frozen=True, slots=True, eq=False)
class Fold:
    """The line where a face folds: its host form (n, c) with n . (u, v) = c, and its flat point and direction."""

    host: Array
    flat_point: Array
    flat_direction: Array

    def near(self, points_host: Array) -> NDArray[np.bool_]:
        """Return which host points ``(n, 2)`` lie before the apron's end."""
        out: NDArray[np.bool_] = points_host @ self.host[:2] < self.host[2]
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Lie:
    """A face's leaves, near one first, and the fold between them."""

    leaves: tuple[Leaf, ...]
    fold: Fold | None

    def leaf_of(self, points_host: Array) -> NDArray[np.int64]:
        """Return the index ``(n,)`` of the leaf each host point ``(n, 2)`` lies on."""
        if self.fold is None:
            return np.zeros(len(points_host), dtype=np.int64)
        return np.where(self.fold.near(points_host), 0, 1)

    def flatten_points(self, points_host: Array) -> Array:
        """Return host points ``(n, 2)`` in the flat frame, each by its own leaf."""
        which = self.leaf_of(points_host)
        out = np.empty_like(points_host)
        for index, leaf in enumerate(self.leaves):
            out[which == index] = frames.apply(leaf.flat_from_host, points_host[which == index])
        return out


def lie_of(face: Face, relief: Relief) -> Lie:
    """Return how a face lies in the built box; the flat frame has its lower left corner at the visible outline's."""
    span = _depths(face)
    far_matrix = relief.built_from_imagined @ face.imagined_from_host
    if not span[0] < relief.apron - APRON_TOUCH:
        return _settled(face, (_leaf(face, far_matrix, span),), None)
    if span[1] <= relief.apron + APRON_TOUCH:
        return _settled(face, (_leaf(face, face.imagined_from_host, span),), None)
    far = _leaf(face, far_matrix, (relief.apron, span[1]))
    near, fold = _unfolded(face, relief, far, (span[0], relief.apron))
    return _settled(face, (near, far), fold)


def _depths(face: Face) -> tuple[float, float]:
    corners = np.array([edge.curve.start for edge in face.region.outline])
    y = frames.apply(face.imagined_from_host, corners)[:, 1]
    return float(y.min()), float(y.max())


def _leaf(face: Face, built_from_host: Array, span: tuple[float, float]) -> Leaf:
    origin, toward = built_plane(face, built_from_host)
    up = _up(face, toward)
    placed = frames.rigid(cross(up, toward), up, toward, origin)
    return Leaf(
        flat_from_host=_flat_from_host(placed, built_from_host), built_from_flat=placed, near=span[0], far=span[1]
    )


def built_plane(face: Face, built_from_host: Array) -> tuple[Array, Array]:
    """Return a point and the unit normal into the room of a face's built plane, each ``(3,)``, built mm.

    The relief keeps the sides of a plane, so the normal points to where the image of the imagined one goes; a face
    that looks away from the eye keeps its visible side too.
    """
    a, b, c = frames.apply(built_from_host, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = frames.unit(cross(b - a, c - a))
    u, v = face.imagined_from_host[:3, 0], face.imagined_from_host[:3, 1]
    return a, normal if cross(u, v) @ face.inward > 0 else -normal


def _up(face: Face, toward: Array) -> Array:
    """Return the drawing's up: the built image of the imagined one, or the vertical where the face stands."""
    hint = np.asarray(face.up)
    up = hint - (hint @ toward) * toward
    return frames.unit(up)


def _flat_from_host(built_from_flat: Array, built_from_host: Array) -> Array:
    flat_from_built = frames.invert_rigid(built_from_flat)[[0, 1, 3]]
    out: Array = flat_from_built @ built_from_host
    return out


def _unfolded(face: Face, relief: Relief, far: Leaf, span: tuple[float, float]) -> tuple[Leaf, Fold]:
    """Return the near leaf turned about the fold into the far leaf's plane."""
    row = face.imagined_from_host[1]  # imagined y = row . (u, v, 1)
    host = np.array([row[0], row[1], relief.apron - row[2]])
    base = host[:2] * host[2] / (host[:2] @ host[:2])
    along = np.array([-host[1], host[0]])
    ends_host = np.array([base, base + 10 * along])
    ends_built = frames.apply(face.imagined_from_host, ends_host)
    ends_flat = frames.apply(far.flat_from_host, ends_host)
    k_built, k_flat = frames.unit(ends_built[1] - ends_built[0]), frames.unit(ends_flat[1] - ends_flat[0])
    _, normal = built_plane(face, face.imagined_from_host)
    turn = (
        np.column_stack([k_built, cross(normal, k_built), normal])
        @ np.column_stack([[*k_flat, 0.0], [-k_flat[1], k_flat[0], 0.0], [0.0, 0.0, 1.0]]).T
    )
    placed = np.eye(4)
    placed[:3, :3] = turn
    placed[:3, 3] = ends_built[0] - turn @ np.array([*ends_flat[0], 0.0])
    leaf = Leaf(
        flat_from_host=_flat_from_host(placed, face.imagined_from_host),
        built_from_flat=placed,
        near=span[0],
        far=span[1],
    )
    return leaf, Fold(host, ends_flat[0], k_flat)


def _settled(face: Face, leaves: tuple[Leaf, ...], fold: Fold | None) -> Lie:
    """Return the leaves in the flat frame whose origin is the lower left corner of the visible outline."""
    low = _low_corner(face.region, Lie(leaves, fold))
    shift = np.eye(3)
    shift[:2, 2] = -low
    back = np.eye(4)
    back[:2, 3] = low
    moved = tuple(
        Leaf(
            flat_from_host=shift @ leaf.flat_from_host,
            built_from_flat=leaf.built_from_flat @ back,
            near=leaf.near,
            far=leaf.far,
        )
        for leaf in leaves
    )
    if fold is not None:
        fold = Fold(fold.host, fold.flat_point - low, fold.flat_direction)
    return Lie(moved, fold)


def _low_corner(region: Region, lie: Lie) -> Array:
    corners = np.vstack([curves.evaluate(edge.curve, [0.0, 0.5, 1.0]) for edge in region.outline])
    low: Array = lie.flatten_points(corners).min(axis=0)
    return low
