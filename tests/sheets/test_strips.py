"""Sheets made one and packed anew, with a packer in place of the library's that does as the test says."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
import pytest
import shapely

from pipeline.sheets import strips
from pipeline.sheets.nesting import Layout, Placed
from pipeline.sheets.searching import worth
from pipeline.sheets.stock import Stock
from pipeline.sheets.strips import available, squeeze

STOCK = Stock(name="foam", size=(100.0, 100.0), kerf=0.0, spacing=1.0, margin=0.0, grain=False, offcuts=((30.0, 20.0),))
SHAPES = [shapely.box(0, 0, 60, 40), shapely.box(0, 0, 60, 30), shapely.box(0, 0, 60, 20), shapely.box(0, 0, 20, 10)]


def at(part: int, sheet: int, x: float, y: float) -> Placed:
    return Placed(part=part, sheet=sheet, sheet_from_flat=np.array([[1.0, 0, x], [0, 1, y], [0, 0, 1]]))


START = Layout(
    placed=(at(0, 0, 0, 0), at(3, 1, 0, 0), at(1, 2, 0, 0), at(2, 3, 0, 0)),
    sheets=((100.0, 100.0), (30.0, 20.0), (100.0, 100.0), (100.0, 100.0)),
    left_over=(),
)
"""A part on each of three whole sheets, and one on an offcut."""

Asked: TypeAlias = "tuple[list[int], tuple[float, float], int]"
Packer: TypeAlias = Callable[[object, list[int], tuple[float, float], int], "list[Placed] | None"]


def in_a_row(job: object, parts: list[int], size: tuple[float, float], sheet: int) -> list[Placed] | None:
    """Lay parts one over the other, as they come."""
    placed, y = [], 0.0
    for part in parts:
        placed.append(at(part, sheet, 0.0, y))
        y += SHAPES[part].bounds[3] + 1
    return placed if y - 1 <= size[1] else None


def squeezed(monkeypatch: pytest.MonkeyPatch, packer: Packer, start: Layout = START) -> tuple[Layout, list[Asked]]:
    asked: list[Asked] = []

    def noted(job: object, parts: list[int], size: tuple[float, float], sheet: int) -> list[Placed] | None:
        asked.append((sorted(parts), size, sheet))
        return packer(job, parts, size, sheet)

    monkeypatch.setattr(strips, "_strip", noted)
    return squeeze(STOCK, SHAPES, start, 1, 3.0), asked


def test_the_two_emptiest_whole_sheets_become_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts 1 and 2 cover least of a whole sheet; theirs is the earlier one, those behind the other move up, and the
    offcut, which is emptier, stays."""
    found, asked = squeezed(monkeypatch, in_a_row)
    assert asked[0] == ([1, 2], (100.0, 100.0), 2)
    assert found.sheets == ((100.0, 100.0), (30.0, 20.0), (100.0, 100.0))
    assert [p.part for p in found.placed] == [0, 1, 2, 3]
    assert {p.part: p.sheet for p in found.placed} == {0: 0, 3: 1, 1: 2, 2: 2}
    assert worth(found, STOCK, SHAPES) < worth(START, STOCK, SHAPES)
    assert [sheet for _, _, sheet in asked[1:]] == [0, 1, 2], "then each that is left, for itself"
    first = Layout(
        placed=(at(1, 0, 0, 0), at(2, 1, 0, 0), at(0, 2, 0, 0)), sheets=((100.0, 100.0),) * 3, left_over=(3,)
    )
    found, _ = squeezed(monkeypatch, in_a_row, first)
    assert {p.part: p.sheet for p in found.placed} == {1: 0, 2: 0, 0: 1}
    assert found.left_over == (3,)


def test_what_the_packer_cannot_or_lays_wrong_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing found; parts on one another; parts off the sheet."""

    def on_one_another(job: object, parts: list[int], size: tuple[float, float], sheet: int) -> list[Placed] | None:
        return [at(part, sheet, 0.0, 0.0) for part in parts]

    def off(job: object, parts: list[int], size: tuple[float, float], sheet: int) -> list[Placed] | None:
        return [at(part, sheet, 95.0, 50.0 * k) for k, part in enumerate(parts)]

    for packer in (lambda *given: None, on_one_another, off):
        found, _ = squeezed(monkeypatch, packer)
        assert worth(found, STOCK, SHAPES) == worth(START, STOCK, SHAPES)
        assert found.sheets == START.sheets


def test_two_full_sheets_are_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over nine tenths of one sheet together; and one alone has nobody to be made one with."""
    wide = [shapely.box(0, 0, 100, 46), shapely.box(0, 0, 100, 46)]
    monkeypatch.setattr(strips, "_strip", lambda *given: pytest.fail("asked"))
    start = Layout(placed=(at(0, 0, 0, 0), at(1, 1, 0, 0)), sheets=((100.0, 100.0),) * 2, left_over=())
    job = strips._Job(stock=STOCK, shapes=wide, seed=1, seconds=1)
    assert strips._merged(job, start) is None
    alone = Layout(placed=(at(0, 0, 0, 0),), sheets=((100.0, 100.0),), left_over=(1,))
    assert strips._merged(job, alone) is None
    mixed = Layout(placed=(at(0, 0, 0, 0), at(1, 1, 0, 0)), sheets=((100.0, 100.0), (100.0, 46.0)), left_over=())
    assert strips._merged(job, mixed) is None


@pytest.mark.skipif(not available(), reason="spyrrow, the extra of foreshorten[nest], is not installed")
def test_a_part_that_fits_no_way_is_not_handed_to_the_library() -> None:
    """It would take the whole process down; a strip that comes out longer than the sheet is none either."""
    long = [shapely.box(0, 0, 120, 5), *SHAPES[1:]]
    job = strips._Job(stock=STOCK, shapes=long, seed=1, seconds=1)
    assert strips._strip(job, [0], (100.0, 100.0), 0) is None
    full = [shapely.box(0, 0, 98, 60), shapely.box(0, 0, 98, 60)]
    job = strips._Job(stock=STOCK, shapes=full, seed=1, seconds=1)
    assert strips._strip(job, [0, 1], (100.0, 100.0), 0) is None
    job = strips._Job(stock=STOCK, shapes=SHAPES, seed=1, seconds=1)
    laid = strips._strip(job, [1, 0], (100.0, 100.0), 3)
    assert laid is not None
    assert sorted((one.part, one.sheet) for one in laid) == [(0, 3), (1, 3)]
