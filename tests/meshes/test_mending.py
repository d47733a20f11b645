"""What is mended, what is refused, and in which words."""

from __future__ import annotations

import re

import numpy as np
import pytest
import trimesh

from pipeline.geometry.mending import MendError, mend
from pipeline.geometry.meshes import Mesh, signed_volume
from tests.meshes.samples import as_loose, box, edited, l_shape, mesh_of, together

L = mesh_of(l_shape())
BALL = mesh_of(trimesh.creation.icosphere(3, radius=1.0))


def refused(mesh: Mesh) -> str:
    with pytest.raises(MendError) as refusal:
        mend(mesh)
    return str(refusal.value)


def sees_closed(mesh: Mesh) -> bool:
    """Ask trimesh."""
    return bool(trimesh.Trimesh(mesh.vertices, mesh.triangles).is_watertight)


def test_a_sound_mesh_keeps_every_corner_to_the_last_bit() -> None:
    """Nothing is done that need not be."""
    mended = mend(as_loose(L))
    assert mended.repairs == ()
    assert mended.volume == 4.0
    assert {tuple(p) for p in L.vertices.tolist()} == {tuple(p) for p in mended.mesh.vertices.tolist()}
    assert sees_closed(mended.mesh)


def test_corners_a_rounding_apart_are_sewn() -> None:
    """Each facet's corners are off by up to 2e-6 of the L's diagonal, as seven digits leave them."""
    loose = as_loose(L)
    noise = np.random.default_rng(1).uniform(-7e-6, 7e-6, loose.vertices.shape)
    mended = mend(Mesh(vertices=loose.vertices + noise, triangles=loose.triangles))
    assert mended.repairs == ("60 open edges sewn",)
    assert mended.volume == pytest.approx(4.0, abs=22 * 7e-6)
    assert sees_closed(mended.mesh)


def test_turned_facets_are_turned_back() -> None:
    """The fewer follow the more; the surface's volume is the L's again."""
    mended = mend(edited(L, turned=(3, 7, 11)))
    assert mended.repairs == ("3 facets turned that faced the other way",)
    assert mended.volume == 4.0


def test_a_mesh_inside_out_is_turned() -> None:
    """All facets inward: a volume of -4."""
    inward = edited(L, turned=tuple(range(20)))
    assert signed_volume(inward) == -4.0
    mended = mend(inward)
    assert mended.repairs == ("1 shell turned that was inside out",)
    assert mended.volume == signed_volume(mended.mesh) == 4.0


def test_copies_and_empty_facets_are_left_out() -> None:
    """A facet twice is one; a facet of two corners is none."""
    rows = np.vstack([L.triangles, L.triangles[4:6], [[0, 0, 1]]])
    mended = mend(Mesh(vertices=L.vertices, triangles=rows))
    assert mended.repairs == ("1 facet of no area left out", "2 facets left out that doubled others")
    assert mended.volume == 4.0


def test_a_small_hole_is_filled() -> None:
    """One of 1280 facets of a ball, 0.16 across where 0.35 is small: the ball's own volume is back."""
    mended = mend(edited(BALL, without=(100,)))
    assert mended.repairs == ("1 small hole filled",)
    assert mended.volume == pytest.approx(signed_volume(BALL), rel=1e-12)
    assert sees_closed(mended.mesh)


def test_a_large_hole_is_refused_with_its_place_and_size() -> None:
    """A box without its lid: the rim's middle is the lid's, its extent the lid's diagonal, 5."""
    lidless = mesh_of(box((0, 0, 0), (3, 4, 1)))
    top = np.flatnonzero((lidless.corners[:, :, 2] == 1).all(axis=1))
    said = refused(edited(lidless, without=tuple(top)))
    assert said.startswith("it is open: 1 hole: 4 edges round (1.5, 2, 1), 5 across (")


def test_loose_facets_are_open_everywhere() -> None:
    """Two triangles that do not meet."""
    mesh = Mesh(
        vertices=np.eye(3).repeat(2, axis=0) + np.arange(6)[:, None], triangles=np.array([[0, 2, 4], [1, 3, 5]])
    )
    assert refused(mesh).startswith("it is open: 2 holes: 3 edges round ")


def test_shells_that_overlap_become_one_body() -> None:
    """Two unit cubes half in one another: 2 - 1/2."""
    mended = mend(together(box((0, 0, 0), (1, 1, 1)), box((0.5, 0.25, 0), (1.5, 1.25, 1))))
    assert mended.repairs == ("2 shells united",)
    assert mended.volume == pytest.approx(2 - 0.375, rel=1e-12)
    assert sees_closed(mended.mesh)


def test_a_closed_hollow_is_filled() -> None:
    """Prints are solid: a cube in a cube, facing inward as a hollow does, leaves the outer cube."""
    hole = box((1, 1, 1), (2, 2, 2))
    hole.invert()
    mended = mend(together(box((0, 0, 0), (3, 3, 3)), hole))
    assert mended.repairs == ("1 closed hollow filled",)
    assert mended.volume == 27.0


def test_a_hollow_that_shells_enclose_between_them_is_filled() -> None:
    """Six slabs round a room of 1 x 1 x 1: a print of them would be solid, as one cut from a whole cube is."""
    lids = [box((0, 0, z), (3, 3, z + 1)) for z in (0, 2)]
    sides = [box((x, 0, 0), (x + 1, 3, 3)) for x in (0, 2)]
    ends = [box((0, y, 0), (3, y + 1, 3)) for y in (0, 2)]
    mended = mend(together(*lids, *sides, *ends))
    assert mended.repairs == ("1 closed hollow filled", "6 shells united")
    assert mended.volume == pytest.approx(27.0, rel=1e-12)


def test_what_was_done_to_several_shells_is_said_in_plain_words() -> None:
    """Not "2 closed hollow filleds"."""
    holes = [box((1, 1, 1), (2, 2, 2)), box((5, 1, 1), (6, 2, 2))]
    for hole in holes:
        hole.invert()
    assert mend(together(box((0, 0, 0), (9, 3, 3)), *holes)).repairs == ("2 closed hollows filled",)
    ends = [box((0, 0, 0), (2, 1, 1)), box((1, 0, 0), (3, 1, 1))]
    for end in ends:
        end.invert()
    assert mend(together(*ends)).repairs == ("2 shells turned that were inside out", "2 shells united")


def test_bodies_apart_are_refused() -> None:
    """One file is one print."""
    said = refused(together(box((0, 0, 0), (1, 1, 1)), box((5, 0, 0), (6, 1, 1))))
    assert said == "it is 2 bodies that do not touch, 4 apart, about (0.5, 0.5, 0.5); (5.5, 0.5, 0.5)"


def test_of_more_bodies_each_is_told_with_its_nearest() -> None:
    """By how far they are from one another in a row: 4, and 0.25 of the last two."""
    row = [box((0, 0, 0), (1, 1, 1)), box((5, 0, 0), (6, 1, 1)), box((6.25, 0, 0), (7, 1, 1))]
    assert refused(together(*row)) == (
        "it is 3 bodies that do not touch, about (0.5, 0.5, 0.5), 4 from the nearest; (5.5, 0.5, 0.5), 0.25 from the "
        "nearest; (6.625, 0.5, 0.5), 0.25 from the nearest"
    )


def test_bodies_that_share_no_more_than_an_edge_are_said_to_touch() -> None:
    """What is united needs a volume or a face in common."""
    one = box((0, 0, 0), (1, 1, 1))
    edge, corner = box((1, 1, 0), (2, 2, 1)), box((1, 1, 1), (2, 2, 2))
    touching = "it is 2 bodies that touch only along an edge or at a corner, about (0.5, 0.5, 0.5); (1.5, 1.5, "
    assert refused(together(one, edge)) == f"{touching}0.5)"
    assert refused(together(one, corner)) == f"{touching}1.5)"
    assert mend(together(one, box((1, 0, 0), (2, 1, 1)))).volume == 2
    assert refused(together(one, edge, box((9, 0, 0), (10, 1, 1)))) == (
        "it is 3 bodies that do not touch, about (0.5, 0.5, 0.5), at the edge of another; (1.5, 1.5, 0.5), at the edge "
        "of another; (9.5, 0.5, 0.5), 7 from the nearest"
    )


@pytest.mark.parametrize("apart", [1e-5, 0.01, 0.7, 30])
def test_a_gap_is_told_to_what_its_facets_leave(apart: float) -> None:
    """Of two balls of many facets side by side, the larger turned; by points of their surfaces, brute force."""
    one = trimesh.creation.icosphere(2, radius=1.0)
    other = trimesh.creation.icosphere(2, radius=1.5)
    other.apply_transform(trimesh.transformations.rotation_matrix(0.3, (1, 2, 3)))
    way = np.array([0.36, 0.48, 0.8])
    reach = float((one.vertices @ way).max() - (other.vertices @ way).min())
    other.apply_translation(way * (reach + apart))
    said = refused(together(one, other))
    found = re.fullmatch(r"it is 2 bodies that do not touch, (more than )?([0-9.e-]+) apart, about .*", said)
    assert found, said
    vertices = min(float(np.linalg.norm(one.vertices - place, axis=1).min()) for place in other.vertices)
    assert apart - 1e-9 <= float(found[2]) * 1.005
    assert float(found[2]) <= vertices * 1.005


def test_bodies_of_very_many_facets_far_apart_are_told_soon() -> None:
    """Not every facet is held against every other: far apart it is their boxes that are told."""
    one = trimesh.creation.icosphere(4)
    other = one.copy()
    other.apply_translation([40, 40, 40])
    found = re.search(r"more than ([0-9.]+) apart", refused(together(one, other)))
    assert found
    assert float(found[1]) == pytest.approx(38 * 3**0.5, rel=0.005)
    other.apply_translation([-37.99, -40, -40])
    found = re.search(r"do not touch, ([0-9.]+) apart", refused(together(one, other)))
    assert found
    assert float(found[1]) == pytest.approx(0.01, rel=0.005)


def test_a_body_about_the_origin_is_said_to_be_there() -> None:
    """Not at (5.96e-08, 0, 1.19e-07), where the rounding of a file's single numbers puts its middle."""
    off = np.float32(1) + np.float32(2) ** -23
    said = refused(together(box((-1, -1, -1), (float(off), 1, float(off))), box((0, 0, 9), (30, 30, 60))))
    assert said == "it is 2 bodies that do not touch, 8 apart, about (0, 0, 0); (15, 15, 34.5)"


def test_a_surface_that_crosses_itself_is_refused_where_it_does() -> None:
    """The spike of a box's lid drawn down through its floor at z = 0, near (1, 1)."""
    mesh = mesh_of(box((0, 0, 0), (2, 2, 2)))
    top = np.flatnonzero((mesh.corners[:, :, 2] == 2).all(axis=1))
    rim = [
        np.flatnonzero((mesh.vertices == corner).all(axis=1))[0]
        for corner in ((0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2))
    ]
    spike = [[rim[k], rim[(k + 1) % 4], 8] for k in range(4)]
    rows = np.vstack([np.delete(mesh.triangles, top, axis=0), spike])
    said = refused(Mesh(vertices=np.vstack([mesh.vertices, [[1.1, 0.9, -1.0]]]), triangles=rows))
    assert said.startswith("its surface crosses itself, as at (")
    x, y, z = (float(word) for word in said.rpartition("(")[2].rstrip(")").split(","))
    assert (x, y, z) == pytest.approx((1.1, 0.9, 0.0), abs=0.4)


def test_the_deepest_dent_that_does_not_cross_passes() -> None:
    """The same spike ending a hundredth above the floor."""
    mesh = mesh_of(box((0, 0, 0), (2, 2, 2)))
    top = np.flatnonzero((mesh.corners[:, :, 2] == 2).all(axis=1))
    rim = [
        np.flatnonzero((mesh.vertices == corner).all(axis=1))[0]
        for corner in ((0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2))
    ]
    spike = [[rim[k], rim[(k + 1) % 4], 8] for k in range(4)]
    rows = np.vstack([np.delete(mesh.triangles, top, axis=0), spike])
    mended = mend(Mesh(vertices=np.vstack([mesh.vertices, [[1.1, 0.9, 0.01]]]), triangles=rows))
    assert mended.volume == pytest.approx(8 - 4 * 1.99 / 3, rel=1e-12)


def test_a_band_of_one_side_is_refused() -> None:
    """Möbius: after one turn round, in and out have changed places."""
    count = 24
    turn = np.arange(count) * 2 * np.pi / count
    rows = []
    for sign in (-1, 1):
        reach = 3 + sign * np.cos(turn / 2)
        rows.append(np.column_stack([reach * np.cos(turn), reach * np.sin(turn), sign * np.sin(turn / 2)]))
    i = np.arange(count)
    j = (i + 1) % count
    wraps = j == 0
    low, high = np.where(wraps, j + count, j), np.where(wraps, j, j + count)
    triangles = np.vstack([np.column_stack([i, low, i + count]), np.column_stack([low, high, i + count])])
    assert refused(Mesh(vertices=np.vstack(rows), triangles=triangles)).startswith("it has one side only")


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_sheet_of_no_thickness_encloses_nothing(axis: int) -> None:
    """The L pressed flat along any axis: 0 volume."""
    flat = np.array(L.vertices)
    flat[:, axis] = 0.5
    assert refused(Mesh(vertices=flat, triangles=L.triangles)).startswith("it encloses no volume")


def test_facets_back_to_back_enclose_nothing() -> None:
    """One triangle and its reverse."""
    mesh = Mesh(vertices=np.eye(3), triangles=np.array([[0, 1, 2], [2, 1, 0]]))
    assert refused(mesh) == "it encloses no volume: its facets are lines, or lie back to back"


def test_a_point_is_said_to_be_one() -> None:
    """All corners equal."""
    assert refused(Mesh(vertices=np.zeros((3, 3)), triangles=np.array([[0, 1, 2]]))) == "all its corners are one point"


def test_a_wall_inside_is_refused_with_its_place() -> None:
    """A tetrahedron parted by a third triangle on an edge's ends and a point inside one facet: three facets meet."""
    points = np.array([(0, 0, 0), (3, 0, 0), (0, 3, 0), (0, 0, 3), (1, 0, 1)], dtype=np.float64)
    outside = [(0, 2, 1), (1, 2, 3), (0, 3, 2), (0, 1, 4), (1, 3, 4), (3, 0, 4)]
    inside = [(0, 2, 4), (4, 2, 1)]
    said = refused(Mesh(vertices=points, triangles=np.array(outside + inside)))
    assert said.startswith("three facets meet at an edge, as at (")


def test_mending_is_the_same_every_time() -> None:
    """Same mesh, same bytes."""
    torn = edited(BALL, without=(5, 700), turned=(9, 10))
    assert mend(torn).mesh.vertices.tobytes() == mend(torn).mesh.vertices.tobytes()
    assert mend(torn).repairs == mend(torn).repairs
