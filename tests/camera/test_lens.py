"""Depth of field, focus steps and diffraction: figures from print, and ray constructions of a thin lens."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.sight import lens


@pytest.mark.parametrize(
    ("focal", "number", "s", "near", "far"),
    [(50, 16, 500, 460.24, 547.29), (35, 11, 600, 520.74, 707.72)],
)
def test_sharp_from_near_to_far(focal: float, number: float, s: float, near: float, far: float) -> None:
    """Greenleaf's formulas for c = 0.03 mm, worked by hand."""
    assert lens.sharp(focal, number, s) == pytest.approx((near, far), abs=0.005)


def test_the_hyperfocal_distance_has_its_focal_length_added() -> None:
    """50 mm, f/8, c = 0.02 mm: printed examples that leave it out say 15625."""
    assert lens.hyperfocal(50, 8, 0.02) == 15675


def test_from_the_hyperfocal_distance_on_all_is_sharp() -> None:
    """With focus at H, from H / 2 to infinity (Greenleaf)."""
    h = lens.hyperfocal(50, 16)
    near, far = lens.sharp(50, 16, h)
    assert near == pytest.approx(h / 2)
    assert far == math.inf


def blur_of(focal: float, number: float, s: float, at: float) -> float:
    """Return the disc that a point makes on the sensor of a lens focused at s, by similar triangles behind it."""
    sensor, image = 1 / (1 / focal - 1 / s), 1 / (1 / focal - 1 / at)
    return focal / number * abs(image - sensor) / image


@given(
    focal=st.floats(20, 120),
    number=st.floats(1.4, 32),
    near=st.floats(250, 900),
    deep=st.floats(5, 400),
    blur=st.floats(0.01, 0.1),
)
def test_focus_steps_hand_over_to_one_another_at_one_blur(
    focal: float, number: float, near: float, deep: float, blur: float
) -> None:
    """Rays of a thin lens: both ends and all meetings of two pictures are as blurred; one picture less would not do.

    The blur is found by similar triangles, not by the formulas of depth of field.
    """
    far = near + deep
    count = lens.pictures(focal, number, near, far, blur)
    steps = lens.focus_steps(focal, near, far, count)
    assert len(steps) == count
    assert list(steps) == sorted(steps)
    reached = blur_of(focal, number, steps[0], near)
    assert reached <= blur * (1 + 1e-6)
    assert blur_of(focal, number, steps[-1], far) == pytest.approx(reached, rel=1e-6)
    for one, other in pairwise(steps):
        meeting = lens.focus(one, other)
        low, high = one, other  # where the two discs are alike
        for _ in range(80):
            meeting = (low + high) / 2
            if blur_of(focal, number, one, meeting) < blur_of(focal, number, other, meeting):
                low = meeting
            else:
                high = meeting
        assert blur_of(focal, number, one, meeting) == pytest.approx(reached, rel=1e-5)
    if count == 2:
        [alone] = lens.focus_steps(focal, near, far, 1)
        assert blur_of(focal, number, alone, near) > blur * (1 - 1e-6)
    elif count > 2:
        assert max(overlaps(focal, number, near, far, blur, count - 1)) < lens.OVERLAP + 1e-6


def greenleaf(focal: float, number: float, s: float, blur: float) -> tuple[float, float]:
    """Return what is sharp with focus at s, in the words of Greenleaf (1950)."""
    h = focal**2 / (number * blur) + focal
    return s * (h - focal) / (h + s - 2 * focal), s * (h - focal) / (h - s) if s < h else math.inf


def overlaps(focal: float, number: float, near: float, far: float, blur: float, count: int) -> list[float]:
    """Return which share of its depth each of several pictures has in common with the next.

    Depth is reckoned by the logarithm of 1/f - 1/s, in which all pictures are equally deep.
    """

    def place(s: float) -> float:
        return math.log(1 / focal - 1 / s)

    steps = lens.focus_steps(focal, near, far, count)
    sharp = [tuple(map(place, greenleaf(focal, number, s, blur))) for s in steps]
    return [(one[1] - other[0]) / (one[1] - one[0]) for one, other in pairwise(sharp)]


@given(
    focal=st.floats(20, 120),
    number=st.floats(1.4, 32),
    near=st.floats(250, 900),
    deep=st.floats(5, 400),
    blur=st.floats(0.01, 0.05),
    misses=st.lists(st.sampled_from([-1.0, 0.0, 1.0]), min_size=60, max_size=60),
)
def test_pictures_overlap_by_a_fifth_and_each_focus_may_be_missed_by_its_leeway(
    focal: float, number: float, near: float, deep: float, blur: float, misses: list[float]
) -> None:
    """Greenleaf's near and far: no gap from front to back, whichever way each focus is missed by that much."""
    far = near + deep
    count = lens.pictures(focal, number, near, far, blur)
    assume(count <= 60)
    if count > 1:
        assert min(overlaps(focal, number, near, far, blur, count)) > lens.OVERLAP - 1e-6
    leeway = lens.leeway(focal, number, near, far, count=count, blur=blur)
    assume(leeway < 1e6)  # with nearly all sharp from the lens on there is nothing to miss
    steps = lens.focus_steps(focal, near, far, count)
    sharp = [
        greenleaf(focal, number, s + way * leeway, blur) for s, way in zip(steps, misses[: len(steps)], strict=True)
    ]
    assert sharp[0][0] <= near * (1 + 1e-9)
    assert sharp[-1][1] >= far * (1 - 1e-9)
    assert all(other[0] <= one[1] * (1 + 1e-9) for one, other in pairwise(sharp))


@given(number=st.floats(1.4, 32), near=st.floats(250, 900), deep=st.floats(5, 400), blur=st.floats(0.01, 0.05))
def test_the_longest_lens_for_one_picture_needs_just_its_stop(
    number: float, near: float, deep: float, blur: float
) -> None:
    """What it needs to be stopped down to is the number that was asked for."""
    focal = lens.focal_alone(number, near, near + deep, blur)
    assert lens.stop(focal, near, near + deep, blur) == pytest.approx(number, rel=1e-9)


def test_three_pictures_of_a_box_by_hand() -> None:
    """50 mm, f/8, c = 0.03, from 420 to 500 mm: three pictures, worked on paper.

    H = 10466.67. p = 1/50 - 1/420 = 0.0176190 and 1/50 - 1/500 = 0.018, so ln 1.0216216 = 0.0213912 is to be covered; a
    picture is ln (10466.67 / 10366.67) = 0.0096001 deep. That makes 2.228 of them, 2.785 with a fifth in common.
    """
    assert lens.pictures(50, 8, 420, 500) == 3
    assert lens.pictures(50, 8, 420, 489) == 3  # 1.97 of them: two would just meet
    assert lens.pictures(50, 8, 420, 473) == 2  # 1.56
    assert lens.pictures(50, 8, 420, 452) == 1  # 0.99


@given(focal=st.floats(20, 120), near=st.floats(250, 900), deep=st.floats(5, 400))
def test_one_picture_is_enough_from_its_stop_on(focal: float, near: float, deep: float) -> None:
    """At the f-number that is just enough one picture does; a hundredth wider two are needed."""
    number = lens.stop(focal, near, near + deep)
    assert lens.pictures(focal, number * (1 + 1e-6), near, near + deep) == 1
    assert lens.pictures(focal, number * 0.99, near, near + deep) == 2
    (s,) = lens.focus_steps(focal, near, near + deep, 1)
    assert s == pytest.approx(lens.focus(near, near + deep))


def test_the_airy_disc_of_a_distant_point_at_f16_is_a_fortieth_of_a_millimetre() -> None:
    """2.44 x 0.555 um x 16 = 21.7 um (Airy 1835); at half life size half as large again."""
    assert lens.airy_disc(50, 16, 1e9) == pytest.approx(0.0217, abs=5e-5)
    assert lens.airy_disc(50, 16, 150) == pytest.approx(1.5 * 0.0217, abs=1e-4)


def test_a_lens_refuses_to_focus_nearer_than_its_focal_length() -> None:
    """Behind the lens there is no picture then."""
    with pytest.raises(ValueError, match="does not focus"):
        lens.sharp(85, 8, 80)
    with pytest.raises(ValueError, match="does not focus"):
        lens.focus_steps(85, 80, 200, 3)
