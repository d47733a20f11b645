"""The ``[covers.*]`` table: what it takes, what it refuses, and that every pattern stands in the one table."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import ValidationError

from pipeline.elements import covers
from pipeline.elements.covers import MOST_GUIDES, PATTERNS, CoverTable, count_guides, lay_cover
from pipeline.elements.covers.table import SIZES_USED, Pattern


def test_every_file_that_lays_a_pattern_is_in_the_table() -> None:
    """A pattern is one file with a ``LAYING`` and one line of the table."""
    folder = Path(covers.__file__).parent
    modules = {
        info.name: importlib.import_module(f"pipeline.elements.covers.{info.name}")
        for info in pkgutil.iter_modules([str(folder)])
    }
    found = {name: module.LAYING for name, module in modules.items() if hasattr(module, "LAYING")}
    assert found == PATTERNS


def test_the_table_the_literal_and_the_sizes_name_the_same_patterns() -> None:
    """The scene model offers exactly what can be laid."""
    assert set(get_args(Pattern)) == set(PATTERNS) == set(SIZES_USED)


def test_every_field_is_described() -> None:
    """Editors show the description of each key."""
    assert all(field.description for field in CoverTable.model_fields.values())


def test_the_defaults_are_the_work_size_of_a_british_brick() -> None:
    """215 x 102.5 x 65 mm with joints of 10 mm (BS EN 771-1, BS 4729)."""
    table = CoverTable()
    assert (table.length, table.width, table.height, table.joint) == (0.215, 0.1025, 0.065, 0.010)
    assert table.pattern == "running"


@pytest.mark.parametrize("pattern", ["english", "flemish"])
def test_bonds_of_headers_and_stretchers_refuse_sizes_that_do_not_meet(pattern: str) -> None:
    """length + joint = 2 (width + joint); the message gives both numbers and what would do."""
    with pytest.raises(ValidationError, match=r"0\.225 m and .* 0\.24 m; .* set width to 0\.1025 or length to 0\.23"):
        CoverTable.model_validate({"pattern": pattern, "width": 0.11})


def test_a_modular_brick_in_inches_meets() -> None:
    """7 5/8 + 3/8 = 2 (3 5/8 + 3/8) inches (BIA Technical Note 10B)."""
    sizes = {"length": "7.625 in", "width": "3.625 in", "height": "2.25 in", "joint": "0.375 in"}
    assert CoverTable.model_validate({"pattern": "flemish", **sizes}).length == pytest.approx(0.193675, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"length": 0.0}, "length"),
        ({"height": -0.065}, "height"),
        ({"width": "0 mm"}, "width"),
        ({"joint": -0.001}, "joint"),
        ({"length": float("nan")}, "length"),
        ({"thickness": 0.02}, "thickness"),
        ({"fit_gauge": 1}, "fit_gauge"),
        ({"pattern": "basket"}, "pattern"),
        ({"joint": 0.065}, "joint 0.065 m is not smaller than the unit's height; allowed: less than 0.065 m"),
        ({"pattern": "header", "joint": 0.1025, "height": 0.2}, "not smaller than the unit's width"),
        ({"pattern": "herringbone", "fit_gauge": True}, "herringbone has no courses to fit"),
        ({"pattern": "flags", "across": True}, "across does not turn flags"),
    ],
)
def test_impossible_covers_are_refused(change: dict[str, Any], where: str) -> None:
    """Sizes above zero, joints not negative and smaller than the unit, and no keys that would do nothing."""
    with pytest.raises(ValidationError) as caught:
        CoverTable.model_validate(change)
    (error,) = caught.value.errors()
    assert error["loc"] == (where,) if where in change else where in error["msg"]


def test_sizes_a_pattern_does_not_show_are_not_judged() -> None:
    """Planks have no height: a joint wider than the default brick height is their own affair."""
    assert CoverTable(pattern="planks", length=3.0, width=0.3, joint=0.07).joint == 0.07


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize(("u", "v"), [(1.0, 1.0), (90.0, 1.0), (1.0, 90.0), (250.0, 62.5), (333.3, 71.7)])
def test_the_count_is_never_too_low_nor_double(pattern: Pattern, u: float, v: float) -> None:
    """The estimate bounds the guides laid from above, so that nothing is built that would be refused."""
    for level in (False, True):
        table = CoverTable(pattern=pattern)
        laid = sum(len(family.lines) for family in lay_cover(table, 48.0, u, v, level=level))
        count = count_guides(table, 48.0, u, v, level=level)
        columns_and_rows = 30 + 4 * (u + v) / (112.5 / 48)
        assert laid <= count <= 1.5 * laid + columns_and_rows


@pytest.mark.parametrize("pattern", PATTERNS)
def test_too_many_guides_are_refused_before_any_is_laid(pattern: Pattern) -> None:
    """Units of a micrometre on a wall of a metre: a million million guides are counted, not built."""
    table = CoverTable(pattern=pattern, length=2.2e-6, width=1.05e-6, height=1e-6, joint=1e-7)
    assert count_guides(table, 1.0, 1000.0, 1000.0) > MOST_GUIDES
    with pytest.raises(ValueError, match=f"at most {MOST_GUIDES} are laid on a face"):
        lay_cover(table, 1.0, 1000.0, 1000.0)


def test_a_count_beyond_all_numbers_is_still_a_number() -> None:
    """The largest face and the smallest units that can be written do not overflow the estimate."""
    table = CoverTable(length=1e-6, height=1e-6, joint=0.0)
    assert MOST_GUIDES < count_guides(table, 1e-9, 1e300, 1e300) < 10**19
