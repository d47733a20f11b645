"""What a picture is taken of: surfaces with a tone and lines on them, in the built room and in the imagined one."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, join
from pipeline.geometry.vectors import cross, lengths
from pipeline.sight import rays

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

CREASE = 0.8
"""Cosine between neighbouring facets (37 degrees) above which they belong to one curved skin and are shaded so."""
HALF_CREASE = 0.95
"""Cosine of half the angle of ``CREASE``, sqrt((1 + 0.8) / 2), a little stricter."""


def _no_lines() -> Array:
    return np.zeros((0, 2, 3))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """One part's visible triangles, twice over.

    Attributes
    ----------
    part
        Its id.
    tone
        Base colour, red green blue in [0, 1].
    built, imagined
        The same triangles in either room, vertex for vertex, mm.
    lines_built, lines_imagined
        ``(n, 2, 3)`` the same guide lines on them in either room, mm.
    solid
        Whether the triangles are a closed body's, counter-clockwise seen from outside; the facets of a curved skin
        that share vertices are shaded as one. A sheet's triangles count from both sides.
    """

    part: str
    tone: tuple[float, float, float]
    built: Mesh
    imagined: Mesh
    lines_built: Array = field(default_factory=_no_lines)
    lines_imagined: Array = field(default_factory=_no_lines)
    solid: bool = False

    def __post_init__(self) -> None:
        if self.built.vertices.shape != self.imagined.vertices.shape or not np.array_equal(
            self.built.triangles, self.imagined.triangles
        ):
            raise ValueError(f"{self.part}: its triangles are not the same in the two rooms")
        if self.lines_built.shape != self.lines_imagined.shape:
            raise ValueError(f"{self.part}: its lines are not the same in the two rooms")


@dataclass(frozen=True, kw_only=True, eq=False)
class Room:
    """The scenery in one room: its triangles, their planes ``(m, 4)``, lines ``(n, 2, 3)``, mm."""

    mesh: Mesh
    planes: Array
    lines: Array

    @cached_property
    def first(self) -> rays.Caster:
        """Casts rays at the triangles; made ready when first asked for, as a picture shows one of two rooms."""
        return rays.caster(self.mesh)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scenery:
    """All surfaces joined.

    Attributes
    ----------
    built, imagined
        The same triangles and lines in either room.
    part
        ``(m,)`` number of the surface of each triangle.
    line_part
        ``(n,)`` the same of each line.
    tone
        ``(m, 3)``.
    planes
        ``(m, 4)`` imagined planes (n, c), n . p + c = 0 with |n| = 1.
    sheet
        ``(m,)`` whether a triangle counts from both sides.
    bend
        ``(m,)`` row of ``bends`` for facets of curved skins, -1 for flat ones.
    bends
        ``(k, 3, 4)``: the smoothed imagined normal at an imagined point p of the facet is along ``bend @ (p, 1)``.
    """

    built: Room
    imagined: Room
    part: Indices
    line_part: Indices
    tone: Array
    planes: Array
    sheet: NDArray[np.bool_]
    bend: Indices
    bends: Array


def assemble(surfaces: list[Surface]) -> Scenery:
    """Return the surfaces joined and ready for pictures of either room."""
    counts = [len(surface.built.triangles) for surface in surfaces]
    built, imagined = join([surface.built for surface in surfaces]), join([surface.imagined for surface in surfaces])
    room_built = _room(built, [surface.lines_built for surface in surfaces])
    room_imagined = _room(imagined, [surface.lines_imagined for surface in surfaces])
    sizes = lengths(room_imagined.planes[:, :3])
    planes = room_imagined.planes / np.where(sizes > 0, sizes, 1)[:, None]
    sheet = np.repeat(np.array([not surface.solid for surface in surfaces], dtype=bool), counts)
    bend, bends = _bends(imagined, planes[:, :3], ~sheet)
    return Scenery(
        built=room_built,
        imagined=room_imagined,
        part=np.repeat(np.arange(len(surfaces)), counts),
        line_part=np.repeat(np.arange(len(surfaces)), [len(surface.lines_built) for surface in surfaces]),
        tone=np.repeat(np.array([surface.tone for surface in surfaces]).reshape(-1, 3), counts, axis=0),
        planes=planes,
        sheet=sheet,
        bend=bend,
        bends=bends,
    )


def _room(mesh: Mesh, lines: list[Array]) -> Room:
    return Room(
        mesh=mesh,
        planes=rays.plane_of(mesh.corners),
        lines=np.concatenate([_no_lines(), *lines]),
    )


def _bends(mesh: Mesh, normals: Array, curved: NDArray[np.bool_]) -> tuple[Indices, Array]:
    bend = np.full(len(normals), -1)
    chosen = np.flatnonzero(curved & (np.einsum("ij,ij->i", normals, normals) > 0.5))
    if len(chosen) == 0:
        return bend, np.zeros((0, 3, 4))
    at_corners = _corner_normals(mesh.triangles[chosen], normals[chosen])
    flat = (np.einsum("ikj,ij->ik", at_corners, normals[chosen]) > 1 - 1e-9).all(axis=1)
    chosen, at_corners = chosen[~flat], at_corners[~flat]
    bend[chosen] = np.arange(len(chosen))
    # The barycentric coordinates of p are affine in p: gradients by the two edges' reciprocal basis.
    a, b, c = (mesh.vertices[mesh.triangles[chosen, k]] for k in range(3))
    normal = cross(b - a, c - a)
    size = np.einsum("ij,ij->i", normal, normal)[:, None]
    to_b, to_c = cross(c - a, normal) / size, cross(normal, b - a) / size
    slopes = at_corners - at_corners[:, :1]
    matrix = slopes[:, 1, :, None] * to_b[:, None, :] + slopes[:, 2, :, None] * to_c[:, None, :]
    start = at_corners[:, 0] - np.einsum("ijk,ik->ij", matrix, a)
    return bend, np.concatenate([matrix, start[:, :, None]], axis=2)


def _corner_normals(triangles: Indices, normals: Array) -> Array:
    """Return ``(m, 3, 3)`` unit normals at the corners, averaged over the neighbours within the crease angle."""
    vertex, own = triangles.ravel(), np.repeat(normals, 3, axis=0)
    total = np.asarray(np.stack([np.bincount(vertex, own[:, k]) for k in range(3)], axis=1), dtype=np.float64)[vertex]
    size = lengths(total)
    # Where every facet lies within half the crease angle of the mean, all pairs do within the whole.
    apart = np.einsum("ij,ij->i", own, total) < HALF_CREASE * size
    creased = np.flatnonzero((np.bincount(vertex, apart) > 0)[vertex])
    total[creased] = _within_crease(vertex[creased], own[creased])
    size[creased] = lengths(total[creased])
    unit: Array = (total / size[:, None]).reshape(-1, 3, 3)
    return unit


def _within_crease(vertex: Indices, own: Array) -> Array:
    """Return for each corner ``(k,)`` the sum of the normals at its vertex that lie within the crease angle."""
    order = np.argsort(vertex, kind="stable")
    starts = np.flatnonzero(np.diff(vertex[order], prepend=-1))
    counts = np.diff(starts, append=len(order))
    # Every corner with every corner at the same vertex, as one long list of pairs.
    reach = np.repeat(counts, counts)
    one = np.repeat(order, reach)
    within = np.arange(len(one)) - np.repeat(np.cumsum(reach) - reach, reach)
    two = order[np.repeat(np.repeat(starts, counts), reach) + within]
    near = np.einsum("ij,ij->i", own[one], own[two]) > CREASE
    one, other = one[near], own[two[near]]
    return np.stack([np.bincount(one, other[:, k], len(order)) for k in range(3)], axis=1)
