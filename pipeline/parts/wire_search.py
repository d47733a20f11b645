"""The shortest ways of wires through what is free in a box.

Terms
-----
block, free
    As in ``space``.
passage
    A way from one free block to another through a hole in a sheet, square to it.
way
    Corners from where a wire begins to where it ends; straight in between.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.parts.space import Space

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Node = int

FACETS = 16
"""Of a wire's round, for booleans."""
TOUCHING = 1e-4
"""mm^3; what only touches has a common volume of rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Passage:
    """A hole that may be made: its part, its middle on it, and a point on either side that wires find free.

    ``cost`` is the length of way that it is worth to avoid it, mm; ``how`` says how it is hidden, if it is.
    """

    part: str
    at: tuple[float, float]
    ends: Array
    cost: float
    how: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seed:
    """Where a wire enters what is free: the way so far, its cost, the passage it took last, if any.

    ``bare`` tells that some of it, or its hole, is in sight, and no post or cord holds it.
    """

    points: Array
    cost: float
    passage: Passage | None = None
    bare: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reached:
    """What can be reached from some seeds.

    Attributes
    ----------
    cost
        ``(bx, by, bz)`` mm of way, infinite where a block is not reached.
    before
        Block and passage (-1 for none) that each block was reached from; of a first one -1 - the number of its seed.
    """

    cost: Array
    before: Mapping[Node, tuple[Node, int]]


class Search:
    """Ways through a space for wires of one thickness.

    Parameters
    ----------
    space
        What is free.
    radius
        Of the wires together, mm.
    passages
        Holes that may be made, with both ends free.
    """

    def __init__(self, space: Space, radius: float, passages: Sequence[Passage]) -> None:
        self.space, self.radius, self.passages = space, radius, passages
        self._around = _cube(radius, float(space.cell.min()))
        self.blocks = _shrunk(space.blocks, radius, 2 * float(space.cell.min()))
        self._shape = np.array(self.blocks.shape) + 2
        padded = np.pad(self.blocks, 1)
        self._open: list[bool] = padded.ravel().tolist()
        strides = (int(self._shape[1] * self._shape[2]), int(self._shape[2]), 1)
        sizes = (2 * space.cell).tolist()
        self._steps = [(sign * stride, size) for stride, size in zip(strides, sizes, strict=True) for sign in (-1, 1)]
        self._across: dict[Node, list[tuple[Node, float, int]]] = {}
        for number, passage in enumerate(passages):
            one, other = (self.node(point) for point in passage.ends)
            cost = float(np.linalg.norm(np.diff(passage.ends, axis=0))) + passage.cost
            for a, b in ((one, other), (other, one)):
                if a >= 0 and b >= 0:
                    self._across.setdefault(a, []).append((b, cost, number))

    def node(self, point: Array) -> Node:
        """Return the number of the open block that a point ``(3,)`` lies in, -1 where it lies in none."""
        index = self.space.block_of(point[None])[0]
        if (index < 0).any() or not self.blocks[tuple(index)]:
            return -1
        return int(np.ravel_multi_index(tuple(index + 1), tuple(self._shape)))

    def middle(self, node: Node) -> Array:
        """Return the middle ``(3,)`` of a block, built mm."""
        index = np.array(np.unravel_index(node, tuple(self._shape))) - 1
        return self.space.middle(index)

    def spread(self, seeds: Sequence[Seed], closed: Set[int] = frozenset()) -> Reached:
        """Return the least cost of every block that wires from some seeds can reach (E. W. Dijkstra, 1959).

        ``closed`` are the numbers of passages that are not to be taken.
        """
        least = [np.inf] * len(self._open)
        before: dict[Node, tuple[Node, int]] = {}
        queue: list[tuple[float, Node]] = []

        def offer(cost: float, node: Node, last: Node, passage: int) -> None:
            if cost < least[node]:
                least[node], before[node] = cost, (last, passage)
                heapq.heappush(queue, (cost, node))

        for number, seed in enumerate(seeds):
            node = self.node(seed.points[-1])
            if node >= 0:
                offer(seed.cost, node, -1 - number, -1)
        while queue:
            here, node = heapq.heappop(queue)
            if here > least[node]:
                continue
            for step, size in self._steps:
                if self._open[node + step] and here + size < least[node + step]:
                    offer(here + size, node + step, node, -1)
            for following, more, number in self._across.get(node, ()):
                if number not in closed:
                    offer(here + more, following, node, number)
        table = np.array(least)
        return Reached(cost=table.reshape(self._shape)[1:-1, 1:-1, 1:-1], before=before)

    def way_to(self, goal: Node, reached: Reached, seeds: Sequence[Seed]) -> tuple[Seed, list[tuple[Array, int]]]:
        """Return the seed and the stretches of the way from it to a block.

        Each stretch is the corners ``(n, 3)`` up to a passage and the passage's number; the last has -1.
        """
        nodes: list[tuple[Node, int]] = []
        node = goal
        while node >= 0:
            last, passage = reached.before[node]
            nodes.append((node, passage))
            node = last
        seed = seeds[-1 - node]
        points: list[Array] = [seed.points[-1]]
        stretches: list[tuple[Array, int]] = []
        for here, passage in reversed(nodes):
            if passage >= 0:
                ends = self.passages[passage].ends
                near = int(np.linalg.norm(ends - self.middle(here), axis=1).argmax())
                stretches.append((np.array([*points, ends[near]]), passage))
                points = [ends[1 - near]]
            points.append(self.middle(here))
        stretches.append((np.array(points), -1))
        return seed, stretches

    def straightened(self, points: Array) -> Array:
        """Return the corners ``(n, 3)`` of a way with as many left out as leave it free."""
        kept, here, last = [0], 0, len(points) - 1
        while here < last:
            low, high = here + 1, last
            if not self.clear(points[here], points[high]):
                while high - low > 1:
                    middle = (low + high) // 2
                    low, high = (middle, high) if self.clear(points[here], points[middle]) else (low, middle)
                high = low
            kept.append(high)
            here = high
        return points[kept]

    def clear(self, start: Array, end: Array) -> bool:
        """Return whether a straight leg runs through free cells alone; a cube round the wires is looked at."""
        cell = float(self.space.cell.min())
        count = max(2, int(np.ceil(np.linalg.norm(end - start) / (cell / 3))) + 1)
        line = start + np.linspace(0.0, 1.0, count)[:, None] * (end - start)
        return bool(self.space.points_free((line[:, None] + self._around[None]).reshape(-1, 3)).all())

    def stands(self, point: Array) -> bool:
        """Return whether wires find room at a point, in a block that is open."""
        return self.node(point) >= 0 and bool(self.space.points_free(point + self._around).all())


def _cube(radius: float, cell: float) -> Array:
    """Return points of a cube round a ball, no two neighbours farther apart than a cell, ``(n, 3)``."""
    marks = np.linspace(-radius, radius, 2 * max(1, int(np.ceil(radius / cell))) + 1)
    return np.stack(np.meshgrid(marks, marks, marks), axis=-1).reshape(-1, 3)


def _shrunk(blocks: Flags, radius: float, size: float) -> Flags:
    """Return the blocks whose middles lie a radius inside of what is free."""
    out = blocks
    for _ in range(max(0, int(np.ceil((radius - size / 2) / size)))):
        padded = np.pad(out, 1)
        smaller = out.copy()
        for axis in range(3):
            for shift in (-1, 1):
                smaller &= np.roll(padded, shift, axis=axis)[1:-1, 1:-1, 1:-1]
        out = smaller
    return out


def tube(start: Array, end: Array, radius: float) -> manifold3d.Manifold:
    """Return a straight leg of wires as a body with round ends, built mm."""
    ball = manifold3d.Manifold.sphere(radius, FACETS)
    return manifold3d.Manifold.batch_hull([ball.translate(start.tolist()), ball.translate(end.tolist())])


def in_the_way(leg: manifold3d.Manifold, bodies: Mapping[str, manifold3d.Manifold]) -> list[tuple[str, float]]:
    """Return the bodies that a leg runs into, and how much of each it would take, mm^3."""
    box = leg.bounding_box()
    found = []
    for part, body in bodies.items():
        other = body.bounding_box()
        if all(box[i] < other[i + 3] and other[i] < box[i + 3] for i in range(3)):
            common = (leg ^ body).volume()
            if common > TOUCHING:
                found.append((part, float(common)))
    return found
