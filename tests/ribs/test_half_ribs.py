"""Half ribs at the ends of the hall that the relief makes too thin to print."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely

from pipeline.build import make, shape
from pipeline.checks import bare_box, bodies_apart, half_ribs, print_wall
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.geometry import curves
from tests.checks.holding import hold

CISTERN = Path(__file__).parents[2] / "scenes" / "cistern.toml"
THIN = ("vault.rib_width", "0.4")
"""m. Half of it, 4.17 mm, is 0.95 mm at the back wall of the cistern, less 0.15 mm of play."""


@cache
def thin() -> Evidence:
    return make(CISTERN.read_bytes(), (THIN,))


def warned(evidence: Evidence) -> list[Finding]:
    return list(half_ribs.CHECK.run(evidence))


def test_a_half_rib_too_thin_is_left_out_with_a_warning_that_tells_what_to_do() -> None:
    """Two planes of the relief: with b(y) the built depth, b(250) - b(250 - 4.17) - 0.15."""
    (found,) = warned(thin())
    relief = thin().room.relief
    half = 0.4 * 1000 / 48 / 2
    ends = relief.build_points([(0.0, 250.0, 80.0), (0.0, 250.0 - half, 80.0)])[:, 1]
    assert (found.part, found.status) == ("vault-rib-transverse-4", "warn")
    assert found.value == pytest.approx(ends[0] - ends[1] - 0.15, abs=1e-9)
    assert (found.value or 1.0) < 1.0
    assert 'ribs = "sheet"' in found.message
    assert "vault-rib-transverse-4" not in {part.id for part in thin().prints}
    assert "vault-rib-transverse-1" in {part.id for part in thin().prints}


def test_the_width_it_asks_for_is_enough_and_hardly_more_than_that() -> None:
    asked = re.search(r"at least ([0-9.]+) m", warned(thin())[0].message)
    assert asked is not None
    width = float(asked[1])
    names = [
        {part.id for part in shape(CISTERN.read_bytes(), (("vault.rib_width", f"{one:.3f}"),)).prints}
        for one in (width, width - 0.002)
    ]
    assert ["vault-rib-transverse-4" in found for found in names] == [True, False]


def test_what_is_left_can_be_printed_leaves_nothing_bare_and_is_marked_on_the_back_wall() -> None:
    """The mark is as large as what an ellipse of 86.5 x 62.5 mm is larger than one 5.21 mm less either way, halved."""
    evidence = thin()
    failed = [f for check in (print_wall, bare_box, bodies_apart) for f in check.CHECK.run(evidence)]
    assert [f.message for f in failed if f.status == "fail"] == []
    (mark,) = (mark for mark in evidence.imagined.marks if mark.name == "vault-rib-transverse-4")
    assert mark.host == "back-wall"
    a, r, deep = evidence.room.hall.width / 2, 3.0 * 1000 / 48, 0.25 * 1000 / 48
    marked = shapely.Polygon(curves.flatten_path(mark.curve, 1e-3))
    assert marked.area == pytest.approx(np.pi / 2 * (a * r - (a - deep) * (r - deep)), rel=1e-4)
    assert marked.bounds[3] == pytest.approx((3.2 + 3.0) * 1000 / 48, abs=1e-6)


def test_the_cisterns_own_half_ribs_are_printed() -> None:
    assert warned(shape(CISTERN.read_bytes())) == []


def test_findings_on_half_ribs_are_whole() -> None:
    """As of every part."""
    assert hold(thin(), (half_ribs.CHECK,)) == {"warn"}
