"""Raised units of walls that reach below the front floor."""

from __future__ import annotations

import numpy as np
import pytest

from tests.brick_relief.rooms import made, raised_print, text

DOWN = '\n[[steps]]\nname = "pit"\nat = 9.0\ncount = 3\nrise = -0.2\ngoing = 0.3\n'
PER_M = 1000 / 48
GAUGE, JOINT = 0.42, 0.02


def test_courses_run_on_down_to_a_lower_floor() -> None:
    """The pit is 0.6 m deep: under the floor's level stands course -1 whole, its top a joint below, and -2 cut.

    What stands out of the back wall by more than half of its relief is the top of a unit.
    """
    evidence = made(text("back", more=DOWN))
    part, raised = raised_print(evidence, "back-wall")
    points = part.skin_imagined.vertices
    out = (points - raised.face.imagined_from_host[:3, 2]) @ raised.face.inward
    floor = evidence.room.hall.shape.floor
    heights = np.unique(np.round((points[out > raised.relief / 2, 2] - floor) / PER_M, 6))
    below = heights[heights < -1e-6]
    for edge in (-JOINT, -GAUGE, -GAUGE - JOINT):
        assert np.abs(below - edge).min() < 1e-4
    assert below.min() == pytest.approx(-0.6, abs=0.05)
    assert not ((below > -JOINT + 1e-4) & (below < -1e-4)).any()
