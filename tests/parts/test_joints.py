"""Joints of panels: mitres against real bodies, angles against closed forms."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.parts.joints import mitre, room_angle


@given(st.floats(20, 175), st.floats(0.5, 8), st.floats(0.5, 8))
def test_mitred_sheets_meet_without_overlap_or_gap(angle_deg: float, mine: float, theirs: float) -> None:
    """Two sheets cut to e = (tB + tA cos th) / sin th fill the corner: no common volume, one shared plane.

    The bodies are made by manifold3d from the outlines, so the formula is held against real volumes.
    """
    angle = math.radians(angle_deg)
    a, b = mitre(angle, mine, theirs), mitre(angle, theirs, mine)
    length = 200.0
    # Cross-sections: A lies along +x with its body below, B rises at the room-side angle with its body beyond.
    a_section = [(0.0, 0.0), (-a.slope * mine, -mine), (length, -mine), (length, 0.0)]
    away, out = np.array([math.cos(angle), math.sin(angle)]), np.array([-math.sin(angle), math.cos(angle)])
    b_section = [
        (0, 0),
        tuple(length * away),
        tuple(length * away + theirs * out),
        tuple(theirs * out - b.slope * theirs * away),
    ]
    bodies = [
        manifold3d.Manifold.extrude(manifold3d.CrossSection([np.array(s)], manifold3d.FillRule.NonZero), 10.0)
        for s in (a_section, b_section)
    ]
    assert (bodies[0] ^ bodies[1]).volume() == pytest.approx(0.0, abs=1e-4)
    hidden_a, hidden_b = np.array(a_section[1]), np.array(b_section[3])
    assert hidden_a == pytest.approx(hidden_b, abs=1e-9 * (1 + abs(a.slope) * mine))


def test_equal_sheets_at_a_right_angle_are_cut_at_45_degrees() -> None:
    """The plain box corner."""
    assert mitre(math.pi / 2, 3, 3).bevel_deg == pytest.approx(45)


def test_near_180_degrees_the_edge_is_square() -> None:
    """The formula runs off to infinity there."""
    assert mitre(math.radians(179.8), 3, 3).slope == 0


def test_room_angle_of_floor_and_back_wall_is_a_right_angle_and_the_rake() -> None:
    """A floor raked by r meets an upright back wall at 90 + r degrees."""
    rake = math.radians(14)
    floor, back = np.array([0, -math.sin(rake), math.cos(rake)]), np.array([0.0, -1.0, 0.0])
    assert math.degrees(room_angle(floor, back)) == pytest.approx(104)
