"""Rays against closed forms, and the two ways of casting against one another."""

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.sight import box_tree, fan, rays

Array = NDArray[np.float64]


@pytest.fixture(params=["embree", "numpy"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Either way of casting; the second as on a machine without embreex."""
    name = str(request.param)
    if name == "numpy":
        monkeypatch.setattr(rays, "EMBREE", False)
    elif not rays.EMBREE:
        pytest.skip("embreex has no wheel for this machine")
    return name


def octahedron(radius: float) -> Array:
    signs = [(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]
    return radius * np.array([[[x, 0, 0], [0, y, 0], [0, 0, z]] for x, y, z in signs], dtype=np.float64)


def test_distance_to_a_slanted_plane_is_exact(way: str) -> None:
    """t = (c - n . o) / (n . d) for the plane n . p = c; here y + z / 2 = 100, 1e6 wide."""
    big = 1e6
    plane = np.array([[[-big, 100 + big / 2, -big], [big, 100 + big / 2, -big], [0, 100 - big, 2 * big]]])
    directions = np.array([[0.0, 1, 0], [0.3, 2, 0.5], [-1, 5, -3]])
    index, distance = rays.cast(plane, np.zeros((3, 3)), directions)
    t = 100 / (directions[:, 1] + directions[:, 2] / 2)
    assert (index == 0).all()
    np.testing.assert_allclose(t * np.linalg.norm(directions, axis=1), distance, rtol=1e-9)


def test_an_octahedron_is_hit_where_its_coordinates_sum_to_the_radius(way: str) -> None:
    """|x| + |y| + |z| = r on its surface, whichever of the eight faces is met; the face is that of the signs."""
    rng = np.random.default_rng(7)
    inward = -rng.normal(size=(500, 3))
    origins = -40 * inward / np.linalg.norm(inward, axis=1)[:, None]
    index, distance = rays.cast(octahedron(5.0), origins, inward)
    points = origins + distance[:, None] * inward / np.linalg.norm(inward, axis=1)[:, None]
    np.testing.assert_allclose(5.0, np.abs(points).sum(axis=1), rtol=1e-12)
    signs = (points > 0) @ np.array([4, 2, 1])
    assert (index == signs).all()


def test_the_nearer_of_two_triangles_is_met_from_either_side(way: str) -> None:
    """Order in the list and orientation do not matter."""
    near = np.array([[-9.0, 10, -9], [9, 10, -9], [0, 10, 9]])
    far = near + np.array([0, 5, 0])
    for corners, first in (([near, far], 0), ([far, near], 1), ([far, near[::-1]], 1)):
        index, distance = rays.cast(np.array(corners), np.zeros((1, 3)), np.array([[0.0, 2, 0]]))
        assert int(index[0]) == first
        assert distance[0] == pytest.approx(10, rel=1e-15)


def test_a_ray_that_meets_nothing_says_so(way: str) -> None:
    """Index -1 and an infinite distance: beside the triangle, behind the origin, and with no triangle at all."""
    triangle = np.array([[[-9.0, 10, -9], [9, 10, -9], [0, 10, 9]]])
    directions = np.array([[3.0, 1, 0], [0, -1, 0]])
    for corners in (triangle, np.zeros((0, 3, 3))):
        index, distance = rays.cast(corners, np.zeros((2, 3)), directions)
        assert (index == -1).all()
        assert np.isinf(distance).all()


def test_both_ways_of_casting_agree_on_a_heap_of_triangles(monkeypatch: pytest.MonkeyPatch) -> None:
    """Embree and the tree of boxes are two programs for one question."""
    if not rays.EMBREE:
        pytest.skip("embreex has no wheel for this machine")
    rng = np.random.default_rng(3)
    corners = rng.uniform(-50, 50, (700, 1, 3)) + rng.uniform(-4, 4, (700, 3, 3))
    directions = rng.normal(size=(4000, 3)) + np.array([0, 4, 0])
    origins = np.tile([0.0, -200, 0], (4000, 1))
    index, distance = rays.cast(corners, origins, directions)
    monkeypatch.setattr(rays, "EMBREE", False)
    index_numpy, distance_numpy = rays.cast(corners, origins, directions)
    assert 500 < (index >= 0).sum() < 3500
    # Single precision may see a ray within 1e-5 mm of an edge on its other side.
    assert (index != index_numpy).sum() <= 2
    same = index == index_numpy
    np.testing.assert_allclose(distance_numpy[same], distance[same], rtol=1e-12)


@pytest.mark.parametrize("spread", [0.3, 2.0])
def test_a_fan_from_one_point_meets_what_the_tree_of_boxes_meets(spread: float) -> None:
    """Two programs for one question: rays of a picture, over a heap of triangles before the point."""
    rng = np.random.default_rng(11)
    corners = rng.uniform(-50, 50, (600, 1, 3)) + rng.uniform(-6, 6, (600, 3, 3))
    origin = np.array([3.0, -80, -5])
    directions = np.column_stack([rng.normal(0, spread, 3000), rng.uniform(1, 2, 3000), rng.normal(0, spread, 3000)])
    origins = np.tile(origin, (3000, 1))
    assert fan.spreads(corners, origins, directions)
    index = fan.first(corners, origin, directions)
    assert 50 < (index >= 0).sum() < 2950
    assert (index == box_tree.caster(corners)(origins, directions)).all()


def test_a_fan_asks_for_one_point_and_all_before_it() -> None:
    """Two points, a ray sideways, or a triangle beside the point are for the tree of boxes."""
    corners = octahedron(5.0) + np.array([0, 20.0, 0])
    origins, ahead = np.zeros((2, 3)), np.array([[0.0, 1, 0], [0.1, 2, 0]])
    assert fan.spreads(corners, origins, ahead)
    assert not fan.spreads(corners, origins + np.array([[0.0], [1.0]]), ahead)
    assert not fan.spreads(corners, origins, ahead * np.array([[1.0], [-1.0]]))
    assert not fan.spreads(octahedron(5.0), origins, ahead)
    assert not fan.spreads(corners, origins[:0], ahead[:0])


def test_no_ray_slips_through_shared_edges(way: str) -> None:
    """Rays aimed exactly at the edges and vertices of a closed body from inside all meet it."""
    corners = octahedron(5.0)
    aims = np.concatenate([corners.reshape(-1, 3), corners.mean(axis=1), (corners[:, 0] + corners[:, 1]) / 2])
    index, _ = rays.cast(corners, np.zeros_like(aims), aims)
    assert (index >= 0).all()


def test_triangles_that_share_corners_are_met_as_if_they_shared_none() -> None:
    """A ball of 1,280 facets is read by its 642 points, or corner by corner; what is met, and where, is the same."""
    ball = trimesh.creation.icosphere(subdivisions=3, radius=20.0)
    shared = Mesh(vertices=np.asarray(ball.vertices), triangles=np.asarray(ball.faces))
    random = np.random.default_rng(5)
    origins, ways = random.uniform(-30, 30, (2_000, 3)), random.normal(size=(2_000, 3))
    index, distance = rays.Target.on(shared).cast(origins, ways)
    index_loose, distance_loose = rays.Target.of(shared.corners).cast(origins, ways)
    assert 500 < int((index >= 0).sum()) < 2_000
    assert index.tolist() == index_loose.tolist()
    assert distance.tolist() == distance_loose.tolist()
