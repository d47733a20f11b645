"""The kerf against closed forms and shapely's offsets."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.elements.opening import outline
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.heads import default_rise
from pipeline.sheets.kerf import KerfError, widen

FINE = 0.0005


def area(path: Path) -> float:
    return curves.signed_area(path)


def test_a_rectangle_grows_by_half_the_kerf_on_each_side() -> None:
    """(a + k)(b + k), corners sharp."""
    grown = widen(curves.polygon([(0, 0), (40, 0), (40, 25), (0, 25)]), 0.1, 0.01)
    assert area(grown) == pytest.approx(40.2 * 25.2, abs=1e-9)
    assert len(grown) == 4


@given(st.floats(2, 60), st.floats(0.01, 0.5))
def test_a_disc_grows_and_a_round_hole_shrinks(radius: float, by: float) -> None:
    """pi (r + k/2)^2 and pi (r - k/2)^2; arcs stay arcs of that radius."""
    disc = curves.arc((3.0, -2.0), radius, 0, 2 * math.pi)
    assert area(widen(disc, by, 0.01)) == pytest.approx(math.pi * (radius + by) ** 2, rel=1e-6)
    assert area(widen(curves.reverse_path(disc), by, 0.01)) == pytest.approx(-math.pi * (radius - by) ** 2, rel=1e-6)


@pytest.mark.parametrize("head", ["flat", "round", "segmental", "pointed", "basket"])
@pytest.mark.parametrize("hole", [False, True])
def test_arched_outlines_agree_with_shapely(head: str, hole: bool) -> None:
    """Against shapely's mitred buffer of the same outline in fine chords, as outer contour and as hole."""
    path = outline(head, middle=0, sill=0, width=20, height=40, rise=default_rise(head, 20))  # type: ignore[arg-type]
    if hole:
        path = curves.reverse_path(path)
    chords = shapely.Polygon(curves.flatten_path(path, FINE))
    expected = chords.buffer(-0.09 if hole else 0.09, join_style="mitre", mitre_limit=30)
    moved = shapely.Polygon(curves.flatten_path(widen(path, 0.09, 0.002), FINE))
    assert moved.is_valid
    assert moved.symmetric_difference(expected).area < 0.01
    assert moved.hausdorff_distance(expected) < 0.01


def test_no_kerf_leaves_the_path_alone() -> None:
    """A knife has none."""
    path = curves.polygon([(0, 0), (4, 0), (4, 4)])
    assert widen(path, 0.0, 0.01) is path


def test_a_cut_wider_than_a_hole_is_refused() -> None:
    """A 0.3 mm hole cannot be cut with a 0.4 mm cut."""
    disc = curves.reverse_path(curves.arc((0, 0), 0.15, 0, 2 * math.pi))
    with pytest.raises(
        KerfError, match=r"the hole of 0\.3 x 0\.3 mm at \(0\.0, 0\.0\) .* narrower than the cut of 0\.4 mm"
    ):
        widen(disc, 0.2, 0.001)


def test_a_long_hole_that_is_too_narrow_is_told_by_both_its_sizes() -> None:
    """A window 23.3 mm high that a deep hall squeezes to 0.1 mm, as a triangle, its middle a third up; cut: 0.18 mm."""
    sliver = curves.polygon([(6.4, 25.4), (6.47, 48.7), (6.5, 25.4)])
    with pytest.raises(KerfError, match=r"the hole of 0\.1 x 23\.3 mm at \(6\.5, 33\.2\) on its drawing is narrower"):
        widen(curves.reverse_path(sliver) if curves.signed_area(sliver) > 0 else sliver, 0.09, 0.02)


def test_a_cut_wider_than_a_notch_is_refused() -> None:
    """A 0.3 mm slot closes up under a 0.4 mm cut."""
    slot = [(0, 0), (5, 0), (5, 4), (5.3, 4), (5.3, 0), (9, 0), (9, 9), (0, 9)]
    with pytest.raises(
        KerfError, match=r"a gap of 0\.3 mm at \(5\.[12], \d\.\d\) on its drawing is narrower than the cut of 0\.4"
    ):
        widen(curves.polygon(slot), 0.2, 0.01)


def test_a_neck_narrower_than_the_cut_is_refused() -> None:
    """A keyhole: its round end is wide enough, its neck of 0.3 mm closes up under a 0.4 mm cut."""
    hole = curves.arc((5, 5), 2, -np.pi / 2 + 0.075, 1.5 * np.pi - 0.075)
    start, end = hole[0].start, hole[-1].end
    path = (
        *curves.polyline([(0, 0), (end[0], 0), tuple(end)]),
        *curves.reverse_path(hole),
        *curves.polyline([tuple(start), (start[0], 0), (10, 0), (10, 10), (0, 10), (0, 0)]),
    )
    assert len(widen(path, 0.05, 0.01)) > 8
    with pytest.raises(
        KerfError, match=r"a gap of 0\.3 mm at \((4\.9|5\.0|5\.1), [12]\.\d\) on its drawing is narrower"
    ):
        widen(path, 0.2, 0.01)


@pytest.mark.parametrize("by", [0.05, 0.1, 0.25])
@pytest.mark.parametrize("lean", [0.0, 0.002, -0.002])
def test_a_notch_that_narrows_to_nothing_is_cut_as_far_as_there_is_room(by: float, lean: float) -> None:
    """Two tall half ellipses side by side, as vault cells leave a wall: shapely's mitred buffer of the same outline.

    A fitted arc may lean by a trifle at the tip, either way.
    """
    lobe = curves.transform_path(curves.arc((0, 0), 13, 0, math.pi), np.diag([1.0, 3.0, 1.0]))
    shifted = curves.transform_path(lobe, np.array([[1.0, lean, 26], [0, 1, 0], [0, 0, 1]]))
    first = curves.transform_path(lobe, np.array([[1.0, -lean, 0], [0, 1, 0], [0, 0, 1]]))
    sides = curves.polyline([tuple(first[-1].end), (-13, -20), (39, -20), tuple(shifted[0].start)])
    path = (*sides, *shifted, *first)
    expected = shapely.Polygon(curves.flatten_path(path, FINE)).buffer(by, join_style="mitre", mitre_limit=30)
    grown = shapely.Polygon(curves.flatten_path(widen(path, by, 0.005), FINE))
    assert grown.is_valid
    assert grown.symmetric_difference(expected).buffer(-0.02).area < 1e-3
