"""Binary STL: the published layout, and meshes that stay closed when equal corners are welded."""

from __future__ import annotations

import io
import math
from collections import Counter

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks.written import read_stl
from pipeline.exports.stl import write_stl
from pipeline.geometry.meshes import EMPTY, Array, Mesh, join, signed_volume, weld


def from_trimesh(body: trimesh.Trimesh) -> Mesh:
    return Mesh(vertices=np.array(body.vertices), triangles=np.array(body.faces, dtype=np.int64))


def ring() -> Mesh:
    return from_trimesh(trimesh.creation.torus(20.0, 5.0, major_sections=40, minor_sections=16))


def open_edges(corners: Array) -> int:
    """Return how many directed edges, by equal corners, have no opposite."""
    triangles = weld(corners).triangles
    edges = Counter((int(a), int(b)) for t in triangles for a, b in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0])))
    return sum(abs(number - edges[b, a]) for (a, b), number in edges.items())


def test_file_is_84_bytes_and_50_for_each_triangle() -> None:
    """The published layout; the count is bytes 80 to 83, little-endian."""
    data = write_stl(ring(), "ring")
    assert len(data) == 84 + 50 * len(ring().triangles)
    assert int.from_bytes(data[80:84], "little") == len(ring().triangles)
    assert len(write_stl(EMPTY, "nothing")) == 84


@pytest.mark.parametrize("name", ["solid", "pier-left-1", "", "é房" * 60])
def test_header_never_begins_like_the_text_form(name: str) -> None:
    """A header that starts with "solid" is read as text; names are ASCII and cut to 80 bytes."""
    data = write_stl(ring(), name)
    assert not data.lower().startswith(b"solid")
    assert data[:80].isascii()
    assert len(data) == 84 + 50 * len(ring().triangles)


def test_corners_come_back_in_single_precision_and_in_order() -> None:
    """Counter-clockwise from outside as in the mesh."""
    assert ring().corners.astype(np.float32).astype(np.float64).tobytes() == read_stl(write_stl(ring(), "r")).tobytes()


def test_normals_are_of_unit_length_and_outward() -> None:
    """For a ball about the origin every normal points away from it."""
    ball = from_trimesh(trimesh.creation.icosphere(subdivisions=2, radius=7.0))
    records = np.frombuffer(write_stl(ball, "ball")[84:], dtype=np.uint8).reshape(-1, 50)[:, :48].copy().view("<f4")
    normals, middles = records[:, :3], records[:, 3:].reshape(-1, 3, 3).mean(axis=1)
    assert np.ones(len(normals)) == pytest.approx(np.linalg.norm(normals, axis=1), abs=1e-6)
    assert (np.einsum("ij,ij->i", normals, middles) > 0).all()


def test_trimesh_and_manifold_read_a_closed_outward_body() -> None:
    """Independent readers: volume of a torus of 40 by 16 facets, genus 1, no error."""
    data = write_stl(ring(), "ring")
    body = trimesh.load_mesh(io.BytesIO(data), file_type="stl")
    assert body.is_watertight
    assert body.is_winding_consistent
    assert signed_volume(ring()) == pytest.approx(body.volume, rel=1e-5)
    mesh = weld(read_stl(data))
    solid = manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices.copy(), mesh.triangles.astype(np.uint64)))
    assert solid.status() == manifold3d.Error.NoError
    assert solid.genus() == 1
    assert signed_volume(ring()) == pytest.approx(solid.volume(), rel=1e-5)


@settings(deadline=None, max_examples=30)
@given(st.floats(0, 3e5), st.integers(0, 5))
def test_a_body_that_collapses_in_single_precision_stays_closed(offset: float, seed: int) -> None:
    """Far out, floats are 0.03 apart: small triangles lose corners, and what is left still closes."""
    body = trimesh.creation.icosphere(subdivisions=3, radius=0.5)
    jitter = np.random.default_rng(seed).normal(scale=0.02, size=body.vertices.shape)
    mesh = Mesh(vertices=body.vertices + jitter + offset, triangles=np.array(body.faces, dtype=np.int64))
    corners = read_stl(write_stl(mesh, "ball"))
    assert open_edges(corners) == 0
    assert all(len({tuple(corner) for corner in triangle}) == 3 for triangle in corners.tolist())


def test_a_collapsed_triangle_is_left_out_and_its_neighbours_meet() -> None:
    """A square pyramid whose one base edge is 1e-9 long becomes a tetrahedron: four triangles."""
    vertices = np.array([[99, 50, 0], [99, 50 + 1e-9, 0], [89, 60, 0], [89, 40, 0], [94, 50, 10.0]])
    triangles = np.array([[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    corners = read_stl(write_stl(Mesh(vertices=vertices, triangles=triangles), "pyramid"))
    assert len(corners) == 4
    assert open_edges(corners) == 0
    assert signed_volume(weld(corners)) == pytest.approx(2000 / 6, rel=1e-6)


def test_triangles_folded_onto_each_other_are_left_out() -> None:
    """A fin of no thickness beside a body encloses nothing and would make edges of four triangles."""
    fin = np.array([[100, 0, 0], [105, 0, 0], [100, 5, 0], [100, 5, 1e-46]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    both = join([ring(), Mesh(vertices=fin, triangles=faces)])
    corners = read_stl(write_stl(both, "ring and fin"))
    assert len(corners) == len(ring().triangles)
    assert open_edges(corners) == 0


def test_slivers_of_three_corners_stay_with_a_unit_normal() -> None:
    """Three corners on one line keep their neighbours closed."""
    vertices = np.array([[0, 0, 0], [4, 0, 0], [2, 0, 0], [2, 3, 0], [2, 1, 3.0]])
    triangles = np.array([[0, 3, 2], [2, 3, 1], [0, 1, 4], [1, 3, 4], [3, 0, 4], [0, 2, 1]])
    data = write_stl(Mesh(vertices=vertices, triangles=triangles), "sliver")
    corners = read_stl(data)
    assert len(corners) == 6
    assert open_edges(corners) == 0
    normals = np.frombuffer(data[84:], dtype=np.uint8).reshape(-1, 50)[:, :12].copy().view("<f4")
    assert np.ones(6) == pytest.approx(np.linalg.norm(normals, axis=1), abs=1e-6)


def test_minus_zero_and_zero_are_one_corner() -> None:
    """Readers that weld by bytes see equal corners too."""
    data = write_stl(
        Mesh(vertices=np.array([[-0.0, 0, 0], [1, -0.0, 0], [0, 1, -0.0]]), triangles=np.array([[0, 1, 2]])), "a"
    )
    assert not np.signbit(read_stl(data)).any()


@pytest.mark.parametrize("bad", [math.nan, math.inf, 1e39])
def test_vertices_that_are_not_finite_are_refused(bad: float) -> None:
    """1e39 is finite, but not in single precision."""
    mesh = Mesh(vertices=np.array([[bad, 0, 0], [1, 0, 0], [0, 1, 0.0]]), triangles=np.array([[0, 1, 2]]))
    with pytest.raises(ValueError, match="not finite"):
        write_stl(mesh, "bad")


def test_broken_files_are_refused() -> None:
    """Cut short, too long, or in the text form."""
    data = write_stl(ring(), "ring")
    for broken in (data[:-1], data + b"\0", data[:50], b"", b"solid x" + data[7:]):
        with pytest.raises(ValueError, match="STL"):
            read_stl(broken)


def test_the_same_mesh_gives_the_same_bytes() -> None:
    """No clock in the header."""
    assert write_stl(ring(), "ring") == write_stl(ring(), "ring")
