"""Plank doors: their guides and their hinges."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from pipeline.elements.fillings.door import STRAP_REACH, STRAP_TAPER
from pipeline.geometry import curves
from pipeline.scene.problems import SceneFileError
from tests.fittings.scenes import SHEETS, made, not_passed, opening, panel

DOOR = 'door = { planks = 5, ledges = 2, material = "card" }'


@pytest.mark.parametrize("wall", ["left", "right", "back"])
def test_joints_between_planks_stop_at_the_ledges(wall: str) -> None:
    """Four joints in three stretches, and two edges of each of two ledges; no hole."""
    evidence = made(SHEETS + opening(wall, DOOR))
    door = panel(evidence, "window-door")
    assert len(door.guides) == 4 * 3 + 2 * 2
    assert door.cut.holes == ()
    assert not_passed(evidence) == []


def test_planks_share_the_width_of_the_hole() -> None:
    """Five planks in 2 m at 1:48."""
    door = panel(made(SHEETS + opening("back", DOOR, head="flat")), "window-door")
    upright = door.guides_host[np.abs(np.diff(door.guides_host[:, :, 0], axis=1)[:, 0]) < 1e-9]
    assert np.unique(np.round(upright[:, 0, 0], 6)) == pytest.approx(
        (3.0 + 0.4 * np.arange(1, 5)) * 1000 / 48, abs=1e-5
    )


@pytest.mark.parametrize(("wall", "side", "small"), [("left", "left", True), ("right", "left", False)])
def test_hinges_are_on_the_side_one_sees_them_on(wall: str, side: str, small: bool) -> None:
    """Seen from the room, the left wall's left end is at the opening of the box and the right wall's at its back."""
    evidence = made(SHEETS + opening(wall, f'door = {{ hinge_side = "{side}", material = "card" }}'))
    (first, _) = (mark for mark in evidence.imagined.marks if mark.host == "window-door")
    low, high = curves.bounds(first.curve)[:, 0]
    jambs = (3000 / 48, 5000 / 48)
    assert (low if small else high) == pytest.approx(jambs[0 if small else 1], abs=1e-9)
    assert high - low == pytest.approx(strap_length(2000 / 48, 150 / 48), abs=1e-9)


def strap_length(width: float, ledge: float) -> float:
    """Return how long a strap is, its round end included."""
    a, b = ledge / 4, ledge / 4 * STRAP_TAPER
    length = STRAP_REACH * width - b
    lean = math.atan((a - b) / length)
    return length - b * math.tan(lean) + b / math.cos(lean)


def test_a_strap_ends_in_an_arc_that_its_sides_touch() -> None:
    """At the ends of the arc the directions agree; at the hinge there are corners."""
    (strap, _) = (m.curve for m in made(SHEETS + opening("back", DOOR)).imagined.marks if m.host == "window-door")
    turns = []
    for before, after in pairwise((*strap, strap[0])):
        one, two = curves.tangent(before, 1.0), curves.tangent(after, 0.0)
        turns.append(abs(float(np.cross([*one, 0], [*two, 0])[2])) / (np.linalg.norm(one) * np.linalg.norm(two)))
    bent = [turn for curve, turn in zip(strap, turns, strict=True) if not curve.straight]
    assert bent == pytest.approx([0.0] * len(bent), abs=1e-9)
    assert turns[1] == pytest.approx(0.0, abs=1e-9)
    assert curves.signed_area(strap) > 0


def test_without_hinges_nothing_is_placed_on_the_door() -> None:
    """Places are the straps alone."""
    assert (
        panel(made(SHEETS + opening("left", 'door = { hinges = false, material = "card" }')), "window-door").places
        == ()
    )


def test_ledges_higher_than_the_door_are_refused() -> None:
    """Said with the height there is."""
    with pytest.raises(SceneFileError, match="ledges of 1 m are as high as"):
        made(SHEETS + opening("left", 'door = { ledges = 4, ledge = 1.0, material = "card" }'))
