"""Products of vectors."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.geometry.meshes import weld
from pipeline.geometry.vectors import cross, facet_normals, lengths, norm


@pytest.mark.parametrize("shape", [(3,), (0, 3), (40, 3), (2, 5, 3)])
def test_cross_is_numpys_to_the_last_bit(shape: tuple[int, ...]) -> None:
    """Source: ``np.cross`` itself; files must not change with the way a product is taken."""
    a, b = np.random.default_rng(7).normal(size=(2, *shape))
    assert np.array_equal(np.cross(a, b), cross(a, b))


def test_a_facets_normal_is_twice_its_area_long() -> None:
    """A right triangle with legs of 3 and 4 has an area of 6; counter-clockwise from above it faces up."""
    corners = np.array([[[1.0, 1, 5], [4, 1, 5], [1, 5, 5]]])
    assert facet_normals(corners).tolist() == [[0.0, 0.0, 12.0]]


def test_welding_joins_exactly_the_corners_that_are_equal() -> None:
    """Source: ``np.unique`` along an axis; of a thousand corners on a coarse grid many are equal, many nearly so."""
    corners = np.round(np.random.default_rng(3).normal(size=(400, 3, 3)), 1)
    corners[::5] += 1e-12
    vertices, inverse = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    mesh = weld(corners)
    assert np.array_equal(vertices, mesh.vertices)
    assert np.array_equal(inverse.reshape(-1, 3), mesh.triangles)
    assert np.array_equal(corners, mesh.corners)


@pytest.mark.parametrize("shape", [(0, 3), (40, 2), (40, 3), (7, 5, 2)])
def test_lengths_are_numpys_to_the_last_bit(shape: tuple[int, ...]) -> None:
    """Source: ``np.linalg.norm`` itself."""
    vectors = np.random.default_rng(5).normal(size=shape)
    assert np.array_equal(np.linalg.norm(vectors, axis=-1), lengths(vectors))


@pytest.mark.parametrize("count", [2, 3, 4])
def test_the_norm_is_numpys_to_the_last_bit(count: int) -> None:
    """Source: ``np.linalg.norm`` itself, of vectors that lie together and of columns, whose numbers lie apart."""
    rows = np.random.default_rng(11).normal(size=(200, count))
    assert [float(np.linalg.norm(row)) for row in rows] == [norm(row) for row in rows]
    assert [float(np.linalg.norm(row)) for row in rows.T.copy().T] == [norm(row) for row in rows.T.copy().T]
