"""Meshes asked to be hollow: walls, drains, and bodies too slight for a hollow."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from pipeline.checks import print_closed, print_hollow, print_wall
from pipeline.checks.evidence import Evidence
from pipeline.checks.written import read_stl
from pipeline.cli import main
from pipeline.geometry.booleans import body_of
from pipeline.geometry.meshes import Mesh, weld
from pipeline.parts.hollows import hollow_in
from tests.meshes.samples import box, mesh_of
from tests.meshes.test_mesh_element import made, thing_of
from tests.scene_text import PLAIN, changed

Array = NDArray[np.float64]
MIN_WALL, CAVITY = 1.0, 2.0


def distances(points: Array, triangles: Array) -> Array:
    """Return the distance of each point from the nearest of triangles ``(m, 3, 3)``, tried one by one.

    In the triangle's own coordinates, as C. Ericson, *Real-Time Collision Detection* (2005), 5.1.5, has it: the foot on
    the plane where its three barycentric shares are above zero, else the least of the distances from the three sides.
    """
    out = np.full(len(points), np.inf)
    for a, b, c in triangles:
        normal = np.cross(b - a, c - a)
        shares = np.stack([np.cross(q - p, points - p) @ normal for p, q in ((b, c), (c, a), (a, b))])
        plane = np.abs((points - a) @ normal) / np.linalg.norm(normal)
        sides = []
        for p, q in ((a, b), (b, c), (c, a)):
            along = np.clip((points - p) @ (q - p) / ((q - p) @ (q - p)), 0, 1)
            sides.append(np.linalg.norm(points - p - along[:, None] * (q - p), axis=1))
        out = np.minimum(out, np.where((shares >= 0).all(axis=0), plane, np.min(sides, axis=0)))
    return out


def knobbly(radius: float = 9.0) -> trimesh.Trimesh:
    """Return a ball with bumps and dents, 1,280 facets."""
    ball = trimesh.creation.icosphere(3, 1.0)
    x, y, z = ball.vertices.T
    bumps = 1 + 0.2 * np.sin(5 * x) * np.cos(4 * y + 1) + 0.1 * np.sin(7 * z)
    return trimesh.Trimesh(radius * ball.vertices * bumps[:, None], ball.faces, process=False)


def skins(corners: Array) -> tuple[Array, Array]:
    """Return the facets of the outer skin of a closed hollow body and those of its hollow, ``(m, 3, 3)``."""
    mesh = weld(corners)
    parts = [mesh.vertices[triangles] for triangles in print_closed.components(mesh.triangles)]
    outer = max(range(len(parts)), key=lambda k: float(np.ptp(parts[k][:, :, 0])))
    return parts[outer], np.concatenate(parts[:outer] + parts[outer + 1 :])


@pytest.mark.parametrize("thing", [box((0, 0, 0), (9, 7, 8)), knobbly(6.0), trimesh.creation.torus(6, 3.2, 24, 16)])
def test_no_wall_is_thinner_than_asked_nor_much_thicker(thing: trimesh.Trimesh) -> None:
    """Corners and middles of the hollow's facets against every facet of the skin, one by one.

    The grid's step h is a quarter of the wall, which is made 2 % thicker first; where the skin is flat or gently curved
    no wall exceeds sqrt(1.02^2 + (3/4 + 1.5^2/2) h^2), and only along the hollow's edges is it more.
    """
    hollow = hollow_in(body_of(mesh_of(thing)), MIN_WALL, CAVITY)
    assert hollow is not None
    raw = hollow.to_mesh64()
    corners = np.asarray(raw.vert_properties)[:, :3][np.asarray(raw.tri_verts)]
    some = np.random.default_rng(1).permutation(len(corners))[:400]
    walls = distances(corners[some].mean(axis=1), np.asarray(thing.triangles))
    assert min(walls.min(), distances(corners[some, 0], np.asarray(thing.triangles)).min()) >= MIN_WALL
    areas = np.linalg.norm(np.cross(*(corners[some, k] - corners[some, 0] for k in (1, 2))), axis=1)
    most = np.sqrt(1.02**2 + (0.75 + 1.5**2 / 2) * (1.02 * MIN_WALL / 4) ** 2)
    assert most < 1.1
    assert areas[walls <= most + 0.02].sum() > 0.75 * areas.sum()
    assert walls.max() < 1.5 * MIN_WALL


def test_a_torus_keeps_its_hole_and_its_hollow_goes_all_the_way_round() -> None:
    """The hollow of a ring is a ring: of one piece, and of genus 1."""
    ring = body_of(mesh_of(trimesh.creation.torus(6, 3.2)))
    hollow = hollow_in(ring, MIN_WALL, CAVITY)
    assert hollow is not None
    assert hollow.genus() == 1
    assert len(hollow.decompose()) == 1
    # Pappus: 2 pi^2 R r^2, r less by walls of 1 to 1.1 mm; the facets of the ring take 2 % at most.
    assert 2 * np.pi**2 * 6 * 2.1**2 * 0.97 < hollow.volume() < 2 * np.pi**2 * 6 * 2.2**2


def test_hollows_narrower_than_asked_are_filled() -> None:
    """A dumb-bell: two blocks of 6 mm with room for a hollow, and a bar of 3.5 mm between with room for 1.5 mm only."""
    bell = trimesh.boolean.union(
        [box((0, 0, 0), (6, 6, 6)), box((10, 0, 0), (16, 6, 6)), box((3, 1.25, 1.25), (13, 4.75, 4.75))]
    )
    hollow = hollow_in(body_of(mesh_of(bell)), MIN_WALL, CAVITY)
    assert hollow is not None
    assert len(hollow.decompose()) == 2
    joined = hollow_in(body_of(mesh_of(bell)), MIN_WALL, 1.0)
    assert joined is not None
    assert len(joined.decompose()) == 1


def test_a_slight_body_has_no_hollow() -> None:
    """A plate of 3.9 mm has room for 1.9 mm between its walls, one of 5 mm for 3."""
    assert hollow_in(body_of(mesh_of(box((0, 0, 0), (12, 9, 3.9)))), MIN_WALL, CAVITY) is None
    assert hollow_in(body_of(mesh_of(box((0, 0, 0), (12, 9, 5)))), MIN_WALL, CAVITY) is not None


def hollowed(**keys: object) -> Evidence:
    """Return the plain scene with the knobbly ball, 1 m across, hollow."""
    text = str(keys.pop("text", PLAIN))
    given: dict[str, Any] = {"size": 1.0, "at": [0.0, 6.0, 1.0], "hollow": True, **keys}
    return made(thing=knobbly(), text=text, **given)


def written(evidence: Evidence) -> Array:
    part = thing_of(evidence)
    return read_stl(evidence.files[evidence.entries[part.id]["files"]["stl"]])


def with_text(old: str, new: str) -> str:
    return changed(PLAIN + "\n[make.printer]\nmin_wall = 1.0\n", old, new)


def test_a_filament_print_is_closed_with_a_sealed_hollow_of_the_asked_wall() -> None:
    """Sealed is right for filament; the written walls are measured against the written skin, facet by facet."""
    evidence = hollowed(text=with_text("min_wall = 1.0", 'min_wall = 0.8\nprocess = "filament"'))
    outer, inner = skins(written(evidence))
    points = np.unique(inner.reshape(-1, 3), axis=0)[::9]
    walls = distances(points, outer)
    assert walls.min() >= 0.8
    assert np.median(walls) < 0.8 * 1.1
    part = thing_of(evidence)
    assert part.hollow
    assert part.min_wall == 0.8
    (closed,) = print_closed.run(evidence)
    assert closed.status == "pass"
    assert "a sealed hollow" in closed.message
    (wall,) = print_wall.run(evidence)
    assert wall.status == "pass"


def test_a_resin_print_is_drained_on_its_hidden_side() -> None:
    """Two holes join hollow and outside: one surface, of genus 1, and the check of closedness passes."""
    evidence = hollowed()
    part = thing_of(evidence)
    assert part.drains == (2.5, 2.5)
    whole = trimesh.Trimesh(**trimesh.triangles.to_kwargs(written(evidence)))
    assert whole.is_watertight
    assert len(print_closed.components(whole.faces)) == 1
    assert whole.euler_number == 0
    assert [finding.status for finding in print_closed.run(evidence)] == ["pass"]
    (said,) = print_hollow.run(evidence)
    assert said.status == "pass"
    assert said.value == pytest.approx(whole.volume / 1000, rel=1e-4)


def test_a_mesh_too_slight_stays_solid_and_says_so() -> None:
    """At 15 cm, 3 mm at 1:48, there is no room for 2 mm between walls of 1 mm."""
    evidence = hollowed(size=0.15)
    part = thing_of(evidence)
    assert not part.hollow
    (said,) = print_hollow.run(evidence)
    assert said.status == "warn"
    assert "printed solid" in said.message
    assert print_hollow.run(hollowed(hollow=False)) == []


def test_pieces_for_a_small_bed_have_bulkheads_for_their_pegs() -> None:
    """Cut in two, each piece is closed, and pegs stand in material, not in the hollow."""
    evidence = hollowed(size=2.0, at=[0.0, 6.0, 1.0], text=with_text("min_wall = 1.0", "bed = [28, 60, 60]"))
    assert len(evidence.prints) == 2
    assert all(part.hollow for part in evidence.prints)
    assert sum(len(part.pegs) for part in evidence.prints) > 0
    assert {finding.status for finding in print_closed.run(evidence)} == {"pass"}
    assert {finding.status for finding in print_wall.run(evidence)} == {"pass"}


def test_warp_hollows_too(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The same bytes as the build's."""
    monkeypatch.chdir(tmp_path)
    thing = knobbly().export(file_type="stl")
    Path("thing.stl").write_bytes(thing)
    Path("room.toml").write_text(PLAIN)
    assert main(["warp", "thing.stl", "--scene", "room.toml", "--size", "1", "--at", "0,6,1", "--hollow"]) == 0
    assert "hollowed to walls of 1 mm" in capsys.readouterr().out
    evidence = hollowed()
    part = thing_of(evidence)
    ours = trimesh.load_mesh("thing-built.stl")
    assert ours.volume == pytest.approx(part.volume, rel=1e-5)


def test_a_skin_of_nothing_has_no_hollow() -> None:
    """A body smaller than two walls is told at once, whatever its shape."""
    tiny = Mesh(vertices=mesh_of(knobbly(0.5)).vertices, triangles=mesh_of(knobbly()).triangles)
    assert hollow_in(body_of(tiny), MIN_WALL, 0.0) is None
