"""What the eye forgives: against moved eyes that look at both rooms, point by point."""

from __future__ import annotations

import json
import math
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.build import Build, shape
from pipeline.checks.evidence import Evidence
from pipeline.relief.collineation import Relief
from pipeline.report.forgiving import ACUITY, ARC_MINUTE, NAMED, Forgiveness, forgive, forgives_entry
from pipeline.report.forgiving_map import forgiving_svg
from pipeline.report.forgiving_words import forgiving_line, forgiving_words
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from pipeline.sight import lens, stereo
from pipeline.sight.forgiveness import crease_reach, offset, parallax, reach, sights
from tests.scene_text import PLAIN, changed

Array = NDArray[np.float64]
APRON = changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 15")


def looked_at(evidence: Evidence, count: int) -> tuple[Array, Array]:
    """Return points all over the hall's five surfaces, corners and middles too: built and imagined, ``(n, 3)``."""
    relief, hall = evidence.room.relief, evidence.room.hall
    random = np.random.default_rng(5)
    low, size = np.array([-hall.width / 2, 0, hall.floor]), np.array([hall.width, hall.depth, hall.height])
    share = random.random((count, 3))
    share[: count // 2, random.integers(0, 3, count // 2)] = 0.5
    for axis, side in ((0, 0.0), (0, 1.0), (1, 1.0), (2, 0.0), (2, 1.0)):
        share[axis * 2 + int(side) :: 7, axis] = side
    on_skin = np.isin(share, (0.0, 1.0)).any(axis=1)
    corners = np.array([[i, 1.0, k] for i in (0, 1) for k in (0, 1)])
    x, _, z = relief.eye
    facing = [[(x + hall.width / 2) / hall.width, 1.0, (z - hall.floor) / hall.height]]
    imagined = low + np.concatenate([share[on_skin], corners, facing]) * size
    matrix = relief.built_from_imagined
    mapped = np.column_stack([imagined, np.ones(len(imagined))]) @ matrix.T
    built = np.where(imagined[:, 1:2] < relief.apron, imagined, mapped[:, :3] / mapped[:, 3:])
    return built, imagined


def seen_apart(eye: Array, built: Array, imagined: Array) -> float:
    """Return the largest angle between two directions from an eye: twice the arc sine of half their chord, rad."""
    ways = [points - eye for points in (built, imagined)]
    a, b = (way / np.linalg.norm(way, axis=1)[:, None] for way in ways)
    return float(2 * np.arcsin(np.linalg.norm(a - b, axis=1).max() / 2))


@pytest.fixture(scope="module")
def plain() -> tuple[Evidence, Forgiveness]:
    evidence = shape(PLAIN.encode())
    return evidence, forgive(evidence)


@pytest.fixture(scope="module")
def aproned() -> tuple[Evidence, Forgiveness]:
    evidence = shape(APRON.encode())
    return evidence, forgive(evidence)


def test_every_moved_eye_of_the_map_sees_the_limit(plain: tuple[Evidence, Forgiveness]) -> None:
    """Both rooms, seen from every place of every curve: the worst of 40,000 points lies at the level's angle.

    The curves come from a lattice of rays a sixtieth of the opening apart; between two of them a point may lie a little
    farther off, by less than half a hundredth.
    """
    evidence, found = plain
    built, imagined = looked_at(evidence, 40_000)
    x, y, z = evidence.room.relief.eye
    for curve in (*found.front, *found.plan):
        flat = curve in found.front
        for right, other in curve.around[::5]:
            eye = np.array([x + right, y, z + other] if flat else [x + right, y + other, z])
            level = curve.level * 6 * ARC_MINUTE
            assert seen_apart(eye, built, imagined) == pytest.approx(level, rel=5e-3)


@pytest.mark.parametrize("name", NAMED)
def test_each_named_reach_ends_where_the_limit_is_first_met(plain: tuple[Evidence, Forgiveness], name: str) -> None:
    """Walked out in steps of a fiftieth: below the limit up to the reach, above it just beyond."""
    evidence, found = plain
    built, imagined = looked_at(evidence, 20_000)
    eye, way, far = np.array(evidence.room.relief.eye), np.array(NAMED[name]), found.reach[name]
    steps = [seen_apart(eye + way * far * k / 50, built, imagined) / found.limit_rad for k in range(1, 50)]
    assert max(steps) < 1
    assert seen_apart(eye + way * far * 1.01, built, imagined) > found.limit_rad


def test_on_a_demo_it_is_a_few_millimetres_as_the_formula_says(demo: Build) -> None:
    """t / (1 / p - 1 / q), p and q the distances to the built and the imagined back: where that faces the eye."""
    told, relief = demo.manifest["forgives"], demo.manifest["relief"]
    p, q = (relief["eye_distance"] + relief[f"{which}_depth"] for which in ("built", "apparent"))
    expected = math.radians(6 / 60) / (1 / p - 1 / q)
    assert 0.95 * expected < told["least_in_plane"] < 1.03 * expected  # a passage behind the wall is farther still
    assert told["least_in_plane"] < min(told["eye_box"]) / 5


def test_the_page_the_map_and_the_terminal_tell_the_same(demo: Build) -> None:
    """One figure in four places."""
    least = f"{demo.manifest['forgives']['least_in_plane']:.1f} mm"
    assert least in demo.summary[2]
    page = demo.files["report.html"].decode()
    assert f"{least} beside it something the eye sees" in page
    assert demo.files["pictures/forgives.svg"].decode().split("<svg", 1)[1] in page
    assert "pictures/forgives.svg" in demo.manifest["files"]


points = st.tuples(st.floats(-80, 80), st.floats(1, 300), st.floats(-80, 80))
moves = st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(-30, 30))


@given(st.lists(points, min_size=1, max_size=6), moves, st.floats(0.001, 0.05))
def test_parallax_and_reach_are_angles_between_directions(
    places: list[tuple[float, float, float]], move: tuple[float, float, float], limit: float
) -> None:
    """The closed forms against unit vectors, for any points and any move."""
    relief = Relief(eye=(3.0, -400.0, 5.0), apron=0.0, apparent_depth=300.0, built_depth=90.0)
    imagined = np.array(places)
    built = relief.build_points(imagined)
    seen = sights(relief.eye, built, imagined)
    eye = np.array(relief.eye)
    assert parallax(seen, [move])[0] == pytest.approx(seen_apart(eye + move, built, imagined), abs=2e-8)
    if np.linalg.norm(move) < 1e-3:
        return
    far = reach(seen, [move], limit)[0, 0]
    if far < 300:
        way = np.array(move) / np.linalg.norm(move)
        assert seen_apart(eye + far * way, built, imagined) == pytest.approx(limit, rel=1e-6)
        assert seen_apart(eye + 0.999 * far * way, built, imagined) < limit


def test_a_crease_stands_off_the_line_between_its_ends(aproned: tuple[Evidence, Forgiveness]) -> None:
    """The least angle between the crease and any of 200,001 places of the straight line, from moved eyes."""
    relief = aproned[0].room.relief
    bent = np.array([[[20.0, y, 3.0] for y in (0.0, relief.apron, relief.apparent_depth)]])
    bent = relief.build_points(bent[0])[None]
    near, crease, far = bent[0]
    straight = near + np.linspace(0, 1, 200_001)[:, None] * (far - near)
    for move in ([10.0, 0, 0], [0, 0, -7.0], [5.0, 40.0, 8.0]):
        eye = np.array(relief.eye) + move
        ways = straight - eye
        toward = (crease - eye) / np.linalg.norm(crease - eye)
        across = np.linalg.norm(np.cross(ways, toward), axis=1) / np.linalg.norm(ways, axis=1)
        assert offset(relief.eye, bent, [move])[0] == pytest.approx(np.arcsin(across.min()), rel=1e-6)


def test_creases_show_where_they_are_told_to(aproned: tuple[Evidence, Forgiveness]) -> None:
    """At the reach the worst crease stands one minute of arc off; from the eye itself none does."""
    evidence, found = aproned
    relief, hall = evidence.room.relief, evidence.room.hall
    feet = [
        (x, z) for x in np.linspace(-hall.width / 2, hall.width / 2, 17) for z in (hall.floor, hall.floor + hall.height)
    ]
    feet += [
        (x, z) for z in np.linspace(hall.floor, hall.floor + hall.height, 17) for x in (-hall.width / 2, hall.width / 2)
    ]
    bends = np.array([relief.build_points([[x, y, z] for y in (0.0, 15.0, hall.depth)]) for x, z in feet])
    assert offset(relief.eye, bends, [[0.0, 0.0, 0.0]])[0] < 1e-12
    for name, way in NAMED.items():
        if math.isfinite(found.crease[name]):
            assert offset(relief.eye, bends, [np.array(way) * found.crease[name]])[0] == pytest.approx(ACUITY, rel=1e-6)
    assert 0 < found.crease["left"] < 30
    own = next(viewer for viewer in found.viewers if viewer.height == relief.eye[2])
    assert own.crease == found.crease
    lowest = found.viewers[0]
    moved = Relief(
        eye=(relief.eye[0], relief.eye[1], lowest.height),
        apron=15.0,
        apparent_depth=relief.apparent_depth,
        built_depth=relief.built_depth,
    )
    bends = np.array([moved.build_points([[x, y, z] for y in (0.0, 15.0, hall.depth)]) for x, z in feet])
    assert offset(moved.eye, bends, [[lowest.crease["right"], 0, 0]])[0] == pytest.approx(ACUITY, rel=1e-6)
    assert math.isinf(crease_reach(relief.eye, bends[:1, [0, 0, 0]], [[1, 0, 0]], ACUITY)[0])


def test_without_an_apron_there_is_no_crease(plain: tuple[Evidence, Forgiveness]) -> None:
    """Nothing to tell in the manifest, nothing on the page."""
    assert forgives_entry(plain[1])["crease"] is None
    assert not forgiving_words(plain[1], b"<svg/>").creases


def test_stereo_figures_are_those_published_and_derived() -> None:
    """References: D 1000, L 300, d 100, a 63 is 1817 seconds; under 40, 30, 10 from 7.86, 9.11, 15.9 m on.

    Disparity a dz / (z (z + dz)): 65 mm, half a minute: 8 cm at 6 m, 0.014 cm at a quarter of a metre.
    """
    arcsec = math.radians(1 / 3600)
    assert stereo.disparity(1100, 1300) / arcsec == pytest.approx(1817, abs=0.5)
    for threshold, metres in ((40, 7.86), (30, 9.11), (10, 15.9)):
        assert stereo.unseen_beyond(300, 100, threshold * arcsec) / 1000 == pytest.approx(metres, rel=3e-3)
    assert stereo.disparity(6000, 6080, 65) == pytest.approx(30 * arcsec, rel=0.05)
    assert stereo.disparity(250, 250.14, 65) == pytest.approx(30 * arcsec, rel=0.01)


def test_a_step_aside_obeys_the_formula_of_disparity() -> None:
    """On the axis, to first order."""
    relief = Relief(eye=(0.0, -1000.0, 0.0), apron=0.0, apparent_depth=300.0, built_depth=100.0)
    back = np.array([[0.0, 300.0, 0.0]])
    seen = sights(relief.eye, relief.build_points(back), back)
    assert parallax(seen, [[63.0, 0, 0]])[0] == pytest.approx(stereo.disparity(1100, 1300), rel=5e-3)


@pytest.mark.parametrize(("focal", "number", "near", "far"), [(50, 16, 460.24, 547.29), (35, 11, 520.74, 707.72)])
def test_the_stop_is_greenleafs(focal: float, number: float, near: float, far: float) -> None:
    """Depths of field derived from *Photographic Optics* (1950), c = 0.03 mm, turned round."""
    assert lens.stop(focal, near, far) == pytest.approx(number, rel=1e-3)
    with pytest.raises(ValueError, match="does not focus"):
        lens.stop(800, near, far)


def test_viewers_of_other_heights_see_what_a_moved_eye_sees(plain: tuple[Evidence, Forgiveness]) -> None:
    """Their parallax by both rooms seen from there; and for their own build the same moved eyes as for the scene's."""
    evidence, found = plain
    built, imagined = looked_at(evidence, 40_000)
    own = evidence.room.relief
    assert [viewer.height for viewer in found.viewers] == [38.0, 58.0, 78.0, 98.0, 118.0]
    for viewer in found.viewers:
        eye = np.array([own.eye[0], own.eye[1], viewer.height])
        assert viewer.parallax_rad == pytest.approx(seen_apart(eye, built, imagined), rel=5e-3)
        relief = Relief(
            eye=(own.eye[0], own.eye[1], viewer.height),
            apron=0.0,
            apparent_depth=own.apparent_depth,
            built_depth=own.built_depth,
        )
        moved = eye + np.array([0, 0, viewer.reach["up"]])
        assert seen_apart(moved, relief.build_points(imagined), imagined) == pytest.approx(found.limit_rad, rel=5e-3)


def test_a_room_built_true_forgives_everything() -> None:
    """L = d: no parallax, no limit, and words that say so."""
    text = changed(PLAIN, "depth = 12.0", "depth = 3.72\nbuilt_depth = 77.5")
    found = forgive(shape(text.encode()))
    entry = forgives_entry(found)
    assert json.loads(json.dumps(entry, allow_nan=False))["reach"] == dict.fromkeys(NAMED)
    assert "freely" in forgiving_line(found)
    assert "right from everywhere" in forgiving_words(found, b"").lead
    ElementTree.fromstring(forgiving_svg(found, "True"))


def test_a_wider_limit_reaches_farther() -> None:
    """eye.parallax is the limit, in minutes of arc; nearly in proportion."""
    least = {minutes: forgive(shape(PLAIN.encode(), (("eye.parallax", str(minutes)),))).least for minutes in (3, 6, 12)}
    assert least[3] == pytest.approx(least[6] / 2, rel=0.01)
    assert least[12] == pytest.approx(least[6] * 2, rel=0.02)


@pytest.mark.parametrize("wrong", ["0", "-1", "601", "nan", '"6"'])
def test_a_limit_that_is_none_is_refused(wrong: str) -> None:
    """Above 0 and at most ten degrees."""
    with pytest.raises(SceneFileError) as refused:
        read_scene(PLAIN, [("eye.parallax", wrong)])
    assert refused.value.placed[0].problem.path == ("eye", "parallax")


def test_the_map_draws_the_reach_to_scale(plain: tuple[Evidence, Forgiveness]) -> None:
    """The heavy ring's widths over the eye box's are the reaches over its size."""
    found = plain[1]
    name = "{http://www.w3.org/2000/svg}"
    maps = list(ElementTree.fromstring(forgiving_svg(found, "Plain")).iter(f"{name}svg"))[1:]
    assert len(maps) == 2

    def extent(panel: ElementTree.Element, style: str) -> Any:
        paths = [p.get("d", "") for p in panel.iter(f"{name}path") if p.get("class") == style]
        spots = [np.array([[float(v) for v in s.split()] for s in d.strip("MZ").split("L")]) for d in paths]
        return max((np.ptp(spot, axis=0) for spot in spots), key=max)

    wide, high = extent(maps[0], "heavy")
    box = extent(maps[0], "ghost")
    assert wide / box[0] == pytest.approx((found.reach["left"] + found.reach["right"]) / 40, rel=0.01)
    assert high / box[1] == pytest.approx((found.reach["up"] + found.reach["down"]) / 40, rel=0.01)
    along = extent(maps[1], "heavy")[1] / extent(maps[1], "ghost")[0]
    assert along == pytest.approx((found.reach["nearer"] + found.reach["farther"]) / 40, rel=0.03)
