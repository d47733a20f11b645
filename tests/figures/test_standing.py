"""What a figure becomes, against printed tables and against lines drawn to the eye."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.elements.figure import FigureTable
from pipeline.elements.hall_shape import Hall
from pipeline.relief.collineation import Relief
from pipeline.room.figuring import STOCK_SCALES, Standing, stand, stock_depths

EYE = np.array([0.0, -420.0, 78.0])
RELIEF = Relief(eye=(0.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=77.5)
HALL = Hall(scale=48.0, width=174.0, height=144.0, depth=250.0, floor=3.0, apron=0.0, front=0.0)

PRINTED = {
    72: (24.3, 22.2), 56: (31.3, 28.6), 48: (36.5, 33.3), 35: (50.0, 45.7), 32: (54.7, 50.0), 24: (72.9, 66.7),
    12: (145.8, 133.3),
}  # fmt: skip
"""n of 1:n to the height and the eye level, mm, of 1.75 m stature with eyes at 1.60 m: 1750 / n and 1600 / n."""


def standing(x: float, y: float, *, height: float = 1.75, facing: float = 0.0, relief: Relief = RELIEF) -> Standing:
    return stand(FigureTable(name="one", height=height, at=(x, y), facing=facing), HALL, relief)


@pytest.mark.parametrize("scale", PRINTED)
def test_on_the_apron_a_figure_is_of_the_opening_s_scale(scale: int) -> None:
    """There everything is built true: height, eyes and depth are the stature's over n, and the floor is level."""
    hall = Hall(scale=scale, width=400.0, height=300.0, depth=250.0, floor=3.0, apron=50.0, front=0.0)
    relief = Relief(eye=(0.0, -420.0, 78.0), apron=50.0, apparent_depth=250.0, built_depth=120.0)
    made = stand(FigureTable(name="one", height=1.75, at=(0.0, 0.025 * scale)), hall, relief)
    tall, eyes = PRINTED[scale]
    assert pytest.approx((tall, eyes), abs=0.051) == (made.height, made.eyes)
    assert (float(scale), scale, 0.0, 1.0) == (made.scale, made.nearest, made.slope_deg, made.squashed)
    assert made.stock_depth == pytest.approx(made.depth)


@given(x=st.floats(-1.5, 1.5), y=st.floats(0.3, 11.5), height=st.floats(0.8, 2.0))
def test_feet_height_and_slope_come_out_of_lines_to_the_eye(x: float, y: float, height: float) -> None:
    """The built floor is drawn by a line from the opening to the built back wall, and the ray to the feet meets it.

    The back wall stands at 77.5 mm, so its points lie (420 + 77.5) / (420 + 250) of the way from the eye. Along one
    ray everything upright shrinks with the distance from the eye.
    """
    front = np.array([x * 1000 / 48, 0.0, 3.0])
    back = EYE + (front + np.array([0, 250, 0]) - EYE) * (497.5 / 670)
    foot = front + np.array([0, y * 1000 / 48, 0])
    ray, floor = foot - EYE, back - front
    share, _ = np.linalg.lstsq(np.column_stack([ray, -floor]), front - EYE, rcond=None)[0]
    made = standing(x, y, height=height)
    np.testing.assert_allclose(made.feet, EYE + share * ray, atol=1e-8)
    assert height * 1000 / 48 * share == pytest.approx(made.height)
    assert 48 / share == pytest.approx(made.scale)
    assert math.degrees(math.atan2(floor[2], floor[1])) == pytest.approx(made.slope_deg)
    assert 0.152 * made.height * floor[2] / floor[1] == pytest.approx(made.wedge)
    assert 75.0 * share == pytest.approx(made.horizon)
    assert height * 1.6 / 1.75 - 3.6 == pytest.approx(made.over_horizon)


@given(y=st.floats(0.3, 11.5), stock=st.sampled_from(STOCK_SCALES))
def test_a_stock_figure_reads_as_the_ray_over_its_crown_says(y: float, stock: int) -> None:
    """Drawn on from the eye over its built crown, the ray meets the plane of the imagined figure at what is read."""
    made = standing(0.7, y)
    crown = np.array(made.feet) + np.array([0, 0, 1750 / stock])
    reach = (y * 1000 / 48 + 420) / (crown[1] + 420)
    read = (EYE + (crown - EYE) * reach)[2] - 3.0
    assert read * 48 / 1000 == pytest.approx(made.reads_as(stock))


@given(y=st.floats(0.5, 11.0))
def test_depth_is_squashed_as_a_small_step_back_is(y: float) -> None:
    """A step back by a thousandth of a mm, built, over what it would be at the figure's own scale."""
    near, far = RELIEF.build_points([[0, y * 1000 / 48 + step, 3.0] for step in (-5e-4, 5e-4)])
    made = standing(0.0, y)
    assert float(far[1] - near[1]) / 1e-3 * made.scale / 48 == pytest.approx(made.squashed, rel=1e-6)
    assert made.depth / made.stock_depth == pytest.approx(made.squashed, rel=1e-3)


def test_seen_from_the_side_a_figure_is_as_deep_as_its_shoulders() -> None:
    """Shoulders 0.259 and feet 0.152 of the stature (Drillis and Contini), turned by a quarter."""
    front, side = standing(0.0, 4.0), standing(0.0, 4.0, facing=90.0)
    assert (0.152 * front.height, 0.259 * side.height) == pytest.approx((front.stock_depth, side.stock_depth))


def test_at_the_ends_of_its_stretch_a_stock_scale_is_five_hundredths_off() -> None:
    """Between them it reads within that, just outside no more; other scales have no place in this hall."""
    depths = stock_depths(HALL, RELIEF, 0.05)
    assert sorted(depths) == [48, 56]
    (start, end), (near, far) = depths[48], depths[56]
    assert start == 0.0
    offs = [standing(0.0, y).scale / stock - 1 for y, stock in ((end, 48), (near, 56), (far, 56))]
    assert pytest.approx(offs) == [0.05, -0.05, 0.05]


def test_without_relief_a_scale_fits_everywhere_or_nowhere() -> None:
    """Built true, all of a hall is of one scale."""
    true = Relief(eye=(0.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=250.0)
    assert stock_depths(HALL, true, 0.05) == {48: (0.0, 12.0)}
    odd = Hall(scale=42.0, width=174.0, height=144.0, depth=250.0, floor=3.0, apron=0.0, front=0.0)
    assert stock_depths(odd, true, 0.05) == {}


def test_a_stretch_that_begins_on_the_apron_begins_at_the_opening() -> None:
    """On the apron all is of one scale; a scale that fits there fits from the opening on."""
    relief = Relief(eye=(0.0, -420.0, 78.0), apron=20.0, apparent_depth=250.0, built_depth=90.0)
    hall = Hall(scale=49.0, width=174.0, height=144.0, depth=250.0, floor=3.0, apron=20.0, front=0.0)
    start, end = stock_depths(hall, relief, 0.05)[48]
    assert start == 0.0
    assert stand(FigureTable(name="one", height=1.75, at=(0.0, end)), hall, relief).scale == pytest.approx(48 * 1.05)
