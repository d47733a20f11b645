"""The camera of a built scene: the manifest against a pinhole's own geometry, and what the page says."""

from __future__ import annotations

import math
import re
from functools import cache
from html import unescape
from typing import Any

import numpy as np
import pytest

from pipeline.build import Build, build_scene
from pipeline.scene.problems import SceneFileError
from tests.scene_text import COVERED


@cache
def built(camera: str) -> Build:
    return build_scene((COVERED + f"\n[camera]\n{camera}\n").encode(), "room")


def entry(camera: str = "lens = 50") -> dict[str, Any]:
    out: dict[str, Any] = built(camera).manifest["camera"]
    return out


def test_the_pupil_goes_to_the_eye_point() -> None:
    """Perspective is that of the entrance pupil."""
    assert entry()["pupil"] == [0, -420, 78]
    assert entry()["parallax_arcmin"] == 0
    assert entry()["sharp"][0] == 420


def test_the_frame_is_what_rays_through_the_pupil_show() -> None:
    """A ray from a corner of the sensor through the pupil meets the opening's plane at a corner of the frame.

    Of several pictures that are merged it is the nearest focus that shows least: the sensor is farthest from the lens.
    """
    found = entry()
    s = found["focus_steps"][0]
    assert s < found["focus"]
    image = 1 / (1 / 50 - 1 / s)
    left, bottom, right, top = found["frame"]
    assert (right - left) / 36 == pytest.approx(420 / image, rel=1e-6)
    assert (top - bottom) / 24 == pytest.approx(420 / image, rel=1e-6)
    assert ((left + right) / 2, (bottom + top) / 2) == pytest.approx((0, 78), abs=1e-4)


def test_the_longest_lens_just_fills_the_frame() -> None:
    """Built again with it, one side of the frame is the opening's farther side from the pupil, 78 mm below it."""
    longest = entry()["longest_lens"]["opening"]
    left, bottom, right, top = entry(f"lens = {longest}")["frame"]
    assert min(-90 - left, 0 - bottom, right - 90, top - 150) == pytest.approx(0, abs=2e-3)


def test_the_crop_leaves_the_hall() -> None:
    """Shares of the frame trimmed from every side leave the hall's outline at the opening: 173 mm, from 3 mm up."""
    found = entry()
    left, bottom, right, top = found["frame"]
    wide, high = right - left, top - bottom
    cut = found["crop"]
    assert left + cut[0] * wide == pytest.approx(-86.5, abs=0.02)
    assert right - cut[2] * wide == pytest.approx(86.5, abs=0.02)
    assert bottom + cut[1] * high == pytest.approx(3, abs=0.02)


def test_the_aperture_keeps_front_and_back_sharp_or_pictures_are_merged() -> None:
    """50 mm would have to be stopped down into diffraction; each of several pictures covers its share."""
    found = entry()
    assert found["aperture"] < found["stop"]
    assert found["pictures"] == len(found["focus_steps"]) > 1
    near, far = found["sharp"]
    front, back = (discs(50, found["aperture"], found["focus_steps"][k], at) for k, at in ((0, near), (-1, far)))
    assert front == pytest.approx(back, rel=1e-3)
    assert front < 0.03
    wide = entry("lens = 24")
    assert (wide["pictures"], wide["aperture"]) == (1, 4.0)
    assert discs(24, 4.0, wide["focus"], near) < 0.03 < discs(24, 2.8, wide["focus"], near)


def test_all_that_is_seen_is_sharp_in_one_of_the_pictures() -> None:
    """Each tenth of a millimetre from front to back, by similar triangles; also where each focus is missed a little."""
    for camera in ("lens = 50", "lens = 35\napertures = [4]", "lens = 85", "lens = 24"):
        found = entry(camera)
        focal, number = found["focal"], found["aperture"]
        near, far = found["sharp"]
        assert found["leeway"] > 0.2
        for missed in (0.0, found["leeway"], -found["leeway"]):
            for at in np.arange(near, far, 0.1).tolist():
                discs_there = (discs(focal, number, s + missed, at) for s in found["focus_steps"])
                assert min(discs_there) <= found["blur"] * 1.0001, (camera, at)


def words(camera: str) -> str:
    page = built(camera).files["report.html"].decode()
    section = page[page.index('<section id="camera"') :].split("</section>")[0]
    return unescape(" ".join(re.sub(r"<[^>]+>", "", section).split()))


def test_the_scale_on_the_lens_is_told_for_the_focus_it_is_set_to() -> None:
    """From the film plane a thin lens's subject is s + s f / (s - f) away: 1/f = 1/s + 1/v."""
    s = entry("lens = 100")["focus_steps"][0]
    film = s + 1 / (1 / 100 - 1 / s)
    assert f"{s:.0f} mm from the pupil read {film:.0f} mm there" in words("lens = 100")


def test_a_lens_that_would_need_only_one_picture_is_told() -> None:
    """A scene built with it takes one; a longer one by a thousandth takes more, or diffraction blurs it."""
    assert entry("lens = 50")["pictures"] > 1
    alone = entry("lens = 50")["one_picture_lens"]
    one = entry(f"lens = {alone * 0.9999}")
    assert one["pictures"] == 1
    assert one["aperture"] == 16.0  # 2.44 x 0.555 um x 16 = 0.022 mm and a little more so near; f/22 blurs 0.03 mm
    assert entry(f"lens = {alone * 1.001}")["pictures"] > 1
    assert f"up to {math.floor(alone * 10) / 10:g} mm" in words("lens = 50")
    assert "would be enough" not in words("lens = 24")


def test_more_pictures_than_anybody_takes_are_not_advised() -> None:
    """A close-up lens before the opening wants hundreds: the page says to take a shorter one, not to merge them."""
    found = entry("lens = 300")
    assert found["pictures"] > 60
    assert found["focus_steps"] == []
    said = words("lens = 300")
    assert "focused in turn and merged" not in said
    assert "take a shorter lens, or build for an eye farther away" in said
    assert "film plane" not in said.split("Where to focus")[1]


def test_every_focus_of_a_stack_is_told_to_whoever_sets_it() -> None:
    """The table may shorten its lists; where to focus is told in full."""
    found = entry("lens = 85\napertures = [8]")
    assert found["pictures"] > 8
    told = words("lens = 85\napertures = [8]").split("Where to focus")[1]
    assert ", ".join(f"{s:.1f}" for s in found["focus_steps"]) in told
    assert f"each may be missed by {found['leeway']:.1f} mm" in told


def test_a_camera_that_is_not_before_the_opening_is_told_so() -> None:
    """The box is 180 mm wide and 150 mm high."""
    assert "It is not in front of the opening" in words("lens = 24\nright = 120")
    assert "It is not in front of the opening" in words("lens = 24\nheight = -10")
    assert "It is not in front of the opening" not in words("lens = 24\nright = 80")


def test_what_diffraction_blurs_at_every_aperture_is_told_where_none_keeps_all_sharp() -> None:
    """At f/64 the disc of a point is 0.087 mm and more, at 0.03 that pass for one."""
    assert "nothing will be quite sharp" in words("lens = 90\napertures = [64]")


def test_the_height_is_told_from_the_table_where_the_box_is_to_be_made() -> None:
    """78 mm above the inside bottom, and the box's board of 6 below that."""
    made = COVERED.replace("[eye]", "[box.make]\nboard = 6\nlid = 20\nsaw = 1\n[eye]") + "\n[camera]\nlens = 24\n"
    page = unescape(build_scene(made.encode(), "room").files["report.html"].decode())
    assert "78.0 mm above the inside bottom of the box (84.0 mm above what the box stands on)" in " ".join(page.split())


def test_the_order_of_work_sends_the_camera_where_it_is_to_stand() -> None:
    """At the eye point it stands where one looked from; else where its own section tells."""
    assert built("lens = 24").manifest["work"][-1]["text"].startswith("Photograph it with the lens's entrance pupil at")
    moved = built("lens = 24\nright = 12").manifest["work"][-1]["text"]
    assert "at that point" not in moved
    assert "12 mm right" in moved


def discs(focal: float, number: float, s: float, at: float) -> float:
    """Return the disc that a point makes on the sensor of a thin lens focused at s, by similar triangles, mm."""
    sensor, image = 1 / (1 / focal - 1 / s), 1 / (1 / focal - 1 / at)
    return focal / number * abs(image - sensor) / image


def test_a_camera_beside_the_eye_point_is_told_what_it_costs() -> None:
    """The parallax at the moved pupil, the worst of the back wall's, from built and imagined points themselves."""
    moved = built("lens = 50\nright = 12")
    relief = moved.manifest["relief"]
    pupil, eye = np.array([12.0, -420.0, 78.0]), np.array(relief["eye"])
    matrix = np.array(moved.manifest["built_from_imagined"])
    deep = relief["apparent_depth"]
    half, low, high = 86.5, 3.0, 146.5
    worst = 0.0
    for x in np.linspace(-half, half, 61):
        for z in np.linspace(low, high, 41):
            imagined = np.array([x, deep, z])
            homogeneous = matrix @ [*imagined, 1.0]
            one, other = homogeneous[:3] / homogeneous[3] - pupil, imagined - pupil
            worst = max(worst, math.acos(one @ other / np.linalg.norm(one) / np.linalg.norm(other)))
    assert moved.manifest["camera"]["parallax_arcmin"] == pytest.approx(math.degrees(worst) * 60, rel=0.01)
    assert eye[0] == 0
    page = moved.files["report.html"].decode()
    assert "12.0 mm to the right" in page
    assert "bring the pupil to the eye point" in page


def test_the_blur_goes_by_the_sensors_diagonal() -> None:
    """0.03 mm for 24 by 36; half the size, half the blur."""
    assert entry()["blur"] == 0.03
    assert entry("lens = 25\nsensor = [18, 12]")["blur"] == pytest.approx(0.015)


@pytest.mark.parametrize(
    ("camera", "less", "remedy"),
    [
        ("lens = 500", 420, "let the scene's eye stand farther away"),
        ("lens = 85\ndistance = 60", 60, "give camera.distance more"),
    ],
)
def test_a_lens_that_cannot_focus_so_near_is_refused(camera: str, less: int, remedy: str) -> None:
    """At 420 mm a lens of 500 mm shows nothing sharp; what is to be moved is what says where the camera stands."""
    with pytest.raises(SceneFileError) as refused:
        build_scene((COVERED + f"\n[camera]\n{camera}\n").encode(), "room")
    (message,) = refused.value.describe("a.toml")
    assert "camera.lens" in message
    assert f"less than {less} mm" in message
    assert remedy in message


def test_a_scene_without_a_camera_says_nothing_of_one() -> None:
    """Neither the manifest nor the page."""
    plain = build_scene(COVERED.encode(), "room")
    assert "camera" not in plain.manifest
    assert 'id="camera"' not in plain.files["report.html"].decode()
