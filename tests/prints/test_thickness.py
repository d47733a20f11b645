"""Walls and knife edges on wedges whose answers are known, and by brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.geometry.meshes import Mesh
from pipeline.parts.solids import swept
from pipeline.parts.thickness import knife_edges, thinnest_wall
from tests.prints.samples import point_triangle_distances


def wedge(angle_deg: float, end: float, turns: int = 0) -> Mesh:
    """A wedge 30 long along y, its sides ``angle_deg`` apart, cut off where it is ``end`` wide, 12 from there on."""
    half = math.radians(angle_deg) / 2
    start = end / 2 / math.tan(half)
    far = start + 12.0
    section = np.array([(-end / 2, start), (-far * math.tan(half), far), (far * math.tan(half), far), (end / 2, start)])
    section = section[[0, 3, 2, 1]] if end else np.array([(0.0, 0.0), *section[[2, 1]]])
    mesh = swept("y", [0.0, 30.0], [section, section])
    spin = math.radians(17.0 * turns)
    turn = np.array([[math.cos(spin), -math.sin(spin), 0], [math.sin(spin), math.cos(spin), 0], [0, 0, 1]])
    lean = np.array([[1, 0, 0], [0, math.cos(spin), -math.sin(spin)], [0, math.sin(spin), math.cos(spin)]])
    return Mesh(vertices=mesh.vertices @ (turn @ lean).T, triangles=mesh.triangles)


@pytest.mark.parametrize("angle_deg", [5, 10, 15, 20, 25, 29])
@pytest.mark.parametrize("turns", [0, 1])
def test_wedges_read_their_width_where_they_end(angle_deg: float, turns: int) -> None:
    """A true 0.8 reads as 0.8 to the micron rays are set in: by brute force no two points of the sides are nearer."""
    mesh = wedge(angle_deg, 0.8, turns)
    found = thinnest_wall(mesh)
    assert found is not None
    assert found.thickness == pytest.approx(0.8, abs=5e-4)
    assert found.thickness >= 0.8 - 1e-9
    normals = np.cross(*np.moveaxis(np.diff(mesh.corners, axis=1), 1, 0))
    sides = [k for k, n in enumerate(normals) if np.linalg.norm(n) > 2 * 12 * 14]
    one = [k for k in sides if normals[k] @ normals[sides[0]] > 0]
    other = [k for k in sides if k not in one]
    nearest = point_triangle_distances(mesh.corners[one].reshape(-1, 3), mesh.corners[other]).min()
    assert nearest == pytest.approx(0.8, abs=1e-9)


@pytest.mark.parametrize("angle_deg", [31, 38, 45])
def test_steep_sides_are_an_edge_and_no_wall(angle_deg: float) -> None:
    """Past 30 degrees the two sides are not opposed: what is left to read is the wedge's length and depth."""
    found = thinnest_wall(wedge(angle_deg, 0.8))
    assert found is None or found.thickness >= 11.9


@pytest.mark.parametrize("angle_deg", [5, 15, 29, 31, 45, 60])
def test_knife_edges_are_listed_with_their_angle(angle_deg: float) -> None:
    """One edge, 30 mm long, of the wedge's angle, if that is under 30 degrees; its vanishing wall is not a wall."""
    mesh = wedge(angle_deg, 0.0)
    edges, angles = knife_edges(mesh)
    if angle_deg < 30:
        assert angles == pytest.approx([angle_deg], abs=1e-6)
        assert np.linalg.norm(edges[0, 1] - edges[0, 0]) == pytest.approx(30.0, abs=1e-9)
    else:
        assert len(edges) == 0
    found = thinnest_wall(mesh)
    assert found is None or found.thickness > 5


def test_plate_reads_its_thickness_exactly() -> None:
    """Parallel sides: the chord itself."""
    square = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 30.0), (0.0, 30.0)])
    found = thinnest_wall(swept("z", [0.0, 1.25], [square, square]))
    assert found is not None
    assert found.thickness == pytest.approx(1.25, abs=1e-9)
    assert abs(found.enters[2] - found.leaves[2]) == pytest.approx(1.25, abs=1e-9)


def test_hollow_edges_are_no_knives() -> None:
    """An L of two plates has a sharp corner of air, not of material."""
    corner = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (19.0, 20.0), (18.0, 1.0), (0.0, 1.0)])
    assert len(knife_edges(swept("z", [0.0, 5.0], [corner, corner]))[0]) == 0


def _edged(taper: float, end: float) -> Mesh:
    """A plate 20 wide, 30 long and 1.2 thick; one of its long edges tapers to ``end`` over the last ``taper`` mm."""
    section = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, end), (20.0 - taper, 1.2), (0.0, 1.2)])
    return swept("z", [0.0, 30.0], [section, section])


@pytest.mark.parametrize("thick", [0.2, 0.44, 0.9])
def test_a_plate_too_thin_everywhere_is_a_thin_wall(thick: float) -> None:
    """No ball fits into it; one that fits beside it, in the air, holds nothing. Bent as half an arched rib is, its
    sides are many facets."""
    turn = np.linspace(0.0, np.pi, 33)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    arch = np.vstack([42.0 * ring, 40.0 * ring[::-1]])
    leaning = [arch, arch * [1.0, 1.0] + [0.0, 0.2 * thick]]
    for sections in (leaning, [np.array([(0.0, 0.0), (30.0, 0.0), (30.0, 2.0), (0.0, 2.0)])] * 2):
        found = thinnest_wall(swept("z", [0.0, thick], sections), 3.0, needed=1.0)
        assert found is not None
        assert found.thickness == pytest.approx(thick, abs=2e-3)


@pytest.mark.parametrize("taper", [0.8, 1.0])
def test_a_chamfer_along_an_edge_is_no_thin_wall(taper: float) -> None:
    """Its edge is 0.8 thick and stands out, from where the plate is 1.0 thick, half the chamfer's width only."""
    found = thinnest_wall(_edged(taper, 0.8), needed=1.0)
    assert found is not None
    assert found.thickness >= 1.0
    plain = thinnest_wall(_edged(taper, 0.8))
    assert plain is not None
    assert plain.thickness == pytest.approx(0.8, abs=2e-3)


@pytest.mark.parametrize("taper", [5.0, 10.0])
def test_a_wall_that_thins_out_is_a_thin_wall(taper: float) -> None:
    """From where it is 1.0 thick it goes on for half the taper: 2.5 mm and more, three times its thickness."""
    found = thinnest_wall(_edged(taper, 0.8), needed=1.0)
    assert found is not None
    assert found.thickness == pytest.approx(0.8, abs=1e-2)


@pytest.mark.parametrize(("tall", "is_wall"), [(0.3, False), (2.0, True)])
def test_a_fin_is_a_wall_where_it_is_taller_than_thick(tall: float, is_wall: bool) -> None:
    """A fin 0.6 thick on a block: as a ridge 0.3 high it cannot break off, at 2 mm it can."""
    fin = [(8.0, 5.0), (8.0, 5.0 + tall), (7.4, 5.0 + tall), (7.4, 5.0)]
    section = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 5.0), *fin, (0.0, 5.0)])
    found = thinnest_wall(swept("z", [0.0, 30.0], [section, section]), needed=1.0)
    assert found is not None
    assert (found.thickness == pytest.approx(0.6, abs=1e-6)) == is_wall
    assert (found.thickness >= 1.0) != is_wall
