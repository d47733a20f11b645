"""What a relief refuses, and what holds exactly at its bounds.

Each of these tells a program that is wrong in one place (another sign, another comparison, a term left out) from the
true one, where the laws of ``test_collineation.py`` could not.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.relief import solve
from pipeline.relief.collineation import Relief

DEEP = Relief(eye=(5.0, -400.0, 70.0), apron=20.0, apparent_depth=600.0, built_depth=85.0)
IDENTITY = Relief(eye=(5.0, -400.0, 70.0), apron=20.0, apparent_depth=85.0, built_depth=85.0)


@pytest.mark.parametrize("y", [0.0, 0.5, 40.0])
def test_an_eye_in_the_opening_or_behind_it_is_refused(y: float) -> None:
    """From the opening's plane on, rays to the room's edges no longer come through the opening."""
    with pytest.raises(ValueError, match=r"^the eye must stand before the opening$"):
        Relief(eye=(0.0, y, 50.0), apron=0.0, apparent_depth=300.0, built_depth=80.0)


@pytest.mark.parametrize(
    ("apron", "built", "apparent"), [(-0.5, 80.0, 300.0), (80.0, 80.0, 300.0), (90.0, 80.0, 300.0), (0.0, 80.0, 79.0)]
)
def test_depths_out_of_order_are_refused(apron: float, built: float, apparent: float) -> None:
    """An apron as deep as the room leaves nothing to foreshorten: the formulas would divide by d = 0."""
    with pytest.raises(ValueError, match=r"^0 <= apron < built depth <= apparent depth does not hold$"):
        Relief(eye=(0.0, -400.0, 50.0), apron=apron, apparent_depth=apparent, built_depth=built)


def test_the_back_wall_shrinks_as_similar_triangles_have_it() -> None:
    """From the eye both walls fill the same angle, so sizes go as distances: 485 / 1000, apron or none."""
    left, right = DEEP.build_points([[-40.0, 600.0, 10.0], [60.0, 600.0, 10.0]])
    assert DEEP.back_scale == pytest.approx(485 / 1000, rel=1e-15)
    assert right - left == pytest.approx([48.5, 0.0, 0.0], abs=1e-12)


def test_matrices_cannot_be_written_to() -> None:
    """They are kept once made: a change would hold for everybody who asks later."""
    found = Relief(eye=(5.0, -400.0, 70.0), apron=20.0, apparent_depth=600.0, built_depth=85.0)
    for matrix in (found.built_from_imagined, found.imagined_from_built):
        with pytest.raises(ValueError, match="read-only"):
            matrix[0, 0] = 2.0


def test_whole_numbers_are_carried_like_others() -> None:
    """A point on the apron beside one behind it: both come out as numbers with a fraction, not cut off.

    By hand, with D = 420, L = 580, d = 65: a = 515 / (580 x 485), b = 65 x 1000 / (580 x 485). At y = 310, u = 290:
    w = 1 + 290 a, x' = 5 + 25 / w, y' = 20 + 290 b / w, z' = 70 - 60 / w.
    """
    a, b = 515 / (580 * 485), 65 * 1000 / (580 * 485)
    w = 1 + 290 * a
    whole, expected = [[30, 10, 10], [30, 310, 10]], [[30, 10, 10], [5 + 25 / w, 20 + 290 * b / w, 70 - 60 / w]]
    assert DEEP.build_points(whole) == pytest.approx(np.array(expected), abs=1e-12)
    # and home: of y' = 50, u' = 30: u = u' / (b - a u')
    u = 30 / (b - a * 30)
    there = [[30, 10, 10], [5 + 25 * (1 + a * u), 20 + u, 70 - 60 * (1 + a * u)]]
    for carried in (DEEP.imagine_points([[30, 10, 10], [30, 50, 10]]), DEEP.carry_back([[30, 10, 10], [30, 50, 10]])):
        assert carried == pytest.approx(np.array(there), rel=1e-12)
    assert DEEP.carry_back([[31, 180, 10]]) == pytest.approx(DEEP.carry_back([[31.0, 180.0, 10.0]]), rel=1e-15)


def test_where_nothing_is_foreshortened_all_is_carried_back_as_it_is() -> None:
    """L = d is the identity, which has no vanishing depth to stay before."""
    points = np.array([[30.0, 10.0, 10.0], [-80.0, 85.0, 140.0], [3.0, 900.0, 5.0]])
    assert IDENTITY.vanishing_depth is None
    assert IDENTITY.carry_back(points) == pytest.approx(points, abs=1e-9)


def test_nine_tenths_of_the_way_to_the_vanishing_depth_are_carried_back_as_they_are() -> None:
    """What is farther is first drawn along its ray to the plane there, and no farther.

    The vanishing depth is 20 + b / a = 20 + 65 x 1000 / 515.
    """
    vanishing = 20 + 65 * 1000 / 515
    last = 85 + 0.9 * (vanishing - 85)
    eye = np.array(DEEP.eye)
    assert DEEP.vanishing_depth == pytest.approx(vanishing, rel=1e-14)
    near, far = np.array([30.0, last - 0.5, 10.0]), np.array([30.0, last + 20.0, 10.0])
    drawn = eye + (far - eye) * (last + 400) / (far[1] + 400)
    back = DEEP.carry_back([near, far])
    assert back == pytest.approx(DEEP.imagine_points([near, drawn]), rel=1e-12)
    assert back[1, 1] == pytest.approx(DEEP.imagined_depth(last), rel=1e-12)


@pytest.mark.parametrize("y", [0.0, 10.0, 20.0, 50.0, 310.0, 600.0])
def test_depths_of_planes_go_there_and_back(y: float) -> None:
    """Planes square to the view stay so, at y' = apron + b u / (1 + a u), with a and b as above."""
    a, b = 515 / (580 * 485), 65 * 1000 / (580 * 485)
    built = y if y <= 20 else 20 + b * (y - 20) / (1 + a * (y - 20))
    assert DEEP.built_y(y) == pytest.approx(built, abs=1e-12)
    assert DEEP.imagined_depth(built) == pytest.approx(y, abs=1e-9)


def test_a_built_plane_is_told_by_its_unit_normal_and_distance() -> None:
    """The imagined back wall goes to the built one, y = 85; corners of a side wall stay on that wall."""
    normal, offset = np.split(DEEP.build_plane([0.0, 2.0, 0.0, -1200.0]), [3])
    assert normal == pytest.approx([0.0, 1.0, 0.0], abs=1e-12)
    assert offset == pytest.approx([-85.0], abs=1e-9)
    side = DEEP.build_plane([3.0, 0.0, 0.0, -270.0])
    assert np.linalg.norm(side[:3]) == pytest.approx(1.0, rel=1e-14)
    for point in DEEP.build_points([[90.0, 20.0, 0.0], [90.0, 600.0, 140.0]]):
        assert side[:3] @ point + side[3] == pytest.approx(0.0, abs=1e-9)


def test_as_deep_as_built_is_the_limit() -> None:
    """s = 1 and L = d belong together, and are allowed."""
    assert solve.back_scale(420.0, 80.0, 80.0) == 1.0
    assert solve.apparent_depth(420.0, 1.0, 80.0) == pytest.approx(80.0, abs=1e-12)


def test_no_distance_belongs_to_a_scale_of_one_or_none() -> None:
    """D = (s L - d) / (1 - s): every eye sees s = 1, none sees s = 0; and s L = d needs an eye in the fixed plane."""
    for scale in (0.0, 1.0):
        with pytest.raises(solve.UnsolvableError, match=f"^a back scale of {scale:.0f} is not between 0 and 1$"):
            solve.eye_distance(400.0, scale, 80.0)
    with pytest.raises(solve.UnsolvableError, match=r"^back scale 0\.5 times the apparent depth 160 mm must be more"):
        solve.eye_distance(160.0, 0.5, 80.0)


def test_a_scale_that_no_depth_has_is_named() -> None:
    """With the figure that was asked for."""
    with pytest.raises(solve.UnsolvableError, match=r"^a back scale of 1\.25 is not above 0 and at most 1$"):
        solve.apparent_depth(400.0, 1.25, 80.0)
