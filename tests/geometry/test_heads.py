"""Heads: published radii, exact ends, tangency, and parallel rings."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.geometry import curves, heads
from tests.strategies import HEADS


def points_of(path: curves.Path, count: int = 17) -> np.ndarray:
    return np.vstack([curves.evaluate(curve, np.linspace(0, 1, count)) for curve in path])


def a_rise(head: heads.Head, span: float, share: float) -> float:
    least, most = heads.rise_limits(head, span)
    return least + share * (min(most, 2 * span) - least) if head != "flat" else 0.0


shares = st.floats(0.05, 0.95)
spans = st.floats(0.5, 400)
any_head = st.sampled_from(HEADS)


@pytest.mark.parametrize(
    ("span", "rise", "radius"),
    [
        (96, 12, 102),  # published, references: BIA Technical Note 31 and trade tables
        (6, 1, 5),
        (96, 24, 60),
        (85, 4, 227.78125),  # s^2/(8h) + h/2 by hand: 7225/32 + 2
        (2.4, 0.6, 1.5),
    ],
)
def test_segmental_radius_is_the_published_one(span: float, rise: float, radius: float) -> None:
    """Every point of the head lies on the circle of the published radius, centred under the apex."""
    points = points_of(heads.head_path("segmental", span, rise))
    distances = np.linalg.norm(points - [0, rise - radius], axis=1)
    assert distances == pytest.approx(np.full(len(points), radius), abs=1e-9 * radius)


def test_segmental_24_by_06_subtends_106_degrees() -> None:
    """The included angle of s = 2.4, h = 0.6 is 2 asin(1.2 / 1.5) = 106.26 degrees (arc length / R)."""
    path = heads.head_path("segmental", 2.4, 0.6)
    angle = math.degrees(sum(curves.length(curve) for curve in path) / 1.5)
    assert pytest.approx(106.26, abs=0.005) == angle


def test_equilateral_pointed_head_has_the_span_as_radius() -> None:
    """Centres a span apart give an equilateral arch with h = 0.8660 s (BIA Technical Note 31)."""
    rise = heads.default_rise("pointed", 1.0)
    assert pytest.approx(0.8660, abs=5e-5) == rise
    points = points_of(heads.head_path("pointed", 1.0, rise))
    right = points[points[:, 0] >= 0]
    assert np.linalg.norm(right - [-0.5, 0], axis=1) == pytest.approx(np.ones(len(right)), abs=1e-12)


@given(spans, st.floats(0.51, 3))
def test_pointed_rise_and_radius_invert_each_other(span: float, share: float) -> None:
    """h = sqrt(R s - s^2 / 4) undoes R = h^2 / s + s / 4 (BIA Technical Note 31)."""
    radius = heads.pointed_radius(span, share * span)
    assert math.sqrt(radius * span - span**2 / 4) == pytest.approx(share * span, rel=1e-12)


def test_three_centred_crown_radius_of_six_by_two() -> None:
    """a = 3, h = 2, r = 1 gives R = (9 + 4 - 6) / 2 = 3.5; the default's radii obey the same equation."""
    assert (3**2 + 2**2 - 2 * 3 * 1) / (2 * (2 - 1)) == 3.5
    side, crown = heads.basket_radii(6, 2)
    assert crown == pytest.approx((9 + 4 - 6 * side) / (2 * (2 - side)), rel=1e-12)
    assert math.hypot(3 - side, crown - 2) == pytest.approx(crown - side, rel=1e-12)


@given(spans, st.floats(0.1, 0.95))
def test_basket_side_radius_has_the_least_ratio(span: float, share: float) -> None:
    """Bossut: no other side radius gives a smaller R / r (searched over all of them)."""
    half, rise = span / 2, share * span / 2
    side, crown = heads.basket_radii(span, rise)
    others = np.linspace(0.001, 0.999, 999) * rise
    ratios = (half**2 + rise**2 - 2 * half * others) / (2 * (rise - others)) / others
    assert crown / side <= ratios.min() * (1 + 1e-9)


@given(any_head, spans, shares)
def test_heads_run_from_right_springing_over_apex_to_left(head: heads.Head, span: float, share: float) -> None:
    """Ends and apex are exact, pieces join, and the area under the curve is positive: counter-clockwise."""
    rise = a_rise(head, span, share)
    path = heads.head_path(head, span, rise)
    assert path[0].start == pytest.approx([span / 2, 0], abs=1e-9 * span)
    assert path[-1].end == pytest.approx([-span / 2, 0], abs=1e-9 * span)
    assert curves.bounds(path)[1] == pytest.approx([span / 2, rise], abs=1e-9 * span)
    for before, after in itertools.pairwise(path):
        assert before.end == pytest.approx(after.start, abs=1e-9 * span)
    if head != "flat":
        assert curves.signed_area((*path, curves.line(path[-1].end, path[0].start))) > 0


@given(any_head.filter(lambda head: head != "flat"), spans, shares)
def test_heads_are_tangent_continuous_but_for_the_apex(head: heads.Head, span: float, share: float) -> None:
    """Only a pointed or ogee head may turn sharply, and only on the middle line."""
    path = heads.head_path(head, span, a_rise(head, span, share))
    for before, after in itertools.pairwise(path):
        one, two = curves.tangent(before, 1.0), curves.tangent(after, 0.0)
        cosine = one @ two / np.linalg.norm(one) / np.linalg.norm(two)
        if head in ("pointed", "ogee") and abs(before.end[0]) < 1e-9 * span:
            continue
        assert cosine == pytest.approx(1, abs=1e-9)


def test_round_head_of_half_span_is_a_semicircle_and_else_an_ellipse() -> None:
    """Points obey (x / a)^2 + (z / h)^2 = 1 to rounding."""
    for rise in (1.0, 0.3, 2.5):
        points = points_of(heads.head_path("round", 2.0, rise))
        assert points[:, 0] ** 2 + (points[:, 1] / rise) ** 2 == pytest.approx(np.ones(len(points)), abs=1e-12)


@given(spans, st.floats(0.51, 1.3))
def test_ogee_starts_upright_and_ends_upright(span: float, share: float) -> None:
    """Lower centres level with the springing, upper ones level with the apex: both tangents vertical."""
    path = heads.head_path("ogee", span, share * span)
    right = [curve for curve in path if curve.start[0] > 1e-9 * span]
    assert curves.tangent(right[0], 0.0)[0] == pytest.approx(0, abs=1e-9 * span)
    assert curves.tangent(right[-1], 1.0)[0] == pytest.approx(0, abs=1e-7 * span)


@given(st.sampled_from(["segmental", "pointed", "basket", "ogee"]), spans, shares, st.floats(0.01, 0.2))
def test_extrados_is_parallel_to_the_intrados(head: heads.Head, span: float, share: float, ring_share: float) -> None:
    """No point of the extrados is nearer than the ring to the intrados; on arcs it is exactly the ring away."""
    rise, ring = a_rise(head, span, share), ring_share * span
    inner = curves.flatten_path(heads.head_path(head, span, rise), 1e-6 * span)
    outer = points_of(heads.parallel_head(head, span, rise, ring), 9)
    a, b = inner[:-1], inner[1:]
    along = np.einsum("nmk,mk->nm", outer[:, None] - a, b - a) / (np.linalg.norm(b - a, axis=1) ** 2)
    foot = a + np.clip(along, 0, 1)[..., None] * (b - a)
    nearest = np.linalg.norm(outer[:, None] - foot, axis=2).min(axis=1)
    assert nearest.min() >= ring - 2e-6 * span
    if head == "basket":
        assert nearest.max() <= ring + 2e-6 * span


@pytest.mark.parametrize(
    ("head", "rise", "words"),
    [
        ("flat", 0.1, "no rise"),
        ("round", 0.0, "above zero"),
        ("segmental", 0.6, "at most half"),
        ("basket", 0.51, "at most half"),
        ("pointed", 0.4, "at least half"),
        ("ogee", 0.4, "at least half"),
        ("ogee", 1.4, "at most 1.32"),
        ("round", math.nan, "above zero"),
    ],
)
def test_impossible_rises_are_refused_in_plain_words(head: heads.Head, rise: float, words: str) -> None:
    """A head outside its limits raises and says which limit."""
    with pytest.raises(ValueError, match=words):
        heads.head_path(head, 1.0, rise)


@given(any_head, spans)
def test_default_rises_are_allowed(head: heads.Head, span: float) -> None:
    """A head without a given rise can always be drawn."""
    heads.check_rise(head, span, heads.default_rise(head, span))
