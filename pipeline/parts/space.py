"""The room that parts leave in the box, out of sight: where wires may run and a battery may lie.

Terms
-----
cell
    A cuboid of the box, about ``FINE`` mm long each way; rows of them fill the box exactly.
free
    A cell that no part reaches into, that lies outside the hall, and that no eye of the eye box looks into. Told
    strictly: a cell that a surface only grazes is not free.
block
    Two by two by two cells; free where all eight are. Routes are sought from block to block.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.int64]
Size = tuple[float, float, float]

FINE = 1.0
"""mm; a wire with its insulation is about that thick."""
MOST_CELLS = 4e6
"""Of a large box the cells are larger."""
PITCH = 1.0
"""mm between rays of sight on the opening."""
ON_FACE = 0.05
"""mm; a ray that ends so near to a surface of the hall ends on it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Space:
    """What is free in a box.

    Attributes
    ----------
    origin
        ``(3,)`` lower corner of the first cell, built mm.
    cell
        ``(3,)`` size of a cell, mm.
    free
        ``(nx, ny, nz)``, even numbers of cells.
    blocks
        ``(nx / 2, ny / 2, nz / 2)``.
    """

    origin: Array
    cell: Array
    free: Flags
    blocks: Flags

    def block_of(self, points: Array) -> Indices:
        """Return the block each point ``(n, 3)`` lies in, ``(n, 3)``; -1 throughout for those outside the box."""
        index = np.floor((points - self.origin) / (2 * self.cell)).astype(np.int64)
        outside = ((index < 0) | (index >= self.blocks.shape)).any(axis=1)
        index[outside] = -1
        return index

    def middle(self, block: Indices) -> Array:
        """Return the middles ``(n, 3)`` of blocks ``(n, 3)``, built mm."""
        out: Array = self.origin + (2 * block + 1) * self.cell
        return out

    def block_free(self, points: Array) -> Flags:
        """Return whether each point ``(n, 3)`` lies in a free block, ``(n,)``."""
        index = self.block_of(points)
        out: Flags = (index[:, 0] >= 0) & self.blocks[tuple(index.T)]
        return out

    def points_free(self, points: Array) -> Flags:
        """Return whether each point ``(n, 3)`` lies in a free cell, ``(n,)``."""
        index = np.floor((points - self.origin) / self.cell).astype(np.int64)
        inside = ((index >= 0) & (index < self.free.shape)).all(axis=1)
        out = np.zeros(len(points), dtype=np.bool_)
        out[inside] = self.free[tuple(index[inside].T)]
        return out


def space_of(
    box: Size, bodies: Iterable[Mesh], *, box_planes: Iterable[Array], halls: Sequence[Array], eyes: Array
) -> Space:
    """Return what is free in a box.

    Parameters
    ----------
    box
        Width, height and depth of the least upright box round the real one, mm.
    bodies
        Every part, built mm.
    box_planes
        ``(4,)`` each, of the real box's walls, inside on the positive side.
    halls
        Pieces that the hall consists of: ``(m, 4)`` built planes of unit normals inward, each piece before all of its.
    eyes
        ``(k, 3)`` eyes that may see nothing of what lies in free cells.
    """
    width, height, depth = box
    extent = np.array([width, depth, height])
    size = max(FINE, float((extent.prod() / MOST_CELLS) ** (1 / 3)))
    counts = 2 * np.maximum(1, np.round(extent / size / 2).astype(np.int64))
    shape = (int(counts[0]), int(counts[1]), int(counts[2]))
    cell, origin = extent / counts, np.array([-width / 2, 0.0, 0.0])
    taken: Flags = np.zeros(shape, dtype=np.bool_)
    corners = [mesh.corners for mesh in bodies if len(mesh.triangles)]
    deep = 2 * float(np.linalg.norm(cell))
    for triangles in corners:
        inside = np.zeros(len(triangles), dtype=bool)  # the hall is not free anyhow
        for planes in halls:
            inside |= (triangles @ planes[:, :3].T + planes[:, 3] > deep).all(axis=(1, 2))
        _mark(taken, (triangles[~inside] - origin) / cell)
    for plane in box_planes:
        np.logical_or(taken, _reach(plane, origin, cell, counts, inner=True) < 0, out=taken)
    for planes in halls:
        taken |= _within(planes, origin, cell, counts)
    seen: Flags = np.zeros(shape, dtype=np.bool_)
    shown = _Shown(corners=corners, halls=halls, box=box, origin=origin, cell=cell)
    for eye in eyes:
        shown.mark(seen, eye)
    free = ~(taken | _grown(seen))
    return Space(origin=origin, cell=cell, free=free, blocks=_pooled(free))


def _mark(taken: Flags, triangles: Array) -> None:
    """Mark the cells that triangles ``(m, 3, 3)``, in cells, reach into, and at most some beside them."""
    while len(triangles):
        sides = np.linalg.norm(triangles - np.roll(triangles, -1, axis=1), axis=2)
        longest = sides.argmax(axis=1)
        small = sides.max(axis=1) <= 1.0
        _mark_small(taken, triangles[small])
        rows = np.flatnonzero(~small)
        turned = triangles[rows[:, None], (longest[rows][:, None] + np.arange(3)) % 3]
        middle = turned[:, :2].mean(axis=1)
        triangles = np.concatenate(
            [
                np.stack([turned[:, 0], middle, turned[:, 2]], axis=1),
                np.stack([middle, turned[:, 1], turned[:, 2]], axis=1),
            ]
        )


def _mark_small(taken: Flags, triangles: Array) -> None:
    """Mark the cells of the boxes round triangles no longer than a cell, so at most two each way."""
    top = np.array(taken.shape) - 1
    bounds = (triangles.min(axis=1), triangles.max(axis=1))
    ends = [np.clip(np.floor(value).astype(np.int64), 0, top) for value in bounds]
    for i in (0, 1):
        for j in (0, 1):
            for k in (0, 1):
                taken[ends[i][:, 0], ends[j][:, 1], ends[k][:, 2]] = True


def _reach(plane: Array, origin: Array, cell: Array, counts: Indices, *, inner: bool) -> Array:
    """Return how far the nearest or, not ``inner``, the farthest corner of each cell lies before a plane, mm."""
    axes = [plane[k] * (origin[k] + (np.arange(counts[k]) + 0.5) * cell[k]) for k in range(3)]
    middle = axes[0][:, None, None] + axes[1][None, :, None] + axes[2][None, None, :] + plane[3]
    half = float(np.abs(plane[:3]) @ cell) / 2
    out: Array = middle - half + 1e-9 if inner else middle + half - 1e-9
    return out


def _within(planes: Array, origin: Array, cell: Array, counts: Indices) -> Flags:
    """Return the cells of which some lies before all planes, and some beside their corners."""
    inside = np.ones(tuple(counts), dtype=bool)
    for plane in planes:
        inside &= _reach(plane, origin, cell, counts, inner=False) > 0
    return inside


class _Shown:
    """What eyes see of cells outside the hall: rays through the opening, past the hall's surfaces."""

    def __init__(self, *, corners: list[Array], halls: Sequence[Array], box: Size, origin: Array, cell: Array) -> None:
        width, height, self.depth = box
        self.halls, self.origin, self.cell = halls, origin, cell
        across, up = (np.arange(max(1, round(size / PITCH))) for size in (width, height))
        x = (across + 0.5) / len(across) * width - width / 2
        z = (up + 0.5) / len(up) * height
        gx, gz = (axis.ravel() for axis in np.meshgrid(x, z))
        self.targets = np.column_stack([gx, np.zeros(len(gx)), gz])
        self.solid = Target.of(np.concatenate(corners)) if corners else None

    def mark(self, seen: Flags, eye: Array) -> None:
        """Mark the cells that rays from an eye ``(3,)`` cross before they meet a part or the box's back."""
        ways = self.targets - eye
        start = np.linalg.norm(ways, axis=1)
        ways /= start[:, None]
        far = start + self.depth / ways[:, 1]
        if self.solid is not None:
            far = np.minimum(self.solid.cast(np.broadcast_to(eye, ways.shape), ways)[1], far)
        ends = eye + far[:, None] * ways
        outside = far > start
        for planes in self.halls:
            outside &= (ends @ planes[:, :3].T + planes[:, 3] < -ON_FACE).any(axis=1)
        rays, lengths = np.flatnonzero(outside), (far - start)[outside]
        step = float(self.cell.min()) / 2
        for number in range(int(np.ceil(lengths.max(initial=0.0) / step)) + 1):
            rows = rays[number * step <= lengths]
            points = eye + (start[rows] + number * step)[:, None] * ways[rows]
            index = np.floor((points - self.origin) / self.cell).astype(np.int64)
            index = index[((index >= 0) & (index < seen.shape)).all(axis=1)]
            seen[tuple(index.T)] = True


def _grown(flags: Flags) -> Flags:
    """Return flags with the neighbours of those that are set."""
    padded = np.pad(flags, 1)
    out = flags.copy()
    for axis in range(3):
        for shift in (-1, 1):
            moved = np.roll(padded, shift, axis=axis)
            out |= moved[1:-1, 1:-1, 1:-1]
    return out


def _pooled(free: Flags) -> Flags:
    nx, ny, nz = free.shape
    return np.asarray(free.reshape(nx // 2, 2, ny // 2, 2, nz // 2, 2).all(axis=(1, 3, 5)), dtype=np.bool_)
