"""A box out of proportion is made as it is asked for, and is told of, with what would fit."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from pipeline.build import make
from pipeline.checks import box_proportions
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from tests.checks.holding import hold

from ..scene_text import PLAIN
from .boxes import box_of, planned

PLENTY = (180.0, 150.0, 85.0)


@cache
def plain() -> Evidence:
    return make(PLAIN.encode())


def told(size: tuple[float, float, float] = PLENTY, **keys: Any) -> list[Finding]:
    """Return what the check says of a box: boards of 6, ends of 4, a lid of 24 and a kerf of 1.2 unless told."""
    return box_proportions.run(replace(plain(), casework=planned(box_of(size=size, **keys))))


def warned(size: tuple[float, float, float] = PLENTY, **keys: Any) -> list[str]:
    return [one.message for one in told(size, **keys) if one.status == "warn"]


def test_a_usual_box_is_in_proportion() -> None:
    """Boards of 6 in a box of 180 x 150 x 85, a lid of 24 and a saw of 1.2: five questions, none of them a matter."""
    findings = told()
    assert [one.status for one in findings] == ["pass"] * 5
    assert [(one.value, one.limit) for one in findings] == [(20, 85), (6, 75), (1.2, 6), (6, 3), (6, 4)]
    assert box_proportions.run(plain()) == [], "a box that is not made is not asked"


@pytest.mark.parametrize(
    ("size", "keys", "expected"),
    [
        (PLENTY, {"lid": 240.0}, "the lid is 236 mm deep inside and the box 85 mm: opened, it outweighs the box; make box.make.lid 89 mm at the most, or put the deeper room into the box and the other into the lid"),
        (PLENTY, {"board": 95.0}, "boards of 95 mm are thicker than half of the 150 mm inside; 75 mm is the most that is believable: measure the board, and write its thickness, not its width, into box.make.board"),
        ((60.0, 150.0, 85.0), {"board": 31.0}, "boards of 31 mm are thicker than half of the 60 mm inside"),
        (PLENTY, {"saw": 8.0}, "the saw takes 8 mm, more than the boards are thick (6 mm); measure the slot again in a scrap, or take a finer saw: a hand saw takes about 0.5 mm, a band saw 1"),
        (PLENTY, {"lid": 4.05}, "the hinges' screws sit 0.025 mm from the rim, and split it: the lid's sides are 0.05 mm deep; make box.make.lid 10 mm or higher"),
        (PLENTY, {"screws": 1.0}, "the hinges' screws sit 1 mm from the rim, and split it; set box.make.screws to 3 mm or more, or leave it out"),
        (PLENTY, {"board": 0.5}, "boards of 0.5 mm hold no screws, which want 4 mm; hang the lid on a strip of linen or leather glued along the hinge line, or glue blocks of wood inside behind the screws"),
    ],
)  # fmt: skip
def test_what_is_out_of_proportion_is_told_with_what_would_fit(
    size: tuple[float, float, float], keys: dict[str, Any], expected: str
) -> None:
    """A warning, since it can be made; the figure that would fit is worked out by hand: depth 85 + end 4 = 89; 150 / 2 =
    75; 2 x 3 + 4 = 10, for screws halfway across the lid's sides."""
    assert any(one.startswith(expected) for one in warned(size, **keys)), warned(size, **keys)


@pytest.mark.parametrize(
    ("keys", "offered"),
    [
        ({"lid": 240.0}, {"lid": 89.0}),
        ({"board": 95.0}, {"board": 75.0}),
        ({"saw": 8.0}, {"saw": 1.0}),
        ({"lid": 4.05}, {"lid": 10.0}),
        ({"screws": 1.0}, {"screws": 3.0}),
        ({"board": 0.5, "saw": 0.3}, {"board": 4.0}),
    ],
)
def test_what_is_offered_is_taken(keys: dict[str, Any], offered: dict[str, Any]) -> None:
    """With the figure that the warning names, nothing is warned of any more."""
    assert len(warned(**keys)) == 1
    assert warned(**(keys | offered)) == []


def test_findings_on_proportions_are_whole() -> None:
    """Of a usual box and of one where everything is wrong."""
    whole: tuple[dict[str, Any], ...] = ({}, {"board": 95.0, "lid": 400.0, "screws": 1.0}, {"board": 0.5, "saw": 8.0})
    for keys in whole:
        evidence = replace(plain(), casework=planned(box_of(**keys)))
        assert hold(evidence, (box_proportions.CHECK,)) <= {"pass", "warn"}
