"""What an open mesh throws is what its facets throw, each by itself."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from pipeline.geometry.casting import NEAREST, Receiver, throw_body
from pipeline.geometry.meshes import Mesh

FLOOR = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
UP = np.array([0.0, 0.0, 1.0, 0.0])


def thrown_by_hand(corners: np.ndarray, source: np.ndarray) -> shapely.Geometry:
    """Return the shadow of one triangle on z = 0 of a lamp, straight from P' = S + (P - S) h / (h - z)."""
    height = source[2]
    ring = []
    for k in range(3):
        for share in np.linspace(0, 1, 400, endpoint=False):
            point = corners[k] + share * (corners[(k + 1) % 3] - corners[k])
            if 0 <= point[2] <= height * (1 - NEAREST):
                ring.append((source + (point - source) * height / (height - point[2]))[:2])
    return shapely.Polygon(ring) if len(ring) > 2 else shapely.Polygon()


@pytest.mark.parametrize("seed", range(6))
def test_facets_before_behind_and_across_the_plane_throw_as_each_alone(seed: int) -> None:
    """Some lie above the floor, some below it, some reach through it; the lamp hangs over all of them."""
    chance = np.random.default_rng(seed)
    source = np.array([1.0, -2.0, 40.0])
    corners = chance.uniform(-8, 8, (9, 3, 3)) + chance.uniform(-20, 20, (9, 1, 3)) * [1, 1, 0]
    receiver = Receiver(source=np.append(source, 1.0), matrix=FLOOR, plane=UP)
    mesh = Mesh(vertices=corners.reshape(-1, 3).copy(), triangles=np.arange(27).reshape(-1, 3))
    expected = shapely.union_all([thrown_by_hand(each, source) for each in corners])
    found = throw_body(mesh, receiver, closed=False).shape
    assert found.symmetric_difference(expected).area < 0.01 * expected.area
