"""Walls with curved tops: holes below the curve, mitres that run into it, tips that ribs hide."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.geometry import curves
from pipeline.geometry.cutting import CutError, subtract
from pipeline.geometry.regions import Region, loop_of, path_of
from pipeline.parts import offsets
from pipeline.parts.webs import build_web
from tests.vault.halls import WARPED, hall, webs

ROUND_TOP = (
    *curves.polyline([(-10, 0), (10, 0), (10, 8)]),
    *curves.arc((0, 8), 10.0, 0.0, math.pi),
    *curves.polyline([(-10, 8), (-10, 0)]),
)


def test_a_round_hole_close_under_a_round_top_is_cut() -> None:
    """Areas: 20 x 8 + 50 pi less 9 pi, though the boxes of the two curves overlap."""
    hole = curves.arc((5, 12), 3.0, 0.0, 2 * math.pi)
    left = subtract(Region(loop_of(ROUND_TOP)), hole, "hole")
    assert sum(curves.signed_area(path_of(loop)) for loop in left.loops) == pytest.approx(160 + 41 * math.pi, abs=1e-9)


def test_a_round_hole_through_a_round_top_is_refused() -> None:
    with pytest.raises(CutError, match="bent edges"):
        subtract(Region(loop_of(ROUND_TOP)), curves.arc((6, 16), 3.0, 0.0, 2 * math.pi), "hole")


def test_a_mitre_that_runs_into_a_curve_ends_in_a_step() -> None:
    """Jambs reach 1 mm out 2 mm deep, the curve is cut square: there the steps are 1 mm, on the visible face none."""
    loop = loop_of(ROUND_TOP)
    reaches = [0.0, 1.0, 0.0, 0.0, 1.0]
    breaks: list[tuple[curves.Array, curves.Array] | None] = [None] * len(loop)
    hidden = offsets.offset_loop(loop, reaches, 2.0, breaks)
    steps = [edge.curve for edge in hidden if edge.against == offsets.STEP]
    assert [curves.length(step) for step in steps] == pytest.approx([1.0, 1.0], abs=1e-12)
    assert curves.signed_area(path_of(hidden)) == pytest.approx(22 * 8 + 50 * math.pi, abs=1e-9)
    assert len(offsets.offset_loop(loop, [0.0] * len(loop), 0.0, breaks)) == len(loop)


def test_with_ribs_only_tips_too_narrow_to_cut_and_hidden_are_trimmed() -> None:
    """Rulings start at the sheet's thickness, 0.5 mm, and below where a square bay's ribs part."""
    under = hall(80.0, 80.0)
    whole = [build_web(web, WARPED, 0.5) for web in webs(under)]
    ribbed = [build_web(web, WARPED, 0.5) for web in webs(under, rib_width=4.0, rib_depth=3.0)]
    # A square bay's bands of half width 2 part 2 (1 + sqrt 2) from the corner.
    parting = 63 + math.sqrt(40**2 - (40 - 2 * (1 + math.sqrt(2))) ** 2)
    for full, cut in zip(whole, ribbed, strict=True):
        assert full.pieces[0].unrolled.lengths[0] == pytest.approx(0.0, abs=1e-9)
        assert cut.web.hidden_below == pytest.approx(parting, abs=1e-9)
        for piece, end in ((cut.pieces[0], 0), (cut.pieces[-1], -1)):
            assert 0.5 <= piece.unrolled.lengths[end] < 0.55
        assert cut.web.section[0].start[1] < parting
        assert cut.area < full.area
        assert cut.area == pytest.approx(full.area, rel=0.01)
    assert np.isfinite([cut.area for cut in ribbed]).all()
