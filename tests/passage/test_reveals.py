"""Reveals: strips, printed frames, and holes cut along them."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.checks.evidence import Evidence
from pipeline.geometry import frames

from ..scene_text import PLAIN
from .rooms import built
from .test_passages import assert_fits, panel, refusal


def gate(reveal: float, head: str = "flat", extra: str = "") -> str:
    return (
        PLAIN + f'[[openings]]\nname = "gate"\nwall = "right"\nat = 8.0\nwidth = 1.6\nsill = 0.4\nheight = 2.4\n'
        f'head = "{head}"\nreveal = {reveal}\n{extra}\n'
    )


def hidden_corners(evidence: Evidence, part: str) -> np.ndarray:
    """Return the corners of the hole on the sheet's hidden face, built mm."""
    sheet = panel(evidence, part)
    corners = np.array([edge.curve.start for edge in sheet.hidden.holes[0]])
    depth = np.full(len(corners), -sheet.thickness - sheet.finish)
    return frames.apply(sheet.leaves[0].built_from_flat, np.column_stack([corners, depth]))


def test_a_thick_wall_is_seen_in_strips() -> None:
    """0.4 m at 1:48 is 8.3 mm, more than the sheet of 3 mm as built too; the eye sees sill and far jamb."""
    evidence = built(gate(0.4))
    assert {"gate-sill", "gate-far-jamb"} <= {panel.id for panel in evidence.panels}
    assert set(evidence.imagined.unseen) == {"gate-soffit", "gate-near-jamb"}
    assert_fits(evidence)


def test_a_thin_wall_is_a_hole_cut_along_it() -> None:
    """0.1 m at 1:48 is 2.1 mm, thinner than the sheet: jambs keep their built y, as planes y = const do."""
    evidence = built(gate(0.1))
    assert len(evidence.panels) == 5
    assert "cut along it" in " ".join(fact.text for fact in evidence.imagined.facts)
    imagined = [(8.0 - 0.8) * 1000 / 48, (8.0 + 0.8) * 1000 / 48]
    expected = [evidence.room.relief.built_y(y) for y in imagined]
    y = hidden_corners(evidence, "right-wall")[:, 1]
    assert [y.min(), y.max()] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("head", ["flat", "round"])
def test_a_printed_frame_stands_behind_the_sheet(head: str) -> None:
    """One tube, open at both ends."""
    evidence = built(gate(0.5, head, 'reveal_as = "print"'))
    assert [part.id for part in evidence.prints] == ["gate-reveal"]
    assert evidence.bodies["gate-reveal"].genus() == 1
    assert_fits(evidence)


def test_strips_round_a_bent_head_are_refused() -> None:
    """Flat strips cannot follow it; the print is offered."""
    assert 'reveal_as = "print"' in refusal(gate(0.4, "round")).problems[0].remedy
