"""Covers carried on below the level they are laid from."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.elements.covers import CoverTable, lay_cover, lay_units
from pipeline.elements.covers.below import carry_below, carry_units_below
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


HERRINGBONE = CoverTable.model_validate({"pattern": "herringbone", "length": 0.6, "width": 0.15, "joint": 0.01})
CHEVRON = 0.16 * 2**0.5 * 1000 / 48
"""Height after which herringbone repeats: the diagonal of a unit's width and joint, imagined mm."""


def sampled(lines: list[Family], low: float, high: float) -> set[tuple[float, float]]:
    """Return where lines run at 40 heights between two, to a thousandth."""
    found = set()
    for height in np.linspace(low, high, 42)[1:-1]:
        for family in lines:
            (u0, v0), (u1, v1) = family.lines[:, 0].T, family.lines[:, 1].T
            met = (np.minimum(v0, v1) < height) & (np.maximum(v0, v1) > height)
            u = u0[met] + (height - v0[met]) / (v1[met] - v0[met]) * (u1[met] - u0[met])
            found |= {(round(float(height), 6), round(float(at), 3) + 0.0) for at in u}
    return found


def test_herringbone_runs_on_below_as_if_laid_from_farther_down() -> None:
    """Laid from four chevrons lower down, its joints run where they do when carried below."""
    carried = carry_below(lay_cover(HERRINGBONE, 48, 90.0, 80.0), -3.5 * CHEVRON)
    down = np.array([0.0, 4 * CHEVRON])
    deep = [
        Family(lines=family.lines - down, numbers=family.numbers, step=family.step)
        for family in lay_cover(HERRINGBONE, 48, 90.0, 80.0 + 4 * CHEVRON)
    ]
    expected = sampled(deep, -3.5 * CHEVRON, 0.0)
    assert len(expected) > 200
    assert sampled(carried, -3.5 * CHEVRON, 0.0) == expected
    assert max(family.lines[:, :, 1].max() for family in carried) <= 80.0


@pytest.mark.parametrize("pattern", ["running", "stack", "third", "header", "english", "flemish", "planks"])
def test_units_run_on_below_as_if_laid_from_farther_down(pattern: str) -> None:
    """Twelve courses lower down every bond begins anew."""
    table = CoverTable.model_validate(
        {"pattern": pattern, "length": 0.48, "width": 0.235, "height": 0.144, "joint": 0.01}
    )
    down = 12 * (0.245 if pattern == "planks" else 0.154) * 1000 / 48
    foot = -0.7 * down
    carried = carry_units_below(lay_units(table, 48, 90.0, 80.0), lay_cover(table, 48, 90.0, 80.0), foot)
    deep = lay_units(table, 48, 90.0, 80.0 + down) - [0.0, down]
    expected = deep[deep[:, :, 1].max(axis=1) > foot]
    assert len(carried) == len(expected)
    assert places(carried) == places(expected)


def test_units_of_herringbone_fill_the_wall_below_once() -> None:
    """Units and joints tile the plane: within the wall they cover (l w) / ((l + j) (w + j)) of it, none twice."""
    foot = -3.5 * CHEVRON
    families = lay_cover(HERRINGBONE, 48, 90.0, 80.0)
    units = carry_units_below(lay_units(HERRINGBONE, 48, 90.0, 80.0), families, foot)
    below = shapely.box(0, -3 * CHEVRON, 90.0, 0)
    cut = shapely.intersection(shapely.polygons(units), below)
    covered = shapely.union_all(cut).area
    assert float(shapely.area(cut).sum()) == pytest.approx(covered, rel=1e-9)
    assert covered == pytest.approx(below.area * 0.6 * 0.15 / (0.61 * 0.16), rel=0.02)


def places(units: NDArray[np.float64]) -> set[tuple[float, ...]]:
    """Return the boxes round units, to a millionth."""
    boxes = np.hstack([units.min(axis=1), units.max(axis=1)])
    return {tuple(row) for row in (np.round(boxes, 6) + 0.0).tolist()}


def test_a_cover_that_does_not_reach_below_stays_as_it_is() -> None:
    """Nothing is added for walls that end where their cover begins."""
    families = lay_cover(HERRINGBONE, 48, 90.0, 80.0)
    assert carry_below(families, 0.0) == families
    units = lay_units(HERRINGBONE, 48, 90.0, 80.0)
    assert carry_units_below(units, families, 0.0) is units
