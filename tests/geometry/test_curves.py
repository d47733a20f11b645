"""Exact curves: published weights, projective invariance, closed forms of length, area and bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.geometry import curves
from pipeline.geometry.curves import Array, Curve, Path

QUARTER = curves.arc((0.0, 0.0), 1.0, 0.0, math.pi / 2)[0]
WARP = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.5, 0.2, 1.0]])

shares = st.floats(-0.3, 0.3)
homographies = st.tuples(shares, shares, shares, shares, shares, shares).map(
    lambda v: np.array([[1 + v[0], v[1], 0.5], [v[2], 1 + v[3], -0.25], [v[4], v[5], 1.0]])
)


def circle(radius: float = 1.0) -> Path:
    return curves.arc((0.0, 0.0), radius, 0.0, 2 * math.pi)


def ellipse(a: float, b: float, turn_rad: float = 0.0) -> Path:
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    return curves.transform_path(circle(), np.array([[a * c, -b * s, 0], [a * s, b * c, 0], [0, 0, 1]]))


def ellipse_perimeter(a: float, b: float) -> float:
    """Return the perimeter by Gauss's arithmetic-geometric mean: 2 pi (a^2 - sum 2^(n-1) c_n^2) / agm(a, b)."""
    mean, root, total, power = a, b, (a * a - b * b) / 2, 0.5
    while abs(mean - root) > 1e-15 * a:
        half_gap = (mean - root) / 2
        mean, root = (mean + root) / 2, math.sqrt(mean * root)
        power *= 2
        total += power * half_gap**2
    return 2 * math.pi * (a * a - total) / mean


def image_area(matrix: Array) -> float:
    """Return the area of the unit circle's image: for its conic C, pi |det C| / det(C's 2 x 2)^(3/2)."""
    inverse = np.linalg.inv(matrix)
    conic = inverse.T @ np.diag([1.0, 1.0, -1.0]) @ inverse
    return float(math.pi * abs(np.linalg.det(conic)) / np.linalg.det(conic[:2, :2]) ** 1.5)


def test_quarter_circle_has_the_middle_weight_half_root_two() -> None:
    """Middle weight = cos(half the angle) (Piegl and Tiller; Shene, CS3621 notes)."""
    _, weights = curves.normalised_weights(QUARTER)
    assert [1.0, math.sqrt(2) / 2, 1.0] == pytest.approx(weights, abs=1e-15)


def test_arc_of_120_degrees_has_the_middle_weight_one_half() -> None:
    """Shene, CS3621 notes: an equilateral control triangle has weight 1/2; its halves are arcs of 60 degrees."""
    high = math.sqrt(3)
    arc = Curve(np.array([[-high / 2, 0.5, 1.0], [0.0, 2 * 0.5, 0.5], [high / 2, 0.5, 1.0]]))
    points = curves.evaluate(arc, np.linspace(0, 1, 33))
    assert np.ones(33) == pytest.approx(np.hypot(*points.T), abs=1e-14)
    _, weights = curves.normalised_weights(curves.piece(arc, 0.0, 0.5))
    assert math.cos(math.pi / 6) == pytest.approx(weights[1], abs=1e-15)


def test_warped_quarter_circle_has_the_weights_of_the_homogeneous_coordinates() -> None:
    """Projective invariance (Piegl and Tiller): w_i times 1 + x/2 + y/5 at (1, 0), (1, 1), (0, 1)."""
    warped = curves.transform(QUARTER, WARP)
    assert [1.5, 1.7 * math.sqrt(2) / 2, 1.2] == pytest.approx(warped.points[:, -1], abs=1e-15)
    assert np.array([1.5, 1.202, 1.2]) == pytest.approx(warped.points[:, -1], abs=1e-3)
    _, weights = curves.normalised_weights(warped)
    assert 1.7 * math.sqrt(2) / 2 / math.sqrt(1.5 * 1.2) == pytest.approx(weights[1], abs=1e-15)


@given(homographies)
def test_warped_arc_lies_on_the_warped_circle(matrix: Array) -> None:
    """Every point, taken back, is at distance 1 from the centre."""
    points = curves.evaluate(curves.transform(QUARTER, matrix), np.linspace(0, 1, 65))
    back = np.column_stack([points, np.ones(65)]) @ np.linalg.inv(matrix).T
    assert np.ones(65) == pytest.approx(np.hypot(*(back[:, :2] / back[:, 2:]).T), abs=5e-13)


@given(homographies)
def test_normalising_weights_keeps_the_curve(matrix: Array) -> None:
    """w1 / sqrt(w0 w2) changes the parameter only: the conic's implicit equation still holds."""
    warped = curves.transform(QUARTER, matrix)
    control, weights = curves.normalised_weights(warped)
    same = Curve(np.column_stack([control * weights[:, None], weights]))
    points = curves.evaluate(same, np.linspace(0, 1, 17))
    back = np.column_stack([points, np.ones(17)]) @ np.linalg.inv(matrix).T
    assert np.ones(17) == pytest.approx(np.hypot(*(back[:, :2] / back[:, 2:]).T), abs=5e-13)


def test_a_curve_through_infinity_is_refused() -> None:
    """1 - 2 x vanishes within the arc; and for the last matrix only between the ends, both in front."""
    with pytest.raises(ValueError, match="infinity"):
        curves.transform(QUARTER, np.array([[1.0, 0, 0], [0, 1, 0], [-2, 0, 1]]))
    with pytest.raises(ValueError, match="infinity"):
        curves.transform(QUARTER, np.array([[1.0, 0, 0], [0, 1, 0], [-0.8, -0.8, 1]]))


def test_circle_has_its_length_area_and_bounds() -> None:
    """2 pi r, pi r^2, and a square of 2 r."""
    path = circle(7.0)
    assert 14 * math.pi == pytest.approx(sum(curves.length(c) for c in path), rel=1e-14)
    assert 49 * math.pi == pytest.approx(curves.signed_area(path), rel=1e-14)
    assert -49 * math.pi == pytest.approx(curves.signed_area(curves.reverse_path(path)), rel=1e-14)
    assert np.array([-7.0, -7.0, 7.0, 7.0]) == pytest.approx(curves.bounds(path).ravel(), abs=1e-14)


@given(st.floats(1.0, 5.0), st.floats(0.3, 1.0), st.floats(0.0, 3.0))
def test_turned_ellipse_has_the_closed_forms(a: float, b: float, turn: float) -> None:
    """Perimeter by the arithmetic-geometric mean, area pi a b, half width sqrt(a^2 cos^2 + b^2 sin^2)."""
    path = ellipse(a, b, turn)
    assert ellipse_perimeter(a, b) == pytest.approx(sum(curves.length(c) for c in path), rel=1e-6)
    assert math.pi * a * b == pytest.approx(curves.signed_area(path), rel=1e-12)
    half = [math.hypot(a * math.cos(turn), b * math.sin(turn)), math.hypot(a * math.sin(turn), b * math.cos(turn))]
    assert [-half[0], -half[1], *half] == pytest.approx(curves.bounds(path).ravel(), abs=1e-12)


@given(homographies)
def test_warped_circle_has_the_area_of_its_conic(matrix: Array) -> None:
    """Pi |det C| / det(C_2x2)^(3/2) for the image conic C."""
    area = curves.signed_area(curves.transform_path(circle(), matrix))
    assert image_area(matrix) * np.sign(np.linalg.det(matrix)) == pytest.approx(area, rel=1e-8)


@given(homographies, st.floats(0.0, math.pi), st.floats(-3.0, 3.0))
def test_a_closed_path_crosses_a_line_an_even_number_of_times(matrix: Array, turn: float, offset: float) -> None:
    """What goes over a line must come back; and each crossing lies on the line."""
    normal = np.array([math.cos(turn), math.sin(turn), offset])
    path = curves.transform_path(circle(2.0), matrix @ np.diag([0.5, 0.5, 1]))
    found = [(curve, t) for curve in path for t in curves.crossings(curve, normal)]
    assert len(found) % 2 == 0
    values = [float(np.append(curves.evaluate(curve, t)[0], 1) @ normal) for curve, t in found]
    assert [0.0] * len(values) == pytest.approx(values, abs=1e-9)


@pytest.mark.parametrize("offset", [-1.0, 0.0, 1.0])
@pytest.mark.parametrize("axis", [0, 1])
def test_a_line_through_vertices_still_crosses_an_even_number_of_times(axis: int, offset: float) -> None:
    """A vertex on the line counts as lying on its positive side, so neighbours that share it exactly agree."""
    normal = np.array([float(axis == 0), float(axis == 1), -offset])
    turns = [np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    exact = Curve(np.array([[1.0, 0.0, 1.0], [math.sqrt(0.5), math.sqrt(0.5), math.sqrt(0.5)], [0.0, 1.0, 1.0]]))
    round_path = tuple(curves.transform(exact, turn) for turn in turns)
    for path in (round_path, curves.polygon([[-1, -1], [1, -1], [1, 1], [0, 0], [-1, 1]])):
        assert sum(len(curves.crossings(curve, normal)) for curve in path) % 2 == 0


@given(homographies, st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_a_piece_of_a_curve_lies_on_it(matrix: Array, t0: float, t1: float) -> None:
    """Blossoming reparametrises linearly: the piece at s is the curve at t0 + s (t1 - t0)."""
    whole = curves.transform(QUARTER, matrix)
    s = np.linspace(0, 1, 9)
    expected = curves.evaluate(whole, t0 + s * (t1 - t0))
    assert expected == pytest.approx(curves.evaluate(curves.piece(whole, t0, t1), s), abs=1e-12)


@given(homographies, st.sampled_from([1e-1, 1e-2, 1e-4]))
def test_flattened_chords_stay_within_the_tolerance(matrix: Array, tolerance: float) -> None:
    """Distance of dense points of the curve from the chords, found by brute force."""
    curve = curves.transform(QUARTER, matrix)
    chords = curves.flatten(curve, tolerance)
    points = curves.evaluate(curve, np.linspace(0, 1, 501))
    start, along = chords[:-1], np.diff(chords, axis=0)
    at = np.clip(((points[:, None] - start) * along).sum(-1) / (along**2).sum(-1), 0, 1)
    gaps = np.linalg.norm(points[:, None] - start - at[..., None] * along, axis=-1).min(axis=1)
    assert gaps.max() <= 1.05 * tolerance


def test_tangent_is_the_derivative() -> None:
    """Against a central difference."""
    curve = curves.transform(QUARTER, WARP)
    step = 1e-6
    for t in (0.0, 0.3, 1.0):
        ahead, behind = curves.evaluate(curve, [t + step, t - step])
        assert (ahead - behind) / (2 * step) == pytest.approx(curves.tangent(curve, t), abs=1e-8)


@pytest.mark.parametrize("weight", [-0.6, 0.2, 1.0, 3.0])
@pytest.mark.parametrize("middle", [(2.0, 3.0), (2.0, 0.5), (5.0, -1.0)])
def test_bounds_hold_a_conic_of_any_weight_and_touch_it(weight: float, middle: tuple[float, float]) -> None:
    """A middle control point between the ends tells where extremes are only while no weight is below zero.

    Source: ten thousand points of the curve.
    """
    curve = curves.Curve(np.array([[0.0, 0, 1], [*(weight * np.array(middle)), weight], [4.0, 1, 1]]))
    points = curves.evaluate(curve, np.linspace(0, 1, 10_001))
    expected = np.array([points.min(axis=0), points.max(axis=0)])
    assert curves.bounds((curve,)) == pytest.approx(expected, abs=1e-6)


def test_arcs_sampled_all_at_once_are_those_sampled_one_by_one() -> None:
    """To the last bit: files must not change with how many arcs are looked at together."""
    control = np.random.default_rng(4).normal(size=(30, 3, 3))
    control[..., 2] = np.abs(control[..., 2]) + 0.1
    one_by_one = [curves.evaluate_evenly(Curve(points.copy()), 65) for points in control]
    assert np.array_equal(one_by_one, curves.evaluate_all_evenly(control, 65))
