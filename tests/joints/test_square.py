"""Square edges: cross-sections built from the formulas and held against real bodies."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.parts.fillets import NARROWEST, section_of
from pipeline.parts.joints import Joint, square_behind, square_inward, square_outward

LONG = 400.0
"""mm; farther than any corner reaches."""

thicknesses = st.floats(0.5, 6)


def sheets(angle: float, a: Joint, b: Joint, thick: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Return two sections ``(4, 2)``: A along +x with its body below, B at the room-side angle with its body beyond."""
    away, out = np.array([math.cos(angle), math.sin(angle)]), np.array([-math.sin(angle), math.cos(angle)])
    x = a.back
    first = np.array([(x, 0.0), (x, -thick[0]), (LONG, -thick[0]), (LONG, 0.0)])
    second = np.array([b.back * away, LONG * away, LONG * away + thick[1] * out, b.back * away + thick[1] * out])
    return first, second


def body(section: np.ndarray) -> manifold3d.Manifold:
    """Return a bar 1 mm long, so that its volume is its section's area."""
    shape = manifold3d.CrossSection([section], manifold3d.FillRule.Positive)
    return manifold3d.Manifold.extrude(shape, 1.0)


@given(st.floats(30, 179), thicknesses, thicknesses)
def test_on_the_line_square_sheets_neither_overlap_nor_gape(angle_deg: float, mine: float, theirs: float) -> None:
    """Both edges start on the visible line, and from there the bodies part by 180 - th (manifold3d)."""
    angle = math.radians(angle_deg)
    a = square_inward(angle, mine, theirs, through=True, butted=False)
    b = square_inward(angle, theirs, mine, through=False, butted=False)
    first, second = sheets(angle, a, b, (mine, theirs))
    assert (body(first) ^ body(second)).volume() == pytest.approx(0, abs=1e-9)
    assert (a.back, a.gap, b.back, b.gap) == (0, 0, 0, 0)
    assert first[0] == pytest.approx(second[0])


@given(st.floats(91, 179), thicknesses, thicknesses)
def test_butted_the_one_stands_on_the_other_and_gapes_by_tb_cos(angle_deg: float, mine: float, theirs: float) -> None:
    """B back by tB |cot th|, gap tB |cos th|: B's hidden foot is the point where it rests on A, where A just ends."""
    angle = math.radians(angle_deg)
    a = square_inward(angle, mine, theirs, through=True, butted=True)
    b = square_inward(angle, theirs, mine, through=False, butted=True)
    assert b.back == pytest.approx(theirs * abs(1 / math.tan(angle)))
    assert a.gap == b.gap == pytest.approx(theirs * abs(math.cos(angle)))
    first, second = sheets(angle, a, b, (mine, theirs))
    assert (body(first) ^ body(second)).volume() == pytest.approx(0, abs=1e-9)
    foot = second[3]
    assert foot == pytest.approx(first[0], abs=1e-9)  # where A, run on, ends
    assert second[0][1] == pytest.approx(b.gap)  # the visible foot over A's face


@given(st.floats(181, 330), thicknesses, thicknesses)
def test_round_an_outward_corner_square_sheets_keep_apart_and_behind_both_faces(
    angle_deg: float, mine: float, theirs: float
) -> None:
    """No overlap, nothing of A in front of B's face, no slit between them (manifold3d); the gap is B's visible corner's
    distance from A (shapely)."""
    angle = math.radians(angle_deg)
    psi = 2 * math.pi - angle
    a = square_outward(angle, mine, theirs, through=True)
    b = square_outward(angle, theirs, mine, through=False)
    assert a.gap == b.gap
    first, second = sheets(angle, a, b, (mine, theirs))
    assert (body(first) ^ body(second)).volume() == pytest.approx(0, abs=1e-9)
    out = np.array([-math.sin(angle), math.cos(angle)])
    assert (first @ out).min() >= -1e-9  # A's corners lie on B's sheet's side of its visible face
    assert a.back == pytest.approx(mine * max(0.0, 1 / math.tan(psi)), abs=1e-9)
    assert body(first).min_gap(body(second), LONG) == pytest.approx(0, abs=1e-6)
    assert Polygon(first).distance(Point(second[0])) == pytest.approx(a.gap, abs=1e-6)
    if psi < math.pi / 2:
        assert second[:, 1].max() == pytest.approx(-mine, abs=1e-6)  # B reaches A's hidden plane and no farther
    else:
        assert b.back <= min(mine * math.sin(psi), theirs * abs(math.tan(psi))) + 1e-9


@given(st.floats(181, 269), thicknesses, thicknesses)
def test_on_the_through_sheets_hidden_plane_a_blunt_corner_would_gape(
    angle_deg: float, mine: float, theirs: float
) -> None:
    """Back by tA / sin psi instead, as behind a frame: a slit of tA cos^2 psi / sin psi or more (manifold3d)."""
    angle = math.radians(angle_deg)
    psi = 2 * math.pi - angle
    behind = square_behind(angle, theirs, mine)
    first, second = sheets(angle, Joint(angle, 0.0), Joint(angle, 0.0, back=mine / math.sin(psi)), (mine, theirs))
    assert body(first).min_gap(body(second), LONG) == pytest.approx(behind.gap, abs=1e-6)
    assert behind.gap >= mine * math.cos(psi) ** 2 / math.sin(psi) - 1e-9
    assert behind.back == 0


@given(st.floats(46, 179), thicknesses, thicknesses, thicknesses)
def test_a_strip_lies_in_the_wedge_and_touches_both_edges(
    angle_deg: float, mine: float, theirs: float, thick: float
) -> None:
    """It overlaps neither sheet, lies flat on its host's edge, touches the other and stays in front of both backs."""
    angle = math.radians(angle_deg)
    host = SurfaceSheet(material="a", thickness=mine, finish=0.0)
    other = SurfaceSheet(material="b", thickness=theirs, finish=0.0)
    off, high, low = section_of(angle, host, other, thick)
    if low - high < NARROWEST:
        return
    assert thick <= theirs
    strip = np.array([(-off, -low), (0, -low), (0, -high), (-off, -high)])
    plain = Joint(angle, 0.0)
    first, second = sheets(angle, plain, plain, (mine, theirs))
    for section in (first, second):
        assert (body(strip) ^ body(section)).volume() == pytest.approx(0, abs=1e-9)
        assert body(strip).min_gap(body(section), LONG) == pytest.approx(0, abs=1e-6) or angle_deg < 90  # of squares
    assert low == mine
