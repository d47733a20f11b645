"""What an eye sees of faces left out and of what holds corners together, on plates placed by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import corners_hidden, unseen
from pipeline.checks.evidence import Evidence
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves
from pipeline.geometry.meshes import Mesh
from pipeline.parts.model import Addition
from pipeline.sight.rays import Target
from tests.vault.halls import hall, identity, webs

from ..scene_text import PLAIN, changed

Array = NDArray[np.float64]

EYE = np.array([5.0, -100.0, 20.0])
FACE = np.array([[x, 20.0, z] for x in (-6.0, -2.0, 2.0, 6.0) for z in (15.0, 25.0)])
"""Points of a face square to the line of sight, 120 mm from the eye."""
TOWARD = np.tile([0.0, -1.0, 0.0], (len(FACE), 1))


def plate(x0: float, x1: float, y: float) -> Array:
    """Return a plate from x0 to x1, taller than anything, as triangles."""
    corners = np.array([[x0, y, -99.0], [x1, y, -99.0], [x1, y, 99.0], [x0, y, 99.0]])
    return corners[[[0, 1, 2], [0, 2, 3]]]


def test_points_turned_to_the_eye_are_seen_where_nothing_stands_before_them() -> None:
    """A plate half as far away hides what lies left of x = 1; rays to that reach the plate at x < 3."""
    half = plate(-99, 3.0, -40.0)
    assert unseen._open(FACE, TOWARD, EYE, Target.of(half)).tolist() == (FACE[:, 0] > 1).tolist()
    assert not unseen._open(FACE, -TOWARD, EYE, Target.of(half)).any(), "turned away"
    level = np.tile([1.0, 0.0, 0.0], (len(FACE), 1)) * np.sign(EYE[0] - FACE[:, :1])
    assert unseen._open(FACE, level, EYE, Target.of(plate(-99, -98, 0.0))).all(), "turned aside, and nothing is there"


@pytest.mark.parametrize(("before", "hides"), [(-5.0, False), (0.0, False), (0.03, False), (0.08, True), (119.0, True)])
def test_what_stands_in_the_point_itself_does_not_hide_it(before: float, hides: bool) -> None:
    """The plate stands before the points, behind them, or in them; 0.05 mm along the ray is in them."""
    found = unseen._open(FACE, TOWARD, EYE, Target.of(plate(-99, 99, 20.0 - before)))
    assert found.tolist() == [not hides] * len(FACE)


def slab(x: float, y: float) -> Addition:
    """Return a flap of one facet, 3 mm wide and 3 high."""
    corners = np.array([[x, y, 20.0], [x + 3, y, 20.0], [x, y, 23.0]])
    return Addition(
        kind="flap",
        against="wall",
        chain=np.zeros((2, 2)),
        body=Mesh(vertices=corners, triangles=np.array([[0, 1, 2]])),
    )


@pytest.mark.parametrize(("edge", "count"), [(-50.0, 4), (0.9, 2), (1.5, 1), (2.5, 0)])
def test_a_flap_is_looked_at_in_its_middle_and_toward_its_corners(edge: float, count: int) -> None:
    """At x = 0.6 twice, 1 and 1.8 mm; half as far from the eye a plate ends where the eye sees x = ``edge``."""
    middle = EYE[0] + (edge - EYE[0]) / 2
    assert (
        corners_hidden._open(corners_hidden._places(slab(0.0, 20.0), None), EYE, Target.of(plate(-99, middle, -40.0)))
        == count
    )


@pytest.mark.parametrize(("before", "hides"), [(-5.0, False), (0.0, False), (0.03, False), (0.08, True)])
def test_what_a_flap_is_glued_to_does_not_hide_it(before: float, hides: bool) -> None:
    """The sheet lies on it."""
    assert corners_hidden._open(
        corners_hidden._places(slab(0.0, 20.0), None), EYE, Target.of(plate(-99, 99, 20.0 - before))
    ) == (0 if hides else 4)


@pytest.fixture(scope="module")
def room() -> Evidence:
    """A room with an apron, in which nothing stands."""
    return make(changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 20").encode())


def test_a_tab_is_looked_at_where_it_stands_behind_the_sheet_it_goes_through(room: Evidence) -> None:
    """What of it stands before that sheet's visible face is the face of its own; in the face itself, too. Flaps are
    looked at all over, and tabs whose other sheet is none."""
    wall = next(panel for panel in room.panels if panel.id == "back-wall")
    front = float(wall.leaves[0].built_from_flat[1, 3])
    for off, counts in ((-1.0, 0), (0.0, 0), (1.0, 4)):
        tab = replace(slab(0.0, front + off), kind="tab")
        assert len(corners_hidden._places(tab, wall)) == counts
        assert len(corners_hidden._places(tab, None)) == 4
        assert len(corners_hidden._places(slab(0.0, front + off), wall)) == 4
    moved = wall.leaves[0].built_from_flat.copy()
    moved[1, 3] -= 2.0
    folded = replace(wall, leaves=(wall.leaves[0], replace(wall.leaves[0], built_from_flat=moved)))
    tab = replace(slab(0.0, front - 1.0), kind="tab")
    assert len(corners_hidden._places(tab, folded)) == 4, "behind either leaf is behind the sheet"


def hole(host: str, u: tuple[float, float], v: tuple[float, float]) -> Cut:
    corners = [(u[0], v[0]), (u[1], v[0]), (u[1], v[1]), (u[0], v[1])]
    return Cut(host=host, name="gap", curve=curves.polygon(corners), beyond="niche", path=("openings", 0))


@pytest.mark.parametrize("aside", [(0.0, 0.0), (20.0, -15.0)])
def test_a_point_is_looked_at_through_a_hole_of_the_back_wall(room: Evidence, aside: tuple[float, float]) -> None:
    """As built that is the imagined one drawn in toward the eye's axis by the back scale, (D + d) / (D + L) behind the
    apron; where lines of sight pass it follows from similar triangles."""
    hall, (ex, _, ez) = room.room.hall, room.room.relief.eye
    u, v = (30.0, 90.0), (12.0, 80.0)
    deep, wall = 250.0 - 20, room.room.relief.built_depth
    scale = (440 + wall - 20) / (440 + deep)
    low = (ex + (u[0] - hall.width / 2 - ex) * scale, ez + (v[0] + hall.floor - ez) * scale)
    high = (ex + (u[1] - hall.width / 2 - ex) * scale, ez + (v[1] + hall.floor - ez) * scale)
    eye = np.array([ex + aside[0], -420.0, ez + aside[1]])
    rng = np.random.default_rng(5)
    points = np.column_stack(
        [rng.uniform(-70, 70, 400), rng.uniform(wall + 2, wall + 30, 400), rng.uniform(5, 140, 400)]
    )
    met = eye + (points - eye) * ((wall + 420) / (points[:, 1] + 420))[:, None]
    expected = (low[0] < met[:, 0]) & (met[:, 0] < high[0]) & (low[1] < met[:, 2]) & (met[:, 2] < high[1])
    assert 30 < expected.sum() < 370
    assert unseen._through(room, hole("back-wall", u, v), eye, points).tolist() == expected.tolist()


@pytest.mark.parametrize(("near", "far"), [(2.0, 18.0), (40.0, 120.0)], ids=["apron", "behind it"])
def test_a_point_is_looked_at_through_a_hole_of_a_side_wall(room: Evidence, near: float, far: float) -> None:
    """On the apron the wall is built as it is; behind it the eye sees imagined and built hole in the same place, so
    that a line of sight of its own passes the imagined wall where it passes the built one."""
    hall, relief = room.room.hall, room.room.relief
    eye, half = np.array(relief.eye), hall.width / 2
    v = (10.0, 60.0)
    rng = np.random.default_rng(6)
    at = np.column_stack([np.full(400, half), rng.uniform(1.0, 160.0, 400), hall.floor + rng.uniform(1, 100, 400)])
    built = at if far <= 20 else relief.build_points(at)
    points = eye + (built - eye) * rng.uniform(1.01, 1.2, 400)[:, None]
    expected = (at[:, 1] > near) & (at[:, 1] < far) & (at[:, 2] > hall.floor + v[0]) & (at[:, 2] < hall.floor + v[1])
    assert 10 < expected.sum() < 390
    assert unseen._through(room, hole("right-wall", (near, far), v), eye, points).tolist() == expected.tolist()


def test_a_face_left_out_in_plain_sight_is_counted_point_by_point(room: Evidence) -> None:
    """The back wall taken away and said to be unseen: nine by nine points of it from nine eyes reach it all; with the
    wall in place none does, and neither through a hole elsewhere."""
    wall = next(panel for panel in room.panels if panel.id == "back-wall")
    width, height = room.room.hall.width, room.room.hall.height
    everywhere = replace(hole("back-wall", (-1, width + 1), (-1, height + 1)), path=wall.face.path)
    said = replace(room.imagined, planes=(wall.face,), unseen=("back-wall",), unseen_webs=(), cuts=(everywhere,))
    panels = tuple(panel for panel in room.panels if panel.id != "back-wall")
    (finding,) = unseen.run(replace(room, imagined=said, panels=panels))
    assert (finding.id, finding.part, finding.status, finding.limit) == ("unseen", "back-wall", "fail", 0.0)
    assert finding.value == 81 * 9
    assert f"{81 * 9} reach it through its hole" in finding.message
    (behind,) = unseen.run(replace(room, imagined=said))
    corner = replace(hole("back-wall", (-2, -1), (-2, -1)), path=wall.face.path)
    (aside,) = unseen.run(replace(room, imagined=replace(said, cuts=(corner,)), panels=panels))
    for passed in (aside,):
        assert (passed.status, passed.value) == ("pass", 0.0)
        assert "of rays to 81 points of it from 9 eyes at most 20 mm apart, within 40 x 40 mm" in passed.message
    # A wall in its own place stands in the points, and does not hide them.
    assert behind.value == 81 * 9


def test_a_web_left_out_is_looked_at_all_over_from_within(room: Evidence) -> None:
    """A half cylinder of 40 mm about the line 63 mm up, built as imagined: points on it, nine along each ruling that is
    looked at, each with a normal of length 1 toward the axis; it is told by its own id, not as the plane it stands
    on."""
    web = next(web for web in webs(hall(80.0, 80.0), form="barrel"))
    plane = next(panel.face for panel in room.panels if panel.id == "floor")
    said = replace(room.imagined, planes=(replace(plane, id=web.id),), unseen=(web.id,), unseen_webs=(web,), cuts=())
    there = replace(room.room, relief=identity(80.0))
    ((part, path, points, normals),) = unseen._left_out(replace(room, imagined=said, room=there))
    assert (part, path) == (web.id, web.path)
    out = np.column_stack([points[:, 0], np.zeros(len(points)), points[:, 2] - 63])
    assert np.linalg.norm(out, axis=1) == pytest.approx(40.0, abs=0.05)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0)
    assert np.einsum("ij,ij->i", normals, -out / 40) == pytest.approx(1.0, abs=1e-3)
    assert len(points) % 9 == 0
    along = points[:, 1].reshape(-1, 9)
    ends = sorted((float(web.near[0].start[1]), float(web.far[0].start[1])))
    steps = ends[0] + (np.arange(9) + 0.5) / 9 * (ends[1] - ends[0])
    assert np.sort(along, axis=1) == pytest.approx(np.tile(steps, (len(along), 1)), abs=1e-6)
    angles = np.degrees(np.arctan2(out[:, 2], out[:, 0])).reshape(-1, 9)[:, 0]
    assert 5 <= len(angles) <= 40
    assert np.ptp(angles) == pytest.approx(180.0, abs=25.0)
