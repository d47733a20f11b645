"""Shells: hollow on the hidden side, closed after writing, no wall thinner than asked."""

from __future__ import annotations

import math
from typing import Any

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks.print_closed import check_closed
from pipeline.elements.bodies import Solid
from pipeline.exports.stl import write_stl
from pipeline.geometry import frames
from pipeline.geometry.booleans import body_of
from pipeline.geometry.meshes import Mesh, weld
from pipeline.parts.bed import on_bed
from pipeline.parts.model import Print
from pipeline.parts.shells import parted
from pipeline.parts.solids import placed_planes, placement, rings
from pipeline.parts.thickness import thinnest_wall
from pipeline.relief.collineation import Relief
from pipeline.sight.rays import cast
from tests.prints.samples import (
    FLAT,
    HALL,
    IDENTITY,
    RELIEF,
    VOUSSOIRS,
    arches,
    columns,
    only,
    point_triangle_distances,
    printed,
)
from tests.strategies import HEADS

PLACES: dict[str, dict[str, Any]] = {
    "free": {"at": [1.0, 5.0]},
    "engaged": {"at": [-4.0, 5.0], "engaged": True},
    "at the opening": {"at": [4.0, 0.0], "engaged": True, "diameter": 1.0},
    "in the back corner": {"at": [4.0, 12.0], "engaged": True, "diameter": 1.2},
    "against the back": {"at": [0.5, 12.0], "engaged": True, "diameter": 0.9},
    "closed": {"at": [1.0, 5.0], "closed": True},
    "through the wall": {"at": [3.95, 5.0], "diameter": 0.8},
}
COLUMNS: dict[str, dict[str, Any]] = {
    f"{section} {kind}": {"section": section, "base": 0.4, "capital": 0.5, **place}
    for section in ("round", "octagon", "square")
    for kind, place in PLACES.items()
}
ARCHES = {
    f"{head}{' legs' if legs else ''}{' spandrel' if spandrel else ''}": {
        "head": head,
        "legs": legs,
        "spandrel": spandrel,
        "voussoirs": VOUSSOIRS[head],
        "span": 4.6 if head in ("pointed", "ogee") else None,
    }
    for head in HEADS
    for legs in (True, False)
    for spandrel in (True, False)
}


def solids() -> dict[str, Solid]:
    return {name: only(columns(**keys)) for name, keys in COLUMNS.items()} | {
        name: only(arches(**keys)) for name, keys in ARCHES.items()
    }


SOLIDS = solids()


def written(part: Print) -> bytes:
    return write_stl(on_bed(part.body, part.built_from_bed), part.id)


def corners_of(stl: bytes) -> np.ndarray:
    """Return ``(m, 3, 3)`` corners of a binary STL by its layout: 84 bytes, then 50 for each triangle."""
    rows = np.frombuffer(stl[84:], dtype=np.uint8).reshape(-1, 50)
    return rows[:, 12:48].copy().view("<f4").reshape(-1, 3, 3).astype(np.float64)


@pytest.mark.parametrize("relief", [IDENTITY, RELIEF, FLAT], ids=["identity", "half", "flat"])
@pytest.mark.parametrize("name", SOLIDS)
def test_every_shell_is_closed_and_thick_enough_as_written(name: str, relief: Relief) -> None:
    """Two independent readers find the written file watertight; no wall of a shell is under the least."""
    part = printed(SOLIDS[name], relief)
    stl = written(part)
    mesh = weld(corners_of(stl))
    assert body_of(mesh).volume() == pytest.approx(part.volume, rel=1e-4)
    read = trimesh.Trimesh(corners_of(stl).reshape(-1, 3), np.arange(len(corners_of(stl)) * 3).reshape(-1, 3))
    assert read.is_watertight
    assert read.is_winding_consistent
    assert read.volume == pytest.approx(part.volume, rel=1e-4)
    (finding,) = check_closed(part.id, stl)
    assert isinstance(part.solid, Solid)
    assert finding.status == ("warn" if part.solid.opens == "" and part.hollow else "pass")
    found = thinnest_wall(mesh)
    assert found is not None
    if part.hollow:
        assert found.thickness >= 1.0
        assert found.thickness <= 1.02


@pytest.mark.parametrize(
    "name", ["round free", "round engaged", "octagon at the opening", "square in the back corner", "round legs", "ogee"]
)
@pytest.mark.parametrize("relief", [IDENTITY, RELIEF], ids=["identity", "half"])
def test_walls_measured_by_brute_force_are_never_thinner(name: str, relief: Relief) -> None:
    """From points all over the hollow, the nearest point of the skin (the mouth's plane aside) is a wall away."""
    solid = SOLIDS[name]
    part = printed(solid, relief)
    matrix = placement(solid, relief)
    corners = part.body.corners
    if solid.opens == "back":
        back = frames.apply(matrix, [[0.0, solid.levels[-1].at, 0.0]])[0, 1]
        mouth = np.array([0.0, -1.0, 0.0, back])
    else:
        mouth = placed_planes(HALL, matrix)[solid.opens] - [0.0, 0.0, 0.0, 0.15]
    at_mouth = np.abs(corners @ mouth[:3] + mouth[3]).max(axis=1) < 1e-3
    hollow = _in_the_hollow(part, relief)
    assert hollow.any()
    skin = corners[~hollow & ~at_mouth]
    spread = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0], [0, 0.5, 0.5], [1 / 3, 1 / 3, 1 / 3]])
    samples = np.einsum("sk,mkd->msd", spread, corners[hollow & ~at_mouth]).reshape(-1, 3)
    distances = point_triangle_distances(samples[:: max(1, len(samples) // 600)], skin)
    assert distances.min() >= 1.0
    whole = point_triangle_distances(samples, skin) if len(samples) < 600 else distances
    assert whole.min() <= 1.05


def _in_the_hollow(part: Print, relief: Relief) -> np.ndarray:
    """Return which triangles bound the hollow: just outside of them lies the piece made without one."""
    assert isinstance(part.solid, Solid)
    whole = trimesh_of(body_of(printed(part.solid, relief, min_wall=99.0).body))
    corners = part.body.corners
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    return np.asarray(whole.contains(corners.mean(axis=1) + 1e-2 * normals))


def test_solid_pieces_stay_solid_and_say_so() -> None:
    """A shaft of 25 mm with walls of 12 leaves no 2 mm hollow; with 10 it does, under the identity."""
    solid = only(columns(section="square"))
    assert not printed(solid, IDENTITY, min_wall=12.0).hollow
    assert printed(solid, IDENTITY, min_wall=10.0).hollow
    assert not printed(solid, IDENTITY, min_wall=10.0, min_cavity=5.1).hollow
    assert printed(solid, IDENTITY, min_wall=10.0, min_cavity=4.9).hollow


def test_square_column_shell_has_the_closed_volume() -> None:
    """Open underneath, closed above: 25^2 h - (25 - 2 t)^2 (h - t), h less the play at floor and ceiling."""
    part = printed(only(columns(section="square")), IDENTITY)
    t, h = 1.001, 280.0 - 0.3
    assert part.volume == pytest.approx(625 * h - (25 - 2 * t) ** 2 * (h - t), rel=1e-9)


def test_closed_column_keeps_both_ends() -> None:
    """Asked to stay closed, the hollow is a wall short of floor and ceiling."""
    part = printed(only(columns(section="square", closed=True)), IDENTITY)
    t, h = 1.001, 280.0 - 0.3
    assert part.volume == pytest.approx(625 * h - (25 - 2 * t) ** 2 * (h - 2 * t), rel=1e-9)


def test_spandrel_shell_has_the_closed_volume() -> None:
    """Without legs, a plate with a segment cut out, hollowed from the back; under the identity, the lintel by hand."""
    part = printed(only(arches(head="flat", legs=False, span=4.0)), IDENTITY)
    t, ring, depth, width = 1.001, 350 / 24, 1000 / 24, 4000 / 24 + 2 * 350 / 24
    whole, core = width * ring * depth, (width - 2 * t) * (ring - 2 * t) * (depth - t)
    assert part.volume == pytest.approx(whole - core, rel=1e-9)


def test_engaged_shell_opens_against_its_wall_only() -> None:
    """Rays from inside the hollow leave through the wall and nowhere else."""
    part = printed(only(columns(at=[-4.0, 5.0], engaged=True, diameter=1.0)), RELIEF)
    wall = placed_planes(HALL, RELIEF.built_from_imagined)["left-wall"][:3]
    axis = RELIEF.build_points([[-170.0, 5000 / 24, 143.0]])[0] + 2.0 * wall
    along = np.array([-wall[1], wall[0], 0.0])
    ways = np.array([-wall, wall, along, -along, [0, 0, 1], [0, 0, -1]])
    index, _ = cast(part.body.corners - axis, np.zeros((6, 3)), ways)
    assert (index >= 0).tolist() == [False, True, True, True, True, True]


def test_same_solid_gives_the_same_bytes() -> None:
    """Determinism: two runs write equal files."""
    solid = only(arches(head="basket", voussoirs=9))
    assert written(printed(solid)) == written(printed(solid))


walls = st.floats(0.5, 2.5)
reliefs = st.builds(
    lambda x, z, distance, built: Relief(eye=(x, -distance, z), apron=0.0, apparent_depth=500.0, built_depth=built),
    st.floats(-150, 150),
    st.floats(10, 270),
    st.floats(150, 1500),
    st.floats(60, 500),
)


@settings(max_examples=40, deadline=None)
@given(
    reliefs,
    walls,
    st.floats(0.2, 1.5),
    st.tuples(st.floats(-4, 4), st.floats(0, 12)),
    st.booleans(),
    st.sampled_from(["round", "octagon", "square"]),
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_any_column_is_closed_and_thick_enough(
    relief: Relief,
    wall: float,
    diameter: float,
    at: tuple[float, float],
    engaged: bool,
    section: str,
    base: float,
    capital: float,
) -> None:
    """One closed body; where hollow, no wall is under the least but where the piece itself is so thin."""
    keys = {"at": list(at), "engaged": engaged, "section": section, "base": base, "capital": capital}
    assert_sound(only(columns(diameter=diameter, **keys)), relief, wall)


@settings(max_examples=40, deadline=None)
@given(
    reliefs,
    walls,
    st.sampled_from(HEADS),
    st.floats(0, 11.5),
    st.floats(0.1, 2),
    st.floats(0.1, 0.8),
    st.floats(2.0, 4.0),
    st.tuples(st.booleans(), st.booleans(), st.booleans()),
)
def test_any_arch_is_closed_and_thick_enough(
    relief: Relief,
    wall: float,
    head: str,
    at: float,
    depth: float,
    ring: float,
    span: float,
    choices: tuple[bool, bool, bool],
) -> None:
    """One closed body; where hollow, no wall is under the least but where the piece itself is so thin."""
    legs, spandrel, stones = choices
    keys = {"head": head, "at": at, "depth": depth, "ring": ring, "span": span, "legs": legs, "spandrel": spandrel}
    imagined = arches(voussoirs=VOUSSOIRS[head] if stones else 0, joint=0.02, **keys)
    assert_sound(only(imagined), relief, wall)


def assert_sound(solid: Solid, relief: Relief, wall: float) -> None:
    part = printed(solid, relief, min_wall=wall)
    stl = written(part)
    (finding,) = check_closed(part.id, stl)
    assert finding.status == "pass", finding
    if part.hollow:
        least = thinnest_mm(weld(corners_of(stl)))
        assert least >= wall or least >= thinnest_mm(printed(solid, relief, min_wall=999.0).body) - 1e-4


def thinnest_mm(mesh: Mesh) -> float:
    found = thinnest_wall(mesh)
    return math.inf if found is None else found.thickness


def trimesh_of(body: object) -> trimesh.Trimesh:
    raw = body.to_mesh64()  # type: ignore[attr-defined]
    return trimesh.Trimesh(raw.vert_properties[:, :3], raw.tri_verts.astype(np.int64), process=False)


def test_rings_of_one_section_are_equal() -> None:
    """An arch's two levels have one section, flattened alike for the larger image, the front's."""
    solid = SOLIDS["round legs"]
    near, far = rings(solid, placement(solid, RELIEF), 0.02)
    assert np.array_equal(near, far)


def test_a_hollow_cut_by_many_planes_holds_its_pieces_and_no_memory_of_the_cuts() -> None:
    """Six pieces with a duct each, 9 mm long but for the ends; each knows one source, not all of every cut before."""
    duct = manifold3d.Manifold.cube([1000, 2, 2]).translate([-1, 4, 4])
    hollow = manifold3d.Manifold.cube([60, 10, 10]) - duct
    cuts = tuple((np.array([1.0, 0.0, 0.0, -float(x)]), 0.5) for x in range(10, 60, 10))
    left = parted(hollow, cuts, 1.0)
    assert left is not None
    assert left.volume() == pytest.approx((60 - 5 * 1.0) * (100 - 4), rel=1e-9)
    assert len(left.decompose()) == 6
    assert len(left.to_mesh64().run_original_id) == 6
    ends = parted(hollow, cuts, 9.2)
    assert ends is not None
    assert ends.volume() == pytest.approx(2 * 9.5 * 96, rel=1e-9), "the others are less deep"
