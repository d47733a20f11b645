"""Planes that part two bodies, against the bodies' own distance by manifold3d."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest

from pipeline.geometry.between import broad_ways, parted
from pipeline.geometry.booleans import mesh_of

CUBE = manifold3d.Manifold.cube((2.0, 3.0, 5.0))
BALL = manifold3d.Manifold.sphere(1.0, 32)


def gap(one: manifold3d.Manifold, other: manifold3d.Manifold) -> float:
    """Return what the planes tell."""
    a, b = mesh_of(one), mesh_of(other)
    return parted(a, b, broad_ways(a), broad_ways(b))


def test_a_boxs_broad_ways_are_its_six_sides() -> None:
    """Two facets lie on each side; the broadest comes first."""
    ways = broad_ways(mesh_of(CUBE))
    assert sorted(np.abs(ways).argmax(axis=1).tolist()) == [0, 0, 1, 1, 2, 2]
    assert np.abs(ways[:2]).argmax(axis=1).tolist() == [0, 0]
    assert np.linalg.norm(ways, axis=1) == pytest.approx(np.ones(6))


@pytest.mark.parametrize("by", [(2.4, 0, 0), (0, 3.0, 1.0), (0.5, 0.5, -5.25), (1.5, 0, 0), (0.1, 2.9, 4.9)])
def test_boxes_are_parted_by_their_sides(by: tuple[float, float, float]) -> None:
    """Of boxes side by side the widest gap along an axis is told, below zero by how much they overlap."""
    overlap = max(abs(step) - side for step, side in zip(by, (2.0, 3.0, 5.0), strict=True))
    assert gap(CUBE, CUBE.translate(by)) == pytest.approx(overlap)
    assert gap(CUBE.rotate((30, 40, 50)), CUBE.translate(by).rotate((30, 40, 50))) == pytest.approx(overlap)


@pytest.mark.parametrize("seed", range(20))
def test_what_is_told_is_never_more_than_the_distance(seed: int) -> None:
    """A plane that parts two bodies stands between them; where they share something, none does."""
    chance = np.random.default_rng(seed)
    other = BALL.scale(chance.uniform(0.5, 2, 3).tolist()).translate(chance.uniform(-4, 6, 3).tolist())
    told, real = gap(CUBE, other), CUBE.min_gap(other, 50.0)
    assert told <= real + 1e-9
    if (CUBE ^ other).volume() > 1e-9:
        assert told < 0
