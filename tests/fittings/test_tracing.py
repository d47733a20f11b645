"""Windows traced: areas and bridges against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry import curves
from pipeline.geometry.heads import Head, default_rise, head_path
from pipeline.geometry.tracing import CONVEX, LEAST_ROUNDEL, Roundel, TracingError, Window, clear, quatrefoil, trace

FINE = 1e-5
"""Flattening of curves that are compared as polygons."""

ROUND = Window(
    head="round",
    width=12.0,
    rise=6.0,
    jamb=14.0,
    lights=2,
    mullion=0.8,
    frame=0.0,
    roundel="none",
    bars=(0, 0),
    bar=0.4,
)


def areas(window: Window) -> list[float]:
    """Return the areas of all panes."""
    return [curves.signed_area(pane) for pane in trace(window)]


def shape(path: curves.Path) -> shapely.Polygon:
    """Return a closed path as a polygon."""
    return shapely.Polygon(curves.flatten_path(path, FINE))


def outline(window: Window) -> shapely.Polygon:
    """Return the hole that a window fills."""
    half = window.width / 2
    corners = [(-half, 0.0), (-half, -window.jamb), (half, -window.jamb), (half, 0.0)]
    return shape((*curves.polyline(corners), *head_path(window.head, window.width, window.rise)))


def test_a_light_under_a_round_head_is_a_rectangle_and_half_a_circle() -> None:
    """Span s over a jamb h: s h + pi s^2 / 8."""
    span = (12.0 - 0.8) / 2
    assert areas(ROUND) == pytest.approx([span * 14 + math.pi * span**2 / 8] * 2, rel=1e-12)


def test_a_light_under_an_equilateral_head_holds_two_sectors_less_a_triangle() -> None:
    """Two sectors of 60 degrees share the equilateral triangle: s^2 (pi / 3 - sqrt(3) / 4)."""
    window = replace(ROUND, head="pointed", rise=12 * math.sqrt(3) / 2, lights=3)
    span = (12.0 - 1.6) / 3
    head = span**2 * (math.pi / 3 - math.sqrt(3) / 4)
    assert areas(window) == pytest.approx([span * 14 + head] * 3, rel=1e-9)


def test_a_quatrefoil_is_a_square_and_four_half_circles() -> None:
    """Lobes of radius r / 2 on the sides of the square of side r: r^2 (1 + pi / 2)."""
    assert curves.signed_area(quatrefoil((3.0, -2.0), 1.7)) == pytest.approx(1.7**2 * (1 + math.pi / 2), rel=1e-12)


def test_a_quatrefoil_reaches_its_circle_four_times() -> None:
    """Its bounds are the circle's."""
    assert curves.bounds(quatrefoil((3.0, -2.0), 1.7)) == pytest.approx(np.array([[1.3, -3.7], [4.7, -0.3]]), abs=1e-12)


def test_the_circle_over_two_round_lights_touches_head_and_mullions() -> None:
    """x^2 + (R - r)^2 = (q + m + r)^2, x the lights' middle, q their radius, solved for r; R^2 + x^2 - (q + m)^2
    over 2 (R + q + m)."""
    q, m, radius = (12.0 - 0.8) / 4, 0.8, 6.0
    x = q + m / 2
    expected = (radius**2 + x**2 - (q + m) ** 2) / (2 * (radius + q + m))
    assert areas(replace(ROUND, roundel="round"))[0] == pytest.approx(math.pi * expected**2, rel=1e-9)
    assert areas(replace(ROUND, roundel="quatrefoil"))[0] == pytest.approx(expected**2 * (1 + math.pi / 2), rel=1e-9)


def test_without_mullions_two_round_lights_leave_a_third_of_their_span() -> None:
    """The classical figure: a semicircle of radius R over two of R / 2 holds a circle of R / 3."""
    found = areas(replace(ROUND, roundel="round", mullion=1e-9))[0]
    assert found == pytest.approx(math.pi * 2.0**2, rel=1e-6)


@pytest.mark.parametrize("head", ["flat", "segmental", "basket"])
def test_low_heads_send_the_lights_down_until_the_roundel_is_large_enough(head: Head) -> None:
    """Its radius is then an eighth of the clear span, and the lights keep the mullion from it."""
    window = replace(ROUND, head=head, rise={"flat": 0.0}.get(head, 2.0), roundel="round", frame=0.5)
    roundel, *lights = map(shape, trace(window))
    assert roundel.area == pytest.approx(math.pi * (LEAST_ROUNDEL * 11.0) ** 2, rel=1e-5)
    assert min(roundel.distance(light) for light in lights) == pytest.approx(0.8, abs=1e-4)


def test_glazing_bars_take_their_own_area_out_of_a_light() -> None:
    """A rectangle w by h with bars b: (w - up b) (h - across b) is left, in (up + 1) (across + 1) panes."""
    window = replace(ROUND, head="flat", rise=0.0, lights=1, bars=(3, 2))
    found = areas(window)
    assert len(found) == 12
    assert sum(found) == pytest.approx((12 - 2 * 0.4) * (14 - 3 * 0.4), rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    head=st.sampled_from(CONVEX),
    lights=st.integers(1, 3),
    mullion=st.floats(0.3, 1.5),
    frame=st.floats(0.0, 1.0),
    roundel=st.sampled_from(["none", "round", "quatrefoil"]),
    bars=st.tuples(st.integers(0, 3), st.integers(0, 2)),
)
def test_panes_keep_their_bridges(
    head: Head, lights: int, mullion: float, frame: float, roundel: Roundel, bars: tuple[int, int]
) -> None:
    """Every pane lies in the hole less its frame; two are parted by a mullion, or by a bar within a light."""
    rise = 3.0 if head in ("segmental", "basket") else default_rise(head, 12.0)
    window = replace(ROUND, head=head, rise=rise, lights=lights, mullion=mullion, frame=frame, roundel=roundel)
    window = replace(window, bars=bars, bar=0.2)
    panes = [shape(pane) for pane in trace(window)]
    hole = outline(window)
    assert all(hole.buffer(1e-4).contains(pane) for pane in panes)
    gaps = [a.distance(b) for a, b in combinations(panes, 2)]
    assert min(gaps, default=1.0) >= 0.2 - 1e-4
    whole = [shape(pane) for pane in trace(replace(window, bars=(0, 0)))]
    assert min((a.distance(b) for a, b in combinations(whole, 2)), default=mullion) == pytest.approx(mullion, abs=1e-4)


@pytest.mark.parametrize("head", ["round", "pointed", "segmental"])
def test_the_clear_outline_is_parallel_to_the_hole(head: Head) -> None:
    """Circular heads keep their centres, so a frame f is f wide everywhere."""
    window = replace(
        ROUND, head=head, rise=3.0 if head == "segmental" else default_rise(head, 12.0), frame=0.5, lights=1
    )
    (pane,) = map(shape, trace(window))
    inset = outline(window).buffer(-0.5, quad_segs=64)
    assert pane.symmetric_difference(inset).area == pytest.approx(0.0, abs=2e-3)


def test_a_roundel_is_made_of_circles() -> None:
    """Each of its arcs has the circle's rational weights: the middle one is the cosine of half its angle."""
    roundel = trace(replace(ROUND, roundel="round"))[0]
    assert [curves.normalised_weights(arc)[1][1] for arc in roundel] == pytest.approx([math.cos(math.pi / 4)] * 4)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"frame": 6.0}, "the frame"),
        ({"mullion": 12.0}, "2 lights"),
        ({"bars": (0, 1), "bar": 5.0}, "the glazing bars"),
        ({"jamb": 0.5, "frame": 0.5}, "lights below its head"),
        ({"head": "flat", "rise": 0.0, "jamb": 3.0, "roundel": "round"}, "the lights under the roundel"),
    ],
)
def test_what_does_not_fit_is_named(change: dict[str, Any], said: str) -> None:
    """The message tells which of the pieces has no room."""
    with pytest.raises(TracingError, match=said):
        trace(replace(ROUND, **change))


def test_a_frame_of_nothing_leaves_the_hole_itself() -> None:
    """The clear outline without a frame has the window's own figures."""
    found = clear(ROUND)
    assert (found.span, found.rise, found.springing, found.sill) == (12.0, 6.0, 0.0, -14.0)
