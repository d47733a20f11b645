"""The camera of a built scene: the manifest against a pinhole's own geometry, and what the page says."""

from __future__ import annotations

import math
from functools import cache
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
    """A ray from a corner of the sensor through the pupil meets the opening's plane at a corner of the frame."""
    found = entry()
    s = found["focus"]
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


def test_a_lens_that_cannot_focus_so_near_is_refused() -> None:
    """At 420 mm a lens of 500 mm shows nothing sharp."""
    with pytest.raises(SceneFileError) as refused:
        build_scene((COVERED + "\n[camera]\nlens = 500\n").encode(), "room")
    (message,) = refused.value.describe("a.toml")
    assert "camera.lens" in message
    assert "less than 420 mm" in message


def test_a_scene_without_a_camera_says_nothing_of_one() -> None:
    """Neither the manifest nor the page."""
    plain = build_scene(COVERED.encode(), "room")
    assert "camera" not in plain.manifest
    assert 'id="camera"' not in plain.files["report.html"].decode()
