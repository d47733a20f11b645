"""Figures that are meshes: printed as tall as said, on their mark, and as flat as the relief asks or deep."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import figure_room, figure_scale
from pipeline.checks.evidence import Evidence
from pipeline.commands.mesh_files import read_named
from pipeline.commands.scene_files import SceneFile
from pipeline.commands.watching import state_of
from pipeline.report.figure_rows import figure_rows, standings
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene

from ..lights.lamps import lamp
from .people import ROOM, STEPPED, figure

Array = NDArray[np.float64]


@cache
def person() -> trimesh.Trimesh:
    """Return a post with its arms out and a long nose toward -y, 1730 high, away from the origin; lengths in mm."""
    post = trimesh.creation.box([300, 200, 1600]).apply_translation([0, 0, 800])
    head = trimesh.creation.box([200, 200, 231]).apply_translation([0, 0, 1614.5])
    nose = trimesh.creation.box([60, 250, 60]).apply_translation([0, -175, 1650])
    arms = trimesh.creation.box([900, 90, 110]).apply_translation([0, 0, 1200])
    out = trimesh.boolean.union([post, head, nose, arms], engine="manifold")
    out.apply_translation([310, -220, 40])
    return out


def built(more: str = "", room: str = ROOM, **place: float) -> tuple[Evidence, Array]:
    """Return a room with the person in it, and the corners of its print, built."""
    text = room + figure(**place) + 'mesh = "person.stl"\n' + more  # type: ignore[arg-type]
    evidence = make(text.encode(), (), {"person.stl": bytes(person().export(file_type="stl"))})
    (part,) = (part for part in evidence.prints if part.id == "warden")
    return evidence, part.body.vertices


def test_it_is_printed_where_the_relief_takes_every_corner() -> None:
    """1.75 m tall, the middle of its soles on [1, 4]: corner by corner through the formula of references, section 1."""
    evidence, points = built()
    relief, hall = evidence.room.relief, evidence.room.hall
    corners = (person().vertices - [310, -220, 40]) * 1.75 / 1.73 / 1000 + [1.0, 4.0, 0.0]
    x, y, z = (hall.millimetres(corners[:, k]) for k in range(3))
    ex, ez, far, apparent, depth = 0.0, 78.0, 420.0, 250.0, 77.5
    v = depth * (apparent + far) / (apparent - depth)
    k = v + far
    expected = np.column_stack([ex + k * (x - ex) / (y + k), v * y / (y + k), ez + k * (z + hall.floor - ez) / (y + k)])
    off = np.array([np.linalg.norm(points - corner, axis=1).min() for corner in expected])
    assert relief.apron == 0
    assert off.max() < 0.2  # the play of 0.15 mm on the floor, which its soles stand off
    assert np.sort(off)[: len(off) // 2].max() < 1e-4


def test_not_flattened_it_keeps_its_proportions() -> None:
    """Breadth and depth to its built height as in the file; flattened, its depth is b / w as much."""
    (evidence, deep), (_, flat) = built("flatten = false\n"), built()
    one = standings(evidence)[0]
    wide, along = (np.ptp(person().vertices[:, axis]) / 1730 for axis in (0, 1))
    assert wide * one.height == pytest.approx(np.ptp(deep[:, 0]), rel=1e-3)
    assert along * one.height == pytest.approx(np.ptp(deep[:, 1]), rel=1e-3)
    assert along * one.height * one.squashed == pytest.approx(np.ptp(flat[:, 1]), rel=0.02)


@pytest.mark.parametrize("more", ["", "flatten = false\n"])
@pytest.mark.parametrize(("room", "y"), [(ROOM, 4.0), (STEPPED, 10.5)])
def test_its_soles_lie_along_the_floor(more: str, room: str, y: float) -> None:
    """However the floor slopes, and on whichever: all the lowest corners stand off it by the play of prints."""
    evidence, points = built(more, room, y=y)
    level = 0.0 if room == ROOM else 0.45 * 1000 / 48
    plane = evidence.room.relief.build_plane(np.array([0.0, 0.0, 1.0, -(3.0 + level)]))
    over = (points @ plane[:3] + plane[3]) / np.linalg.norm(plane[:3])
    soles = np.sort(over)[:4]
    assert soles == pytest.approx([evidence.scene.make.fit] * 4, abs=0.01)


def test_it_looks_where_it_is_to_look() -> None:
    """Facing 90 its nose, 300 before the middle in the file and nothing as far behind, points to the right."""
    for facing, axis, side in ((0.0, 1, -1), (90.0, 0, 1), (180.0, 1, 1), (-90.0, 0, -1)):
        evidence, points = built(facing=facing)
        feet = np.array(standings(evidence)[0].feet)
        nose = points[points[:, 2] > np.quantile(points[:, 2], 0.7)]
        reach = nose[:, axis] - feet[axis]
        far, near = (reach.max(), -reach.min()) if side > 0 else (-reach.min(), reach.max())
        assert far > 1.3 * near


def test_a_file_turned_otherwise_is_turned_back() -> None:
    """Turned by -90 in the file's own axes it is set right by turn = 90; y up it is set right by up."""
    _, expected = built()
    aside = person().copy()
    aside.apply_transform(trimesh.transformations.rotation_matrix(-np.pi / 2, [0, 0, 1]))
    lying = person().copy()
    lying.apply_transform(trimesh.transformations.rotation_matrix(-np.pi / 2, [1, 0, 0]))
    for mesh, more in ((aside, "turn = 90\n"), (lying, 'up = "y"\n')):
        text = ROOM + figure() + 'mesh = "person.stl"\n' + more
        evidence = make(text.encode(), (), {"person.stl": bytes(mesh.export(file_type="stl"))})
        (part,) = evidence.prints
        off = [np.linalg.norm(part.body.vertices - corner, axis=1).min() for corner in expected]
        assert max(off) < 0.02


def test_its_own_shape_throws_its_shadow() -> None:
    """Arms of 0.9 m at 1.2 m, which the outline of somebody in a coat has not: the lamp 3.5 m up, 2 m before it."""
    text = ROOM + figure(x=0.0, y=5.0) + lamp(0.0, 3.0, 3.5)
    said = text.replace("facing = 0.0\n", 'facing = 0.0\nmesh = "person.stl"\n')
    evidence = make(said.encode(), (), {"person.stl": bytes(person().export(file_type="stl"))})
    (shadow,) = (one for one in evidence.casts[0].shadows if one.by == "warden" and one.part == "floor")
    points = np.vstack([curve.points[:, :2] for loop in shadow.loops for curve in loop])
    arms = 0.9 * 1.75 / 1.73 * 3.5 / (3.5 - 1.2 * 1.75 / 1.73)
    assert np.ptp(points[:, 0]) == pytest.approx(arms * 1000 / 48, rel=0.06)


def test_checks_and_page_tell_that_it_is_printed() -> None:
    """No stock scale is asked of it, and no pose; the page of the others says how to have them printed."""
    evidence, _ = built(y=2.0)
    assert [finding.status for finding in (*figure_scale.run(evidence), *figure_room.run(evidence))] == ["pass"] * 2
    (row,) = figure_rows(evidence)
    assert row.nearest == "its mesh is printed"
    assert "flatten = false leaves it as deep" in dict(row.advice)["Pose"]
    (other,) = figure_rows(make((ROOM + figure()).encode()))
    assert 'mesh = "person.stl"' in dict(other.advice)["Pose"]


REFUSED = [
    ("flatten = true\n", {}, "figures[1].flatten: flatten of 'warden', which has no mesh"),
    ('mesh = "person.stl"\n', {"x": 3.85}, "figures[1].at: 'warden' reaches 0.1532 m past the right wall"),
    ('mesh = "person.stl"\nflatten = false\n', {"y": 11.8}, "figures[1].flatten: not flattened, 'warden' reaches "),
    ('mesh = "nobody.stl"\n', {}, "figures[1].mesh: nobody.stl cannot be read"),
]


@pytest.mark.parametrize(("more", "place", "expected"), REFUSED)
def test_what_cannot_be_printed_is_refused_in_words(more: str, place: dict[str, float], expected: str) -> None:
    """With the key that is to be changed."""
    text = ROOM + figure(**place) + more  # type: ignore[arg-type]
    with pytest.raises(SceneFileError) as caught:
        make(text.encode(), (), {"person.stl": bytes(person().export(file_type="stl"))})
    assert expected in "\n".join(caught.value.describe("a.toml"))


def test_its_file_is_read_and_watched_beside_the_scene(tmp_path: Path) -> None:
    """Like those of meshes; one that is not there is told at its key."""
    text = ROOM + figure() + 'mesh = "person.stl"\n'
    (tmp_path / "room.toml").write_text(text)
    _, problems = read_named(read_scene(text.encode()), tmp_path, allow_outside=False)
    assert [problem.path for problem in problems] == [("figures", 0, "mesh")]
    person().export(tmp_path / "person.stl")
    files, problems = read_named(read_scene(text.encode()), tmp_path, allow_outside=False)
    assert (list(files), problems) == (["person.stl"], [])
    assert str(tmp_path / "person.stl") in [
        name for name, *_ in state_of(SceneFile(path=tmp_path / "room.toml", stem="room"))
    ]
