"""Measures adjusted to a border: laws of least squares, and slips found."""

from __future__ import annotations

import math

import numpy as np
import pytest
import sympy

from pipeline.geometry.adjusting import adjust
from pipeline.room.inside import Inside
from pipeline.room.measure import measure
from pipeline.room.surveying import adjustments
from pipeline.scene.read import read_scene
from tests.refused import refusals

from ..scene_text import PLAIN, changed
from .boxes import BACK, BETWEEN, KEYS, OPENING, border, measured


def inside(text: str) -> Inside:
    return measure(read_scene(text)).inside


def test_exact_measures_give_the_corners_back() -> None:
    """Six lengths of a border without a slip close, and their one shape is the border itself (the corners given)."""
    box = inside(measured(border(OPENING), border(BACK)))
    assert box.opening[:, [0, 2]] == pytest.approx(OPENING, abs=1e-5)
    assert box.back[:, [0, 2]] == pytest.approx(BACK, abs=1e-5)
    assert box.back[:, 1] == pytest.approx(np.full(4, 85.0))


def test_one_diagonal_is_enough() -> None:
    """Four edges and a diagonal are two triangles: the shape is fixed, and the missing diagonal follows from it."""
    text = measured(border(OPENING), border(BACK))
    size = math.dist(OPENING[1], OPENING[3])
    box = inside(changed(text, f", falling = {size:.6f}", ""))
    assert box.opening[:, [0, 2]] == pytest.approx(OPENING, abs=1e-5)


def test_adjusted_measures_are_the_least_squares() -> None:
    """Adjusted lengths close, and what is left over is along the gradient of the closing condition (Lagrange).

    The condition is the vanishing of the Cayley-Menger determinant of four points in a plane.
    """
    slips = dict.fromkeys(KEYS, 0.0) | {"bottom": 0.15, "left": -0.2, "rising": 0.1}
    scene = read_scene(measured(border(OPENING, **slips), border(BACK)))
    over = adjustments(scene.box)["opening"]
    symbols = sympy.symbols("b r t l u f")
    squared = {frozenset(pair): symbol**2 for pair, symbol in zip(BETWEEN, symbols, strict=True)}
    rows = [[1, *(squared.get(frozenset((i, j)), 0) for j in range(4))] for i in range(4)]
    rows = [[0, 1, 1, 1, 1], *rows]
    condition = sympy.Matrix(rows).det()
    true = [math.dist(OPENING[i], OPENING[j]) for i, j in BETWEEN]
    adjusted = [size + slips[key] - over[key] for size, key in zip(true, KEYS, strict=True)]
    values = dict(zip(symbols, adjusted, strict=True))
    gradient = np.array([float(sympy.diff(condition, s).subs(values)) for s in symbols])
    off = float(condition.subs(values)) / np.linalg.norm(gradient)
    assert abs(off) < 1e-4  # mm
    left = np.array([over[key] for key in KEYS])
    assert np.linalg.norm(left) > 0.05
    assert abs(left @ gradient) == pytest.approx(np.linalg.norm(left) * np.linalg.norm(gradient), rel=1e-4)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("slip", [-4.0, 4.0])
def test_slip_is_found_with_the_value_that_would_close(key: str, slip: float) -> None:
    """One measure 4 mm wrong: it is the one named, and the value said to close is the true one (to 0.1 mm)."""
    (message,) = refusals(measured(border(OPENING, **{key: slip}), border(BACK)))
    i, j = BETWEEN[KEYS.index(key)]
    assert f"box.measured.opening.{key}: " in message
    assert f"Measure it again: {math.dist(OPENING[i], OPENING[j]):.1f} mm would close" in message


def test_half_a_millimetre_passes_and_more_does_not() -> None:
    """The misclosure of a slip d on a diagonal of a rectangle is d/2: the condition's gradient there is
    (-a, -b, -a, -b, c, c) with c the diagonal, so its share is c / sqrt(2 a^2 + 2 b^2 + 2 c^2) = 1/2.
    """
    square = np.array([(-90.0, 0.0), (90.0, 0.0), (90.0, 150.0), (-90.0, 150.0)])
    assert inside(measured(border(square, rising=0.98), border(square))).measured
    (message,) = refusals(measured(border(square, rising=1.04), border(square)))
    assert "miss one another by 0.52 mm" in message


def test_lengths_that_cannot_close_are_refused() -> None:
    """A side longer than the other two of its triangle together."""
    message, *_ = refusals(measured(border(OPENING, rising=335.6 - math.dist(OPENING[0], OPENING[2])), border(BACK)))
    assert "box.measured.opening.rising: 335.6 mm cannot close a triangle with bottom and right" in message


def test_other_units_and_other_boxes_are_refused() -> None:
    """A left edge and a top that belong to another box: both are named, each at its key."""
    left, top = 130.0 - math.dist(OPENING[0], OPENING[3]), 150.0 - math.dist(BACK[2], BACK[3])
    messages = refusals(measured(border(OPENING, left=left), border(BACK, top=top)))
    assert any("opening.left: 130 mm is far from box.height, 150 mm" in m for m in messages)
    assert any("back.top: 150 mm is far from box.width, 180 mm" in m for m in messages)
    assert all("room.toml:9:" in m for m in messages)


def test_without_a_diagonal_a_border_may_lean_any_way() -> None:
    """Four edges alone leave one figure open."""
    text = measured("{ bottom = 180, right = 150, top = 180, left = 150 }", border(BACK))
    (message,) = refusals(text)
    assert "no diagonal of the opening is given" in message


def test_four_depths_turn_and_lean_the_back() -> None:
    """Corner to corner distances of a back turned 0.5 and leaned 0.8 degrees give both angles back."""
    yaw, pitch = math.radians(0.5), math.radians(0.8)
    inward = np.array([-math.sin(yaw), math.cos(yaw), 0.0])
    up = math.cos(pitch) * np.array([0.0, 0.0, 1.0]) + math.sin(pitch) * inward
    back = np.array([(0, 85.0, 0) + x * np.array([math.cos(yaw), math.sin(yaw), 0.0]) + z * up for x, z in BACK])
    front = np.array([(x, 0.0, z) for x, z in OPENING])
    box = inside(measured(border(OPENING), border(BACK), np.linalg.norm(back - front, axis=1).round(7).tolist()))
    assert box.back == pytest.approx(back, abs=1e-4)
    assert box.depth == pytest.approx(back[:, 1].min(), abs=1e-4)


def test_depths_of_no_flat_back_are_refused() -> None:
    """Three corners fix the back's plane; a fourth 3 mm off it is named, with the depth that would be flat."""
    square = np.array([(-90.0, 0.0), (90.0, 0.0), (90.0, 150.0), (-90.0, 150.0)])
    (message,) = refusals(measured(border(square), border(square), (85.0, 85.0, 88.0, 85.0)))
    assert "box.measured.depths[3]: " in message
    assert "85.0 mm would close" in message


def test_too_few_lengths_fix_nothing() -> None:
    """Two lengths do not fix three figures."""
    assert adjust(lambda p: np.array([p[0], p[1], p[2]]), [0.0, 0.0, 0.0], [1.0, math.nan, 2.0]) is None


def test_a_box_not_measured_is_the_rectangle() -> None:
    """box.width x box.height x box.depth."""
    box = inside(PLAIN)
    assert not box.measured
    assert box.bounds == (180.0, 150.0, 85.0)
