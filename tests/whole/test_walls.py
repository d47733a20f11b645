"""The thickness of every print of every demo scene, by brute force over the written files."""

from __future__ import annotations

import io
import math
from collections.abc import Callable

import numpy as np
import pytest
import trimesh

from pipeline.build import Build

from ..conftest import built
from ..prints.brute import walls, widest_ball
from .sampling import some

Record = Callable[[str, object], None]

MEASURED_TO = 2.0
"""Times the printer's least wall: thicker walls are told by a bound only."""
CHORD = math.cos(math.radians(15))
"""The program measures at a chord's start if t cos(a) / cos(a / 2) is less than what it has, t the chord and a < 30
degrees the angle between the two sides; their distance there is t cos(a) at least."""
INSET = 2e-3
"""mm; rays start a micron off corners, along the facet and beneath it."""
STUB, CUBE = math.sqrt(2), math.sqrt(3)
"""What juts out of a ball as wide as the least wall no farther than it is thick times the first, or the ball's radius
times the second, is a lip and no wall."""


def test_no_wall_is_thinner_than_is_said(demo: Build, record_property: Record) -> None:
    """Of each print: some two facets are as near as its figure, and what is thinner is a lip: a ball fits in beside it.

    Raised units are detail, not walls; of their plates only is a figure told.
    """
    files = {part["id"]: part["files"] for part in demo.manifest["parts"]}
    raised = {check["part"] for check in demo.manifest["checks"] if "plate" in check["message"]}
    for check in demo.manifest["checks"]:
        if check["id"] != "print-wall" or check["part"] in raised:
            continue
        triangles = triangles_of(demo.files[files[check["part"]]["stl"]])
        figure, least = check["value"], check["limit"]
        # Two facets are as near, though what is nearest round an edge may be aslant.
        assert walls(triangles, figure / CHORD + INSET, across=0.0)[0].min() < figure / CHORD + INSET, check["part"]
        gaps, middles = walls(triangles, figure / CHORD + INSET)
        if (gaps >= least).any():
            thinnest = min(float(gaps[gaps >= least].min()), MEASURED_TO * least)
            record_property("wall told too thick, mm", float(min(figure, MEASURED_TO * least) - thinnest))
        # And nothing is thinner that is a wall.
        bound = min(figure, MEASURED_TO * least) * CHORD - INSET
        thin = np.flatnonzero(gaps < bound)
        assert (gaps[thin] < least).all(), f"{check['part']}: {gaps[thin].max():.4f} mm, said {figure:.4f}"
        for place in some(thin.tolist(), check["part"]):
            reach = max(least / 2 + STUB * gaps[place], CUBE * least / 2)
            wide = widest_ball(triangles, middles[place], reach)
            record_property("ball beside a lip, of the least wall", float(wide / least))
            assert wide >= least * (1 - 1e-3), f"{check['part']}: a wall of {gaps[place]:.4f} mm at {middles[place]}"


def triangles_of(stl: bytes) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return what trimesh reads of an STL file, ``(m, 3, 3)``, mm."""
    return np.asarray(trimesh.load(io.BytesIO(stl), file_type="stl").triangles, dtype=np.float64)


def test_a_thinner_wall_would_be_noticed() -> None:
    """A rib of the tunnel pressed to half its thickness is half as thick, and no ball as wide as before fits in."""
    tunnel = built("tunnel")
    (check,) = (one for one in tunnel.manifest["checks"] if (one["id"], one["part"]) == ("print-wall", "rib-left-1"))
    triangles = triangles_of(tunnel.files["prints/rib-left-1.stl"])
    pressed = triangles * [1.0, 1.0, 0.5]
    gaps, middles = walls(pressed, check["value"])
    thin = int(gaps.argmin())
    assert gaps[thin] == pytest.approx(check["value"] / 2, abs=1e-3)
    assert widest_ball(pressed, middles[thin], check["value"]) == pytest.approx(check["value"] / 2, abs=1e-3)
