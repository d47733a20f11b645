"""Room for a battery among what is free in a box.

Terms
-----
place
    A cuboid of whole cells, all of them free, along the box's axes.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from pipeline.parts.space import Space

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.int64]
Size = tuple[float, float, float]

HALVINGS = 6
ROUNDING = 1e-9
"""Cells; a size that is a whole number of them is not rounded up."""


def cells_for(space: Space, size: Size) -> list[tuple[int, int, int]]:
    """Return the numbers of cells that a cuboid takes, for each way it can lie."""
    ways = {tuple(int(n) for n in np.ceil(np.array(turned) / space.cell - ROUNDING)) for turned in permutations(size)}
    return sorted((a, b, c) for a, b, c in ways)


def starts(free: Flags, cells: tuple[int, int, int]) -> Flags:
    """Return at which first cells a cuboid of cells is all free; smaller than ``free`` by the cuboid less one."""
    counts = np.array(free.shape) - np.array(cells) + 1
    if (counts < 1).any():
        return np.zeros((0, 0, 0), dtype=bool)
    sums = np.zeros(np.array(free.shape) + 1, dtype=np.int64)
    sums[1:, 1:, 1:] = (~free).cumsum(axis=0).cumsum(axis=1).cumsum(axis=2)
    a, b, c = cells
    for axis, length in enumerate((a, b, c)):
        upper = [slice(None)] * 3
        lower = [slice(None)] * 3
        upper[axis], lower[axis] = slice(length, None), slice(None, -length)
        sums = sums[tuple(upper)] - sums[tuple(lower)]
    out: Flags = sums == 0
    return out


def place_battery(space: Space, size: Size, cost: Array) -> Array | None:
    """Return the corners ``(2, 3)``, built mm, of the cheapest place of a battery, or nothing where it fits nowhere.

    ``cost`` ``(bx, by, bz)`` is told for blocks; a place costs what the block of its middle does, and none is taken
    that costs infinitely much. Places against a wall of the box, where a battery can be fixed, go before all others.
    """
    best: tuple[bool, float, Array] | None = None
    for cells in cells_for(space, size):
        at = np.argwhere(starts(space.free, cells))
        if len(at) == 0:
            continue
        middle = (at + np.array(cells) // 2) // 2
        costs = cost[tuple(np.minimum(middle, np.array(cost.shape) - 1).T)]
        held = _against(at, np.array(cells), np.array(space.free.shape))
        for loose, rows in ((False, held), (True, ~held)):
            kept = np.flatnonzero(rows & np.isfinite(costs))
            if len(kept) == 0:
                continue
            number = kept[costs[kept].argmin()]
            if best is None or (loose, costs[number]) < best[:2]:
                low = space.origin + at[number] * space.cell
                best = loose, float(costs[number]), np.array([low, low + np.array(cells) * space.cell])
    return None if best is None else best[2]


def _against(at: Indices, cells: Indices, counts: Indices) -> Flags:
    """Return which places ``(n, 3)`` touch the box's bottom, top, a side or the back."""
    first, last = at == 0, at + cells == counts
    out: Flags = first[:, 0] | first[:, 2] | last.any(axis=1)
    return out


def largest_alike(space: Space, size: Size, cost: Array) -> Size:
    """Return the largest cuboid of a cuboid's shape, no larger than it, that finds a place, mm, to about a sixtieth.

    ``cost`` is told as in `place_battery`.
    """
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        share = (low + high) / 2
        long, wide, thick = size
        found = place_battery(space, (share * long, share * wide, share * thick), cost)
        low, high = (share, high) if found is not None else (low, share)
    long, wide, thick = (low * side for side in size)
    return long, wide, thick


def largest(space: Space, cost: Array) -> Size:
    """Return the largest cuboid of blocks, by volume, that can be reached, mm: the longest side first.

    ``cost`` is told as in `place_battery`. Every number of layers of blocks is tried for the depth, and among what is
    free through all of them the largest rectangle is sought. A battery of odd size may find a little more room than
    whole blocks tell.
    """
    reachable = space.blocks & np.isfinite(cost)
    layers = np.moveaxis(reachable, 1, 0)
    best, volume = (0.0, 0.0, 0.0), 0.0
    sides = 2 * space.cell
    filled = layers
    for thick in range(1, len(layers) + 1):
        filled = layers if thick == 1 else filled[:-1] & layers[thick - 1 :]
        if not filled.any():
            break
        wide, high = _widest(filled, volume / float(thick * sides.prod()))
        size = (wide * sides[0], thick * sides[1], high * sides[2])
        if float(np.prod(size)) > volume:
            volume = float(np.prod(size))
            long, middle, short = sorted((float(side) for side in size), reverse=True)
            best = (long, middle, short)
    return best


def _widest(layers: Flags, least: float) -> tuple[int, int]:
    """Return the sides of the largest rectangle that is set in any of some layers ``(n, a, b)``, if above an area."""
    run = np.zeros(layers.shape, dtype=np.int64)
    for row in range(layers.shape[1]):
        run[:, row] = np.where(layers[:, row], (run[:, row - 1] if row else 0) + 1, 0)
    best, sides = least, (0, 0)
    for long in range(1, int(run.max()) + 1):
        if long * layers.shape[2] <= best:
            continue
        tall = run >= long
        across = np.zeros(layers.shape[:2], dtype=np.int64)
        most = 0
        for column in range(layers.shape[2]):
            across = np.where(tall[:, :, column], across + 1, 0)
            most = max(most, int(across.max()))
        if most * long > best:
            best, sides = float(most * long), (long, most)
    return sides
