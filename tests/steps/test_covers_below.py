"""Covers carried on below the level they are laid from."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.elements.covers import CoverTable, lay_cover
from pipeline.elements.covers.below import carry_below
from pipeline.elements.surfaces import Family


def rows(families: list[Family], low: float, high: float) -> set[tuple[float, ...]]:
    """Return what lies between two heights as (rounded ends, step, number); lines that begin below are left out."""
    found = set()
    for family in families:
        for line, number in zip(family.lines, family.numbers, strict=True):
            if low <= line[:, 1].min() < high - 1e-6:
                ends = np.column_stack([line[:, 0], np.minimum(line[:, 1], high)])
                found.add((*np.round(ends.ravel(), 6), *np.round(family.step, 6), int(number)))
    return found


@pytest.mark.parametrize("pattern", ["running", "stack", "third", "header", "english", "flemish", "planks"])
def test_courses_run_on_below_as_if_laid_from_farther_down(pattern: str) -> None:
    """A wall laid from six courses lower down has the same beds and perpends, numbered as many courses on."""
    table = CoverTable.model_validate(
        {"pattern": pattern, "length": 0.48, "width": 0.235, "height": 0.144, "joint": 0.01}
    )
    gauge = (0.245 if pattern == "planks" else 0.154) * 1000 / 48
    down = 6 * gauge
    carried = carry_below(lay_cover(table, 48, 90.0, 80.0), -5 * gauge)
    deep = lay_cover(table, 48, 90.0, 80.0 + down)
    moved = [
        Family(
            lines=family.lines - [0.0, down],
            numbers=family.numbers - (6 if family.step[1] else 0),
            step=family.step,
            course=family.course,
        )
        for family in deep
    ]
    expected = rows(moved, -5 * gauge, 0.0)
    assert len(expected) > 30
    assert rows(carried, -5 * gauge, 0.0) == expected


def test_a_cover_that_does_not_reach_below_stays_as_it_is() -> None:
    """Nothing is added for walls that end where their cover begins, nor to slanting patterns."""
    table = CoverTable.model_validate({"pattern": "herringbone", "length": 0.6, "width": 0.15, "joint": 0.01})
    families = lay_cover(table, 48, 90.0, 80.0)
    assert carry_below(families, -10.0) == families
    assert carry_below(families, 0.0) == families
