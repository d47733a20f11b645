"""The relief against published figures and the laws of projective geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import sympy
from hypothesis import assume, given
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.relief.collineation import Relief

from .strategies import points, reliefs

Array = NDArray[np.float64]


def relief(distance: float, apparent: float, built: float, apron: float = 0.0, right: float = 0.0) -> Relief:
    return Relief(
        eye=(right, -(distance - apron), 60.0), apron=apron, apparent_depth=apparent + apron, built_depth=built + apron
    )


@pytest.mark.parametrize(
    ("distance", "apparent", "built", "vanishing", "scale", "half"),
    [(1000, 300, 100, 650.0, 0.84615, 54.167), (500, 600, 150, 366.667, 0.59091, 94.286)],
)
def test_figures_of_the_harmonic_law(
    distance: float, apparent: float, built: float, vanishing: float, scale: float, half: float
) -> None:
    """Derived by the matrix and again by 1/z' = 1/k + (V/k)/z along each ray (harmonic law)."""
    found = relief(distance, apparent, built)
    assert found.vanishing_depth is not None
    assert found.vanishing_depth == pytest.approx(vanishing, abs=5e-4)
    assert found.back_scale == pytest.approx(scale, abs=5e-6)
    assert found.built_y(apparent / 2) == pytest.approx(half, abs=5e-4)
    k = found.vanishing_depth + distance
    z = distance + apparent / 2
    assert distance + found.built_y(apparent / 2) == pytest.approx(1 / (1 / k + (found.vanishing_depth / k) / z))


def test_matrix_equals_sympy_rational_arithmetic() -> None:
    """The formulas of Anger (1834) by exact fractions: two points of every ray fix the map."""
    found = relief(420, 250, sympy.Rational(155, 2), apron=0.0, right=12.0)
    distance, apparent, built = sympy.Integer(420), sympy.Integer(250), sympy.Rational(155, 2)
    vanishing = built * (apparent + distance) / (apparent - built)
    k = vanishing + distance
    for x, y, z in [(30, 40, 10), (-86, 250, 140), (0, 125, 78), (5, 1, 3)]:
        expected = (
            12 + k * (sympy.Integer(x) - 12) / (y + k),
            vanishing * y / (y + k),
            60 + k * (sympy.Integer(z) - 60) / (y + k),
        )
        assert found.build_points([[x, y, z]])[0] == pytest.approx([float(e) for e in expected], abs=1e-12)


def test_a_sphere_becomes_angers_paraboloid() -> None:
    """C. T. Anger 1834: with the eye in the fixed plane and V = R the sphere goes to x'^2 + 2 R y' + z'^2 = R^2.

    The program keeps the eye before the fixed plane, so the limit is taken with the eye 1e-7 R before it.
    """
    radius, near = 50.0, 5e-6
    built = 40.0
    apparent = (built * near + radius * built) / (radius - built)  # from V = d (L + D) / (L - d) = R
    found = Relief(eye=(0.0, -near, 0.0), apron=0.0, apparent_depth=apparent, built_depth=built)
    angles = np.linspace(0.1, math.pi - 0.1, 40)
    sphere = np.column_stack([radius * np.cos(angles), radius * np.sin(angles), np.zeros(40)])
    x, y, z = found.build_points(sphere).T
    assert x**2 + 2 * radius * y + z**2 - radius**2 == pytest.approx(np.zeros(40), abs=1e-3)


def test_a_box_becomes_a_frustum_of_the_derived_volume() -> None:
    """A d (1 + s + s^2) / 3, and locally V k^3 / (y + k)^4."""
    found = relief(420, 250, 77.5)
    s = found.back_scale
    y, step = np.linspace(0, 250, 20001), 250 / 20000
    matrix = found.built_from_imagined
    w = 1 + found.a * y
    density = np.linalg.det(matrix) / w**4
    integral = float(((density[1:] + density[:-1]) / 2 * step).sum()) * 173 * 143.5
    assert integral == pytest.approx(173 * 143.5 * 77.5 * (1 + s + s * s) / 3, rel=1e-7)
    assert found.vanishing_depth is not None
    k = found.vanishing_depth + 420
    assert density == pytest.approx(found.vanishing_depth * k**3 / (y + k) ** 4, rel=1e-12)


def test_floor_rises_as_pozzo_builds_stages() -> None:
    """Pozzo, *Perspectiva*, text to fig. 74: a rake of 1/9; with an eye 1.6 m up that is V = 14.4 m (derived)."""
    apparent, distance = 30000.0, 10000.0
    built = 14400 * apparent / (apparent + distance + 14400)
    found = Relief(eye=(0.0, -distance, 1600.0), apron=0.0, apparent_depth=apparent, built_depth=built)
    back = found.build_points([[0.0, apparent, 0.0]])[0]
    assert back[2] / back[1] == pytest.approx(1 / 9, rel=1e-12)


def test_identity_where_depths_agree() -> None:
    """L = d is the identity and has no vanishing depth."""
    found = relief(500, 80, 80)
    assert found.vanishing_depth is None
    assert found.built_from_imagined == pytest.approx(np.eye(4), abs=1e-15)


def test_planes_go_by_the_inverse_transpose() -> None:
    """Points of an imagined plane lie on the plane's built image."""
    found = relief(420, 250, 77.5, right=8.0)
    plane = np.array([0.3, -0.2, 0.7, -40.0])
    on = np.array([[10.0, 30.0, (40 - 3 + 6) / 0.7], [-50.0, 200.0, (40 + 15 + 40) / 0.7]])
    image = found.build_plane(plane)
    assert found.build_points(on) @ image[:3] + image[3] == pytest.approx([0, 0], abs=1e-9)


@given(reliefs(), points())
def test_the_inverse_takes_points_home(found: Relief, at: Array) -> None:
    """Imagined -> built -> imagined is the identity."""
    assert found.imagine_points(found.build_points(at)) == pytest.approx(at, abs=1e-6)


@given(reliefs(), points())
def test_eye_imagined_and_built_lie_on_one_line(found: Relief, at: Array) -> None:
    """Burmester 1883: every ray through the eye stays."""
    eye = np.array(found.eye)
    a, b = at - eye, found.build_points(at) - eye
    across = np.linalg.norm(np.cross(a, b), axis=1) / (np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1))
    assert across.max() < 1e-11


@given(reliefs(), points(count=2))
def test_lines_stay_lines_and_cross_ratios_stay(found: Relief, ends: Array) -> None:
    """A collineation keeps lines and the cross ratio of four points on one."""
    ends[:, 1] = np.maximum(ends[:, 1], found.apron)
    assume(np.linalg.norm(ends[1] - ends[0]) > 1)
    shares = np.array([0.0, 0.3, 0.45, 1.0])
    line = ends[0] + shares[:, None] * (ends[1] - ends[0])
    built = found.build_points(line)
    chord = frames.unit(built[3] - built[0])
    along = (built - built[0]) @ chord
    assert np.linalg.norm(built - built[0] - along[:, None] * chord, axis=1).max() < 1e-8
    assert _cross_ratio(along) == pytest.approx(_cross_ratio(shares), rel=1e-6)


def _cross_ratio(t: Array) -> float:
    return float((t[0] - t[2]) * (t[1] - t[3]) / ((t[1] - t[2]) * (t[0] - t[3])))


@given(reliefs(), points())
def test_the_apron_and_its_end_stay(found: Relief, at: Array) -> None:
    """On the apron, and on its end plane, built and imagined agree point by point."""
    at[:, 1] = np.minimum(at[:, 1], found.apron)
    assert found.build_points(at) == pytest.approx(at, abs=1e-9)


@given(reliefs())
def test_determinant_is_b_and_above_zero(found: Relief) -> None:
    """Normalised to w = 1 at u = 0 the determinant is b > 0: nothing is ever mirrored."""
    matrix = found.built_from_imagined
    w0 = matrix[3, 1] * found.apron + matrix[3, 3]
    assert w0 == pytest.approx(1.0)
    assert np.linalg.det(matrix) == pytest.approx(found.b, rel=1e-9)
    assert found.b > 0


def test_eye_behind_the_opening_is_refused() -> None:
    """An eye inside the box has no relief."""
    with pytest.raises(ValueError, match="before the opening"):
        Relief(eye=(0, 5, 50), apron=0, apparent_depth=300, built_depth=80)


def test_shallower_than_built_is_refused() -> None:
    """L < d is refused."""
    with pytest.raises(ValueError, match="apparent"):
        Relief(eye=(0, -400, 50), apron=0, apparent_depth=60, built_depth=80)


def test_what_lies_behind_infinity_is_carried_back_along_its_ray() -> None:
    """A back sheet's hidden face in an endless room: nearer, but from the eye at the same place.

    V = b / a behind the apron's end, here (77.5 x 10420) / (10000 - 77.5) = 81.4 mm of the built room.
    """
    relief = Relief(eye=(5.0, -420.0, 70.0), apron=0.0, apparent_depth=10_000.0, built_depth=77.5)
    assert relief.vanishing_depth == pytest.approx(81.386, abs=1e-3)
    built = np.array([[80.0, 77.5, 10.0], [80.0, 85.0, 10.0], [-3.0, 81.386, 149.0], [80.0, 70.0, 10.0]])
    back = relief.carry_back(built)
    for point, seen in zip(built - relief.eye, back - relief.eye, strict=True):
        np.testing.assert_allclose(point / point[1], seen / seen[1], atol=1e-12)
    np.testing.assert_allclose(back[[0, 3]], relief.imagine_points(built[[0, 3]]), rtol=1e-12)
    assert (back[1:3, 1] > back[0, 1]).all()
