"""Lines and arcs fitted to exact curves: within the tolerance both ways, smooth, none too short, none twice."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry import curves
from pipeline.geometry.arcs import MIN_SEGMENT, Bulges, bulge_area, bulge_length, bulge_points, fit_path
from pipeline.geometry.curves import Array, Path

TOLERANCE = 0.02
FINE = 1e-5
"""mm; how finely both sides are flattened before they are compared."""


def arch(width: float, height: float, head: str) -> Path:
    """Return a doorway of two jambs, a sill and a head of exact arcs, counter-clockwise."""
    half = width / 2
    if head == "round":
        top = curves.arc((0, height), half, 0, math.pi)
    elif head == "pointed":
        top = curves.arc((-half, height), width, 0, math.pi / 3)
        top += curves.arc((half, height), width, 2 * math.pi / 3, math.pi)
    else:
        top = curves.arc((0, height - half), half * math.sqrt(2), math.pi / 4, 3 * math.pi / 4)
    return (
        curves.polyline(np.array([[-half, 0], [half, 0], [half, height]]))
        + top
        + (curves.line([-half, height], [-half, 0]),)
    )


def circle(radius: float) -> Path:
    return curves.arc((0.0, 0.0), radius, 0.0, 2 * math.pi)


def ellipse(a: float, b: float) -> Path:
    return curves.transform_path(circle(1.0), np.diag([a, b, 1.0]))


def apart(path: Path, fitted: Bulges) -> float:
    """Return the greatest distance, both ways, between a closed path and its fit, both finely flattened."""
    dense = np.vstack([curves.evaluate(curve, np.linspace(0, 1, 2001)[:-1]) for curve in path])
    arcs = bulge_points(fitted, FINE)
    # A long line has points of its own only at its ends.
    return max(
        away(dense, arcs), away(shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(arcs), 0.2)), dense)
    )


def away(points: Array, ring: Array) -> float:
    """Return the greatest distance of points from a closed polygon's border."""
    sides = shapely.linestrings(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1))
    _, distances = shapely.STRtree(sides).query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return float(distances.max())


def chords(fitted: Bulges) -> Array:
    """Return the chord of every segment of a closed path."""
    places = fitted.points[:, :2]
    following = np.roll(places, -1, axis=0)
    out: Array = np.linalg.norm(following - places, axis=1)
    return out


doorways = st.builds(arch, st.floats(4, 60), st.floats(3, 80), st.sampled_from(["round", "pointed", "segmental"]))
small = st.floats(-0.25, 0.25)
warps = st.builds(
    lambda p, q, shear, squeeze: np.array([[1.0, shear, 3.0], [0.1 * shear, squeeze, -2.0], [p, q, 1.0]]),
    st.floats(-0.006, 0.006),
    st.floats(-0.003, 0.006),
    small,
    st.floats(0.3, 1.5),
)


@settings(deadline=None, max_examples=50)
@given(doorways, warps, st.sampled_from([0.1, 0.02, 0.004]))
def test_fit_of_a_warped_doorway_keeps_the_tolerance(doorway: Path, warp: Array, tolerance: float) -> None:
    """Two-way distance of dense points; closed; every chord at least 0.1 mm; every arc under half a turn."""
    path = curves.transform_path(doorway, warp)
    fitted = fit_path(path, tolerance)
    assert fitted.closed
    assert apart(path, fitted) <= tolerance + 2 * FINE
    assert chords(fitted).min() >= MIN_SEGMENT
    assert np.abs(fitted.points[:, 2]).max() < 1


@settings(deadline=None, max_examples=50)
@given(doorways, warps)
def test_fit_keeps_area_and_length_within_what_the_tolerance_allows(doorway: Path, warp: Array) -> None:
    """A border moved by at most t sweeps at most t times its length (and pi t^2 at corners)."""
    path = curves.transform_path(doorway, warp)
    fitted = fit_path(path, TOLERANCE)
    length = sum(curves.length(curve) for curve in path)
    assert abs(curves.signed_area(path) - bulge_area(fitted)) <= TOLERANCE * length
    assert length == pytest.approx(bulge_length(fitted), rel=2e-3)


@pytest.mark.parametrize("tolerance", [0.2, 0.02, 0.002])
def test_fit_of_an_ellipse_is_smooth_and_close(tolerance: float) -> None:
    """Biarcs share tangents: the direction jumps nowhere, within rounding."""
    path = ellipse(30.0, 8.0)
    fitted = fit_path(path, tolerance)
    assert apart(path, fitted) <= tolerance + 2 * FINE
    places = fitted.points[:, 0] + 1j * fitted.points[:, 1]
    chord = np.roll(places, -1) - places
    half = 2 * np.arctan(fitted.points[:, 2])
    leaving, arriving = chord * np.exp(-1j * half), chord * np.exp(1j * half)
    assert np.zeros(len(places)) == pytest.approx(np.angle(np.roll(leaving, -1) / arriving), abs=1e-9)


def test_finer_tolerances_cost_about_the_cube_root() -> None:
    """A biarc errs by h^3, so a thousandth of the tolerance takes about ten times the arcs."""
    coarse, fine = (len(fit_path(ellipse(300.0, 80.0), t).points) for t in (0.1, 0.0001))
    assert 7 < fine / coarse < 13


@given(st.floats(0.2, 500), st.floats(-3, 3), st.floats(0.05, 1.5), st.sampled_from([1, -1]))
def test_a_circle_piece_becomes_one_arc(radius: float, start: float, turn: float, way: int) -> None:
    """Bulge = tan(theta / 4), positive counter-clockwise (DXF reference, LWPOLYLINE 42)."""
    path = curves.arc((3.0, -2.0), radius, start, start + way * turn)
    fitted = fit_path(path, TOLERANCE)
    assert len(path) == 1
    assert not fitted.closed
    assert [way * math.tan(turn / 4), 0.0] == pytest.approx(fitted.points[:, 2], abs=1e-9)
    assert radius * turn == pytest.approx(bulge_length(fitted), rel=1e-9)


def test_a_whole_circle_becomes_three_even_arcs() -> None:
    """Under half a turn each: three of 120 degrees, bulge tan 30 degrees."""
    fitted = fit_path(circle(10.0), TOLERANCE)
    assert np.full(3, 1 / math.sqrt(3)) == pytest.approx(fitted.points[:, 2], abs=1e-12)
    assert 20 * math.pi == pytest.approx(bulge_length(fitted), rel=1e-12)
    assert 100 * math.pi == pytest.approx(bulge_area(fitted), rel=1e-12)


def test_a_clockwise_circle_has_negative_bulges_and_area() -> None:
    """The same circle run the other way."""
    fitted = fit_path(curves.reverse_path(circle(10.0)), TOLERANCE)
    assert np.full(3, -1 / math.sqrt(3)) == pytest.approx(fitted.points[:, 2], abs=1e-12)
    assert -100 * math.pi == pytest.approx(bulge_area(fitted), rel=1e-12)


def test_pieces_of_one_circle_are_made_one_arc() -> None:
    """Five pieces over 150 degrees: one arc of bulge tan(37.5 degrees); a half circle stays two quarters."""
    pieces = [curves.arc((0, 0), 5, a, a + math.pi / 6) for a in np.arange(5) * math.pi / 6]
    fitted = fit_path(tuple(curve for path in pieces for curve in path), TOLERANCE)
    assert [math.tan(math.radians(37.5)), 0.0] == pytest.approx(fitted.points[:, 2], abs=1e-12)
    half = fit_path(curves.arc((0, 0), 5, 0, math.pi), TOLERANCE)
    assert [math.sqrt(2) - 1, math.sqrt(2) - 1, 0.0] == pytest.approx(half.points[:, 2], abs=1e-12)


def test_arcs_of_one_circle_that_meet_at_the_path_start_are_made_one() -> None:
    """A segment of a circle whose path begins in the middle of its arc."""
    first, last = curves.arc((0, 0), 5, 0, 0.7), curves.arc((0, 0), 5, -0.7, 0)
    fitted = fit_path((*first, curves.line(first[-1].end, last[0].start), *last), TOLERANCE)
    assert sorted([0.0, math.tan(1.4 / 4)]) == pytest.approx(sorted(fitted.points[:, 2]), abs=1e-12)


def test_straight_runs_become_one_line_and_corners_stay() -> None:
    """A square drawn in eight lines, begun in the middle of a side, is a square of four corners."""
    eight = curves.polygon(np.array([[5, 0], [10, 0], [10, 4], [10, 10], [3, 10], [0, 10], [0, 1], [0, 0]]))
    fitted = fit_path(eight, TOLERANCE)
    assert {(10.0, 0.0), (10.0, 10.0), (0.0, 10.0), (0.0, 0.0)} == {(x, y) for x, y, _ in fitted.points.tolist()}
    assert bulge_area(fitted) == 100.0


def test_points_of_no_length_are_dropped() -> None:
    """A doubled corner makes no segment."""
    doubled = curves.polygon(np.array([[0, 0], [10, 0], [10, 0], [10, 10], [10, 10 + 1e-8], [0, 10]]))
    assert len(fit_path(doubled, TOLERANCE).points) == 4


def test_a_short_chamfer_becomes_a_corner_within_the_tolerance() -> None:
    """0.07 mm across: neither old corner, nor the new one, is further than 0.02 from the other outline."""
    path = curves.polygon(np.array([[0, 0], [10, 0], [10, 9.95], [9.95, 10], [0, 10]]))
    fitted = fit_path(path, TOLERANCE)
    assert len(fitted.points) == 4
    assert apart(path, fitted) <= TOLERANCE


def test_a_short_line_beside_an_arc_is_merged_into_it() -> None:
    """A 0.05 mm jamb under a round head: still within the tolerance, and nothing shorter than 0.1 mm."""
    path = curves.polyline(np.array([[-5, 0], [5, 0], [5, 0.05]])) + curves.arc((0, 0.05), 5, 0, math.pi)
    path += (curves.line([-5, 0.05], [-5, 0]),)
    fitted = fit_path(path, TOLERANCE)
    assert chords(fitted).min() >= MIN_SEGMENT
    assert apart(path, fitted) <= TOLERANCE


def test_a_step_too_small_to_cut_is_shared_between_its_ends() -> None:
    """0.08 mm cannot be both kept and left out: the new line passes its middle, 0.04 mm from either end."""
    path = curves.polygon(np.array([[0, 0], [20, 0], [20, 5], [10, 5], [10, 5.08], [0, 5.08]]))
    fitted = fit_path(path, TOLERANCE)
    assert chords(fitted).min() >= MIN_SEGMENT
    assert apart(path, fitted) <= 0.0401


def test_a_loop_too_small_to_cut_stays_a_loop() -> None:
    """A hole of 0.06 mm is kept as it is; a check elsewhere says that it cannot be cut."""
    fitted = fit_path(circle(0.03), 0.001)
    assert len(fitted.points) >= 2
    assert 0.0009 * math.pi == pytest.approx(bulge_area(fitted), rel=1e-6)


def test_an_open_path_keeps_its_ends() -> None:
    """An open path has one vertex more than segments, the last without bulge."""
    path = curves.transform_path(
        curves.polyline(np.array([[0, 0], [0, 5]])) + curves.arc((-4, 5), 4, 0, 1.2), np.diag([2, 1, 1])
    )
    fitted = fit_path(path, TOLERANCE)
    assert not fitted.closed
    assert path[0].start == pytest.approx(fitted.points[0, :2], abs=1e-12)
    assert [*path[-1].end, 0.0] == pytest.approx(fitted.points[-1], abs=1e-12)


@given(st.floats(0.05, 200), st.floats(-0.99, 0.99).filter(lambda b: abs(b) > 1e-6))
def test_points_of_a_bulge_lie_on_its_circle(chord: float, bulge: float) -> None:
    """Height of the segment = bulge times half the chord, to the right of the chord when the bulge is positive."""
    bulges = Bulges(points=np.array([[0.0, 0.0, bulge], [chord, 0.0, 0.0]]), closed=False)
    points = bulge_points(bulges, 1e-4)
    height = -bulge * chord / 2
    centre = (chord / 2, (height**2 - chord**2 / 4) / (2 * height))
    radius = math.hypot(*centre)
    assert np.full(len(points), radius) == pytest.approx(np.hypot(*(points - centre).T), rel=1e-9)
    sagittas = radius - np.sqrt(np.maximum(radius**2 - (np.hypot(*np.diff(points, axis=0).T) / 2) ** 2, 0))
    assert sagittas.max() <= 1e-4 + 1e-9 * radius


@given(st.floats(-0.9, 0.9), st.floats(-0.9, 0.9))
def test_area_and_length_of_bulges_agree_with_their_points(first: float, second: float) -> None:
    """Closed forms against a fine polygon: its area by shapely, within chord times sagitta."""
    bulges = Bulges(points=np.array([[0, 0, first], [8, 0, second], [3, 5, 0.0]]), closed=True)
    points = bulge_points(bulges, 1e-6)
    signed = float(np.sum(points[:, 0] * np.roll(points[:, 1], -1) - np.roll(points[:, 0], -1) * points[:, 1]) / 2)
    assert signed == pytest.approx(bulge_area(bulges), abs=5e-5)
    assert shapely.LinearRing(points).length == pytest.approx(bulge_length(bulges), rel=1e-6)


def test_the_same_path_gives_the_same_numbers() -> None:
    """Determinism, bit for bit."""
    warp = np.array([[1, 0.1, 0], [0, 1, 0], [0.002, 0.001, 1]])
    first, second = (fit_path(curves.transform_path(arch(20, 30, "pointed"), warp), TOLERANCE) for _ in range(2))
    assert first.points.tobytes() == second.points.tobytes()


@pytest.mark.parametrize(
    ("path", "tolerance", "what"),
    [
        ((), 0.02, "empty"),
        (curves.polyline(np.array([[0, 0], [1, 0]])) + curves.polyline(np.array([[2, 0], [3, 0]])), 0.02, "gap"),
        (curves.polyline(np.array([[0, 0], [math.nan, 0]])), 0.02, "not finite"),
        (curves.polyline(np.array([[0, 0, 0], [1, 0, 0]])), 0.02, "plane"),
        (curves.polyline(np.array([[0, 0], [0, 0]])), 0.02, "no length"),
        (curves.polyline(np.array([[0, 0], [1, 0]])), 0.0, "tolerance"),
        (curves.polyline(np.array([[0, 0], [1, 0]])), math.nan, "tolerance"),
    ],
)
def test_what_is_no_path_is_refused(path: Path, tolerance: float, what: str) -> None:
    """Each with its reason."""
    with pytest.raises(ValueError, match=what):
        fit_path(path, tolerance)
