"""Shapes laid on one another: against motions known beforehand, closed forms, and every motion tried."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity

from pipeline.geometry.apart import WITHIN, apart
from pipeline.geometry.nearest import Chords, Corresponding, Skin, on_triangles
from pipeline.geometry.rigid_fit import Fit, Sight, best_fit, least_worst, rotation

Array = NDArray[np.float64]


def ring(corners: list[tuple[float, float]]) -> Array:
    """Return a closed outline as chords ``(n, 2, 2)``."""
    points = np.array(corners, dtype=np.float64)
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def sampled(lines: Array, count: int = 200) -> Array:
    share = np.linspace(0, 1, count, endpoint=False)[None, :, None]
    out: Array = (lines[:, None, 0] + share * (lines[:, None, 1] - lines[:, None, 0])).reshape(-1, 2)
    return out


def laid(old: Array, new: Array) -> Fit:
    sights = [
        Sight(points=sampled(old), target=Chords.of(new), forward=True),
        Sight(points=sampled(new), target=Chords.of(old), forward=False),
    ]
    return best_fit(sights, np.eye(2), new.mean(axis=(0, 1)) - old.mean(axis=(0, 1)))


def moved(lines: Array, turn: float, step: tuple[float, float]) -> Array:
    out: Array = lines @ rotation(np.array([turn])).T + np.array(step)
    return out


L_SHAPE = [(0.0, 0.0), (90.0, 0.0), (90.0, 25.0), (30.0, 25.0), (30.0, 70.0), (0.0, 70.0)]


@settings(max_examples=25)
@given(st.floats(-0.15, 0.15), st.tuples(st.floats(-20, 20), st.floats(-20, 20)))
def test_a_moved_outline_is_found_where_it_went(turn: float, step: tuple[float, float]) -> None:
    """A rigid motion leaves no deviation, and is the motion found."""
    fit = laid(ring(L_SHAPE), moved(ring(L_SHAPE), turn, step))
    assert fit.deviation < 0.01
    assert fit.turn == pytest.approx(rotation(np.array([turn])), abs=1e-3)


@pytest.mark.parametrize("turn", [0.0, 0.06])
@pytest.mark.parametrize(("dx", "dy"), [(0.0, 1.0), (0.8, 0.0), (0.6, 0.8)])
def test_a_larger_rectangle_overlaps_by_half_the_difference(turn: float, dx: float, dy: float) -> None:
    """Laid in the middle: half of what it grew, at a corner by Pythagoras; no motion betters both sides at once."""
    old = ring([(0, 0), (100, 0), (100, 60), (0, 60)])
    new = moved(ring([(0, 0), (100 + dx, 0), (100 + dx, 60 + dy), (0, 60 + dy)]), turn, (3.0, -2.0))
    fit = laid(old, new)
    assert fit.deviation == pytest.approx(np.hypot(dx, dy) / 2, abs=2e-3)
    assert fit.bound <= fit.deviation


def test_no_motion_of_many_does_better() -> None:
    """A leaning trapezoid: 6,000 motions tried with another library's Hausdorff distance; ours is the least."""
    old = ring([(0, 0), (80, 12), (80, 70), (0, 90)])
    new = ring([(0, 0), (80, 13.2), (80, 71.2), (0, 90)])
    fit = laid(old, new)
    target = shapely.LineString([*new[:, 0].tolist(), new[0, 0].tolist()])
    line = shapely.LineString([*old[:, 0].tolist(), old[0, 0].tolist()])
    least = 9.0
    for degrees in np.linspace(0.2, 0.7, 11):
        turned = affinity.rotate(line, degrees, origin=(40, 45))
        for x in np.linspace(-0.2, 0.2, 17):
            for y in np.linspace(0.2, 1.0, 33):
                least = min(least, shapely.hausdorff_distance(affinity.translate(turned, x, y), target))
    assert fit.deviation <= least + 1e-3
    assert fit.deviation > 0.8 * least


def test_a_hole_that_comes_is_a_deviation() -> None:
    """Its rim lies far from every line of the old."""
    old = ring([(0, 0), (100, 0), (100, 60), (0, 60)])
    hole = ring([(40, 20), (60, 20), (60, 40), (40, 40)])
    assert laid(old, np.concatenate([old, hole])).deviation > 15


@given(st.integers(0, 2**31), st.integers(2, 6), st.integers(1, 3))
@settings(max_examples=30)
def test_the_least_worst_is_bounded_from_both_sides(seed: int, columns: int, axes: int) -> None:
    """No m does better than the bound, tried at random about the one found; and the one found comes near it."""
    random = np.random.default_rng(seed)
    matrix, values = random.normal(size=(60, columns)), random.normal(size=60)
    best, bound = least_worst(matrix, values, np.repeat(np.arange(60 // axes), axes))

    def worst(change: Array) -> float:
        return float(np.linalg.norm((values + matrix @ change).reshape(-1, axes), axis=1).max())

    assert bound <= worst(best) < 1.02 * bound
    assert min(worst(best + step) for step in random.normal(scale=0.2, size=(100, columns))) >= bound


def test_distances_between_drawings_are_exact() -> None:
    """Between two teeth the worst place of a straight line lies at neither of its ends, nor at its middle."""
    line = np.array([[[0.0, 0.0], [10.0, 0.0]]])
    teeth = np.array(
        [[[1.0, 0.0], [1.0, -5.0]], [[8.2, 0.0], [8.2, -5.0]], [[-1.0, 0.0], [-3.0, 0.0]], [[11, 0], [12, 0]]]
    )
    far, place = apart(line, Chords.of(teeth))
    assert far == pytest.approx(3.6, abs=WITHIN)
    assert place == pytest.approx([4.6, 0.0], abs=2 * WITHIN)


@settings(max_examples=30)
@given(st.integers(0, 2**31))
def test_nearest_places_on_triangles_are_nearest(seed: int) -> None:
    """No place of a fine lattice over the triangle is nearer, and the place lies on the triangle."""
    random = np.random.default_rng(seed)
    points, corners = random.normal(size=(8, 3)) * 3, random.normal(size=(8, 3, 3)) * 2
    on = on_triangles(points, corners)
    u, v = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 1, 60), np.linspace(0, 1, 60)))
    inside = u + v <= 1
    lattice = np.stack([1 - u - v, u, v], axis=1)[inside] @ corners
    tried = np.linalg.norm(lattice - points[:, None], axis=2).min(axis=1)
    ours = np.linalg.norm(on - points, axis=1)
    assert (ours <= tried + 1e-12).all()
    assert (tried - ours < 0.2).all()
    assert (np.linalg.norm(lattice - on[:, None], axis=2).min(axis=1) < 0.2).all()


def test_the_tree_finds_what_asking_every_triangle_finds() -> None:
    """Near points by their boxes, far ones one by one: the same distances."""
    random = np.random.default_rng(3)
    corners = random.uniform(0, 30, (300, 1, 3)) + random.normal(size=(300, 3, 3))
    points = random.uniform(-5, 35, (150, 3))
    places, which = Skin.of(corners, 1.0).nearest(points)
    every = np.array([on_triangles(np.broadcast_to(point, (300, 3)), corners) for point in points])
    apart_every = np.linalg.norm(every - points[:, None], axis=2)
    assert np.linalg.norm(places - points, axis=1) == pytest.approx(apart_every.min(axis=1))
    assert apart_every[np.arange(150), which] == pytest.approx(apart_every.min(axis=1))


@pytest.mark.parametrize("by_number", [True, False])
def test_bodies_are_laid_on_one_another_in_space(by_number: bool) -> None:
    """A box, turned and moved, is found again; one 0.5 mm longer overlaps by half of that at either end."""
    low, high = np.zeros(3), np.array([20.0, 8.0, 50.0])
    turn = rotation(np.array([0.03, -0.05, 0.04]))

    def skin(size: Array) -> Array:
        unit = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)], dtype=np.float64)
        faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
        rows = [row for a, b, c, d in faces for row in ((a, b, c), (a, c, d))]
        corners: Array = (unit * size)[np.array(rows)]
        return corners

    for longer in (0.0, 0.5):
        old, new = skin(high - low), skin(high - low + [0, 0, longer]) @ turn.T + np.array([4.0, -3.0, 2.0])
        a, b = old.reshape(-1, 3), new.reshape(-1, 3)
        if by_number:
            sights = [Sight(points=a, target=Corresponding(places=b), forward=True)]
        else:
            sights = [
                Sight(points=a, target=Skin.of(new, 1.0), forward=True),
                Sight(points=b, target=Skin.of(old, 1.0), forward=False),
            ]
        fit = best_fit(sights, np.eye(3), b.mean(axis=0) - a.mean(axis=0))
        assert fit.deviation == pytest.approx(longer / 2, abs=0.01)
