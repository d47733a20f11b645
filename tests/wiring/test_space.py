"""What is free in a box, ways through it and room in it, against booleans, counting and plain search."""

from __future__ import annotations

from collections import deque
from itertools import pairwise, product

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.geometry.booleans import mesh_of
from pipeline.parts.battery_room import largest, place_battery
from pipeline.parts.model import Addition
from pipeline.parts.space import Space, space_of
from pipeline.parts.wire_search import Passage, Search, Seed
from pipeline.stages.ground import Ground

BOX = (20.0, 16.0, 12.0)
"""Width, height and depth."""
SIDES = [
    np.array([1.0, 0, 0, 10]), np.array([-1.0, 0, 0, 10]), np.array([0, 0, 1.0, 0]), np.array([0, 0, -1.0, 16]),
    np.array([0, -1.0, 0, 12]),
]  # fmt: skip
NO_HALL = np.array([[0.0, 0, 0, -1.0]])
"""Nothing lies before this plane."""
FAR_EYE = np.array([[0.0, -1e4, 8.0]])


def body() -> manifold3d.Manifold:
    """Return a slab that leans, with a hole, and a bar that stands aside."""
    slab = manifold3d.Manifold.cube([16, 1.2, 20], center=True) - manifold3d.Manifold.cylinder(
        6, 2, center=True
    ).rotate([90, 0, 0])
    return slab.rotate([17, 8, 0]).translate([1, 6, 8]) + manifold3d.Manifold.cube([1.5, 9, 1.5]).translate(
        [-9.3, 2, 3]
    )


def test_no_part_reaches_into_a_free_cell_and_few_cells_are_withheld() -> None:
    """Every free cell as a cube has nothing in common with the body; the others lie within a cell of it."""
    solid = body() ^ manifold3d.Manifold.cube([20, 12, 16]).translate([-10, 0, 0])
    space = space_of(BOX, [mesh_of(solid)], box_planes=SIDES, halls=[NO_HALL], eyes=np.zeros((0, 3)))
    assert space.free.shape == (20, 12, 16)
    for index in product(*map(range, space.free.shape)):
        low = space.origin + np.array(index) * space.cell
        if space.free[index]:
            cube = manifold3d.Manifold.cube((space.cell * 0.998).tolist()).translate((low + 0.001).tolist())
            assert (cube ^ solid).volume() < 1e-9
        else:
            wide = manifold3d.Manifold.cube((3 * space.cell).tolist()).translate((low - space.cell).tolist())
            assert (wide ^ solid).volume() > 0


def test_what_an_eye_looks_into_is_not_free() -> None:
    """A screen with a slit in the opening: from far off a ribbon behind the slit is seen, and nothing else."""
    screen = manifold3d.Manifold.cube([20, 1, 16]).translate([-10, 0, 0]) - manifold3d.Manifold.cube(
        [2, 3, 20]
    ).translate([-1, -1, -1])
    space = space_of(BOX, [mesh_of(screen)], box_planes=SIDES, halls=[NO_HALL], eyes=FAR_EYE)
    behind = space.free[:, 3:, :]
    assert not behind[9:11].any()
    assert behind[:8].all()
    assert behind[12:].all()


@settings(max_examples=20)
@given(st.integers(0, 10**6))
def test_ways_cost_what_a_plain_search_finds(seed: int) -> None:
    """Breadth first from block to block, each step as long as a block; a way found is as long as told, and free."""
    space = random_space(seed)
    search = Search(space, 0.4, ())
    opened = np.argwhere(space.blocks)
    if len(opened) == 0:
        return
    start = space.middle(opened[0])
    seeds = [Seed(points=start[None], cost=0.0)]
    reached = search.spread(seeds)
    steps = {tuple(opened[0].tolist()): 0}
    queue = deque([tuple(opened[0].tolist())])
    while queue:
        here = queue.popleft()
        for axis, sign in product(range(3), (-1, 1)):
            there = tuple(value + sign * (axis == k) for k, value in enumerate(here))
            inside = all(0 <= v < n for v, n in zip(there, space.blocks.shape, strict=True))
            if inside and space.blocks[there] and there not in steps:
                steps[there] = steps[here] + 1
                queue.append(there)
    for block in product(*map(range, space.blocks.shape)):
        assert reached.cost[block] == pytest.approx(2.0 * steps[block] if block in steps else np.inf)
    last = max(steps, key=steps.__getitem__)
    _, ((points, passage),) = search.way_to(search.node(space.middle(np.array(last))), reached, seeds)
    assert passage == -1
    straight = search.straightened(points)
    for one, other in pairwise(straight):
        line = one + np.linspace(0, 1, 200)[:, None] * (other - one)
        assert space.points_free(line).all()


def test_a_passage_joins_what_a_wall_parts() -> None:
    """Two rooms, and a hole of a certain cost between them; closed, the farther one is not reached."""
    free = np.ones((8, 4, 4), dtype=bool)
    free[4:6] = False
    space = space_with(free)
    ends = np.array([space.middle(np.array([1, 0, 0])), space.middle(np.array([3, 0, 0]))])
    search = Search(space, 0.4, [Passage(part="wall", at=(0.0, 0.0), ends=ends, cost=25.0)])
    seeds = [Seed(points=space.middle(np.array([0, 0, 0]))[None], cost=0.0)]
    assert search.spread(seeds).cost[3, 0, 0] == pytest.approx(2 + 4 + 25)
    assert np.isinf(search.spread(seeds, {0}).cost[3]).all()


@settings(max_examples=20)
@given(st.integers(0, 10**6), st.tuples(*[st.integers(1, 5)] * 3))
def test_a_battery_lies_where_all_is_free_if_it_can(seed: int, size: tuple[int, int, int]) -> None:
    """Every place and turn is tried one by one: one is found where there is one, and is free."""
    space = random_space(seed)
    place = place_battery(space, (float(size[0]), float(size[1]), float(size[2])), np.where(space.blocks, 0.0, 0.0))
    free = space.free
    possible = any(
        free[x : x + a, y : y + b, z : z + c].all() and free[x : x + a, y : y + b, z : z + c].shape == (a, b, c)
        for a, b, c in {
            tuple(np.array(size)[list(turn)])
            for turn in ((0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0))
        }
        for x, y, z in product(*map(range, free.shape))
    )
    assert (place is not None) == possible
    if place is not None:
        low, high = (np.round(place - space.origin)).astype(int)
        assert free[low[0] : high[0], low[1] : high[1], low[2] : high[2]].all()
        assert sorted(high - low) == sorted(size)


@settings(max_examples=20)
@given(st.integers(0, 10**6))
def test_no_free_block_is_larger_than_the_largest(seed: int) -> None:
    """All cuboids of blocks counted out."""
    space = random_space(seed)
    blocks = space.blocks
    most = 0
    for x, y, z in product(*map(range, blocks.shape)):
        for a, b, c in product(*(range(1, n - v + 1) for n, v in zip(blocks.shape, (x, y, z), strict=True))):
            if blocks[x : x + a, y : y + b, z : z + c].all():
                most = max(most, a * b * c)
    assert np.prod(largest(space, np.zeros(blocks.shape))) == pytest.approx(8.0 * most)


def test_a_tab_keeps_out_of_the_wires_way() -> None:
    """What is kept free counts as taken, though it is no part."""
    wire = mesh_of(manifold3d.Manifold.cube([10, 1, 1]))
    tab = Addition(
        kind="tab", against="wall", chain=np.zeros((3, 2)), body=mesh_of(manifold3d.Manifold.cube([2, 2, 2]))
    )
    assert Ground((), (), {}).free(tab, "floor")
    assert not Ground((), (), {}, (wire,)).free(tab, "floor")


def random_space(seed: int) -> Space:
    """Return a small space of which some is free; neighbours are often alike."""
    rng = np.random.default_rng(seed)
    coarse = rng.random((4, 3, 3)) < rng.uniform(0.4, 0.95)
    free = np.repeat(np.repeat(np.repeat(coarse, 2, 0), 2, 1), 2, 2)
    free[rng.random(free.shape) < 0.02] = False
    return space_with(free)


def space_with(free: NDArray[np.bool_]) -> Space:
    """Return a space of cells of 1 mm."""
    nx, ny, nz = free.shape
    blocks = np.asarray(free.reshape(nx // 2, 2, ny // 2, 2, nz // 2, 2).all(axis=(1, 3, 5)), dtype=np.bool_)
    return Space(origin=np.zeros(3), cell=np.ones(3), free=free, blocks=blocks)
