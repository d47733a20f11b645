"""What is refused as a body, a direction or a point, and what cutting leaves."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest

from pipeline.geometry import frames
from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim
from pipeline.geometry.meshes import EMPTY, Mesh

CUBE = mesh_of(manifold3d.Manifold.cube((2.0, 3.0, 4.0)))


def test_a_closed_outward_mesh_is_a_body() -> None:
    """Of its volume, there and back."""
    assert body_of(CUBE).volume() == pytest.approx(24.0)
    assert len(mesh_of(manifold3d.Manifold()).triangles) == 0


@pytest.mark.parametrize(
    "mesh",
    [
        Mesh(vertices=np.where(CUBE.vertices > 3, np.nan, CUBE.vertices), triangles=CUBE.triangles),
        Mesh(vertices=np.where(CUBE.vertices > 3, np.inf, CUBE.vertices), triangles=CUBE.triangles),
        Mesh(vertices=CUBE.vertices, triangles=CUBE.triangles[1:]),
        Mesh(vertices=CUBE.vertices, triangles=CUBE.triangles[:, ::-1].copy()),
        Mesh(vertices=CUBE.vertices * np.array([1.0, 1.0, 0.0]), triangles=CUBE.triangles),
        EMPTY,
    ],
    ids=["no number", "infinite", "open", "inside out", "flat", "nothing"],
)
def test_what_is_no_body_is_refused(mesh: Mesh) -> None:
    """The library itself says nothing of most of these."""
    with pytest.raises(BodyError, match=r"not a (finite point|closed outward body)"):
        body_of(mesh)


@pytest.mark.parametrize(
    ("plane", "inside", "volume"),
    [
        ((1.0, 0.0, 0.0, 0.0), 0.0, 24.0),
        ((1.0, 0.0, 0.0, -0.5), 0.0, 18.0),
        ((1.0, 0.0, 0.0, 0.0), 0.5, 18.0),
        ((-1.0, 0.0, 0.0, 2.0), 0.5, 18.0),
        ((-1.0, 0.0, 0.0, 2.5), 0.5, 24.0),
        ((0.0, 0.6, 0.8, -20.0), 0.0, 0.0),
        ((0.0, -0.6, -0.8, 5.0), 0.0, 24.0),
        ((0.0, -0.6, -0.8, 4.0), 0.0, 24 - 2 * (1 / 0.6) * (1 / 0.8) / 2),
    ],
)
def test_what_is_left_lies_inside_the_plane(
    plane: tuple[float, float, float, float], inside: float, volume: float
) -> None:
    """2 x 3 x 4 mm cut square, aslant over a corner 1 mm deep, past it, and away; nothing stays nothing."""
    assert trim(body_of(CUBE), np.array(plane), inside).volume() == pytest.approx(volume)
    assert trim(manifold3d.Manifold(), np.array(plane), inside).is_empty()


@pytest.mark.parametrize("weight", [0.0, -0.5])
def test_no_point_goes_through_infinity(weight: float) -> None:
    """One of many is enough; of no points there is none."""
    matrix = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, (weight - 1) / 2, 1.0]])
    assert frames.apply(matrix, [[1.0, 1.0]]).tolist() == [[2.0 / (weight + 1), 2.0 / (weight + 1)]]
    with pytest.raises(ValueError, match="through infinity"):
        frames.apply(matrix, [[1.0, 1.0], [1.0, 2.0]])
    assert frames.apply(matrix, np.zeros((0, 2))).shape == (0, 2)


@pytest.mark.parametrize("vector", [[0.0, 0.0, 0.0], [np.nan, 0.0, 1.0]])
def test_a_direction_has_a_length(vector: list[float]) -> None:
    """3-4-12 has 13."""
    assert frames.unit([3.0, 4.0, 12.0]) == pytest.approx(np.array([3, 4, 12]) / 13)
    with pytest.raises(ValueError, match="a direction of no length"):
        frames.unit(vector)
