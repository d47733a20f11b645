"""Patches and shadows against closed forms of the imagined room."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.build import shape
from pipeline.checks.evidence import Evidence
from pipeline.geometry import curves
from pipeline.parts.lighting.model import Patch

from .lamps import ROOM, beam, lamp

M = 1000 / 48
"""Imagined mm of a metre."""


def window(wall: str = "right", at: float = 6.0, wide: float = 1.2, sill: float = 0.9, head: float = 2.4) -> str:
    return f'''
[[openings]]
name = "window"
wall = "{wall}"
at = {at}
width = {wide}
sill = {sill}
height = {head - sill}
'''


def floor_patch(evidence: Evidence) -> Patch:
    (patch,) = (patch for patch in evidence.casts[0].patches if patch.part == "floor")
    return patch


@settings(max_examples=8)
@given(st.floats(0.3, 1.2), st.floats(0.2, 1.2), st.floats(35, 65), st.floats(-0.5, 0.5))
def test_the_sun_patch_of_a_window_runs_from_sill_to_head_over_the_tangent(
    sill: float, high: float, height_deg: float, slant: float
) -> None:
    """On a level floor from z_sill / tan(beta) to z_head / tan(beta) along the ray's plan direction: the altitude beta
    is measured along that direction, so square to the wall both shrink by the cosine of its slant."""
    beta = np.radians(height_deg)
    way = (-np.cos(slant) * np.cos(beta), np.sin(slant) * np.cos(beta), -np.sin(beta))
    text = ROOM + window(sill=sill, head=sill + high) + beam(float(way[0]), float(way[1]), float(way[2]))
    evidence = shape(text.encode())
    corners = curves.bounds([curve for loop in floor_patch(evidence).loops for curve in loop])
    wall = evidence.room.hall.width  # u of the right wall on the floor
    near, far = (value / np.tan(beta) * np.cos(slant) * M for value in (sill, sill + high))
    assert [wall - far, wall - near] == pytest.approx(corners[:, 0], abs=1e-3)
    shift = [z / np.tan(beta) * np.sin(slant) * M for z in (sill, sill + high)]
    assert 6.0 * M - 0.6 * M + min(shift) == pytest.approx(corners[0, 1], abs=1e-3)
    assert 6.0 * M + 0.6 * M + max(shift) == pytest.approx(corners[1, 1], abs=1e-3)


def test_a_patch_of_a_round_window_is_the_exact_conic() -> None:
    """Parallel light takes the half circle to half an ellipse on the floor, an affine image: rational curves."""
    text = ROOM + window() + 'head = "round"\n' + beam(-1.0, 0.0, -1.0)
    (loop,) = floor_patch(shape(text.encode())).loops
    bent = [curve for curve in loop if not curve.straight]
    assert len(bent) == 2
    points = np.vstack([curves.evaluate(curve, np.linspace(0, 1, 9)) for curve in bent])
    wide = 173.0  # of the hall, mm
    springing, radius = (2.4 - 0.6) * M, 0.6 * M
    across, along = (wide - points[:, 0] - springing) / radius, (points[:, 1] - 6.0 * M) / radius
    assert np.ones(len(points)) == pytest.approx(across**2 + along**2, abs=1e-9)


def test_a_lamp_throws_a_window_larger_by_similar_triangles() -> None:
    """A lamp 1.5 m beyond the right wall and 4 m up, the floor below: sill and head land at h x / (h - z)."""
    text = ROOM + window() + lamp(8.304 / 2 + 1.5, 6.0, 4.0)
    corners = curves.bounds([curve for loop in floor_patch(shape(text.encode())).loops for curve in loop])
    far, near = (1.5 * M * (4.0 / (4.0 - z) - 1) for z in (2.4, 0.9))
    assert [173.0 - far, 173.0 - near] == pytest.approx(corners[:, 0], abs=1e-3)
    assert pytest.approx(corners[1, 1] - corners[0, 1], abs=1e-3) == 1.2 * M * 4.0 / (4.0 - 2.4)


def test_a_reveal_takes_its_thickness_from_slanting_light() -> None:
    """Through a wall r thick light at an angle passes w - r tan of a window w wide."""
    text = ROOM + window() + "reveal = 0.4\n" + beam(-1.0, 0.75, -0.5)
    evidence = shape(text.encode())
    (way,) = evidence.casts[0].ways
    open_wide, open_high = 1.2 - 0.4 * 0.75, 1.5 - 0.4 * 0.5
    assert open_wide * open_high / (1.2 * 1.5) == pytest.approx(way.share, abs=1e-6)


POST = '\n[[columns]]\nname = "post"\nat = [0.0, 4.0]\ndiameter = 0.6\nsection = "square"\n'


def test_a_square_post_throws_a_wedge() -> None:
    """From a lamp 3 m before it on the middle line, a post 0.6 m square from floor to ceiling darkens the floor within
    the lines through its front corners: at the back wall 8 m on, 0.3 (11 / 2.7) m to either side."""
    evidence = shape((ROOM + POST + lamp(0.0, 1.0, 3.0) + "\n[make]\nfit = 0.0\n").encode())
    (dark,) = (shadow for shadow in evidence.casts[0].shadows if shadow.part == "back-wall")
    corners = curves.bounds([curve for loop in dark.loops for curve in loop])
    half = 0.3 * 11 / 2.7 * M
    assert [86.5 - half, 86.5 + half] == pytest.approx(corners[:, 0], abs=2e-3)


FIGURE = '\n[[figures]]\nname = "warden"\nheight = 1.75\nat = [0.0, 5.0]\n'


def test_a_figure_throws_its_height_by_similar_triangles() -> None:
    """A lamp 3.5 m up, 2 m before it: the crown's shadow lies 2 m behind the feet."""
    evidence = shape((ROOM + FIGURE + lamp(0.0, 3.0, 3.5)).encode())
    (shadow,) = (shadow for shadow in evidence.casts[0].shadows if shadow.by == "warden")
    corners = curves.bounds([curve for loop in shadow.loops for curve in loop])
    assert shadow.part == "floor"
    assert pytest.approx(corners[:, 1], abs=0.02) == [5.0 * M, 7.0 * M]
