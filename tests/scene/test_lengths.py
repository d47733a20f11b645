"""Lengths are read in any of five units, and nothing else is a length.

Inch and foot are the international ones, exactly 25.4 mm and 304.8 mm (the 1959 agreement of six standards bodies).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from pipeline.units import LONGEST, Length, Metres, Millimetres, parse_length, part_id

from pipeline.units import NonNegativeMetres, NonNegativeMillimetres, PositiveMetres, PositiveMillimetres  # isort: skip

MM = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": Decimal("25.4"), "ft": Decimal("304.8")}

PUBLISHED = [
    ("12 ft", "m", 3.6576),
    ("1 ft", "mm", 304.8),
    ("3 in", "mm", 76.2),
    ("3 in", "m", 0.0762),
    ("2.4 m", "m", 2.4),
    ("2.4 m", "mm", 2400.0),
    ("75 cm", "m", 0.75),
    ("180 mm", "mm", 180.0),
    ("180 mm", "m", 0.18),
    (" +1.5e1cm ", "mm", 150.0),
    (".5 m", "mm", 500.0),
    ("5. mm", "mm", 5.0),
    (7, "mm", 7.0),
    (7.25, "m", 7.25),
]


@pytest.mark.parametrize(("written", "unit", "number"), PUBLISHED)
def test_a_length_is_the_nearest_number_to_what_is_written(written: object, unit: str, number: float) -> None:
    assert parse_length(written, unit) == number


@given(st.decimals(-10000, 10000, places=4), st.sampled_from(sorted(MM)), st.sampled_from(["mm", "m"]))
def test_every_unit_converts_exactly(number: Decimal, unit: str, into: str) -> None:
    assert parse_length(f"{number} {unit}", into) == float(number * MM[unit] / MM[into])


@given(st.floats(1e-3, 1e6))
def test_a_bare_number_and_the_same_number_with_its_unit_are_one_length(number: float) -> None:
    assert parse_length(number, "mm") == parse_length(f"{number!r} mm", "mm")


@given(st.text(max_size=20))
def test_text_is_a_length_only_with_a_number_and_a_known_unit(text: str) -> None:
    number = parse_length(text, "mm")
    if number is not None:
        assert text.strip().endswith(tuple(MM))
        assert any(letter in "0123456789" for letter in text)


NONE = ["", "mm", "12", "12 feet", "1 2 mm", "1,5 m", "1.2.3 m", "12' ", '3"', "m 3", "0x10 mm", "nan mm", "inf m", "1e9999 mm", "-", "１２ mm", "1" * 65 + "mm", True, False, None, [1], {}]  # fmt: skip  # noqa: E501, RUF001


@pytest.mark.parametrize("value", NONE)
def test_anything_else_is_no_length(value: object) -> None:
    assert parse_length(value, "mm") is None


KINDS = [
    (Millimetres, "mm", None),
    (NonNegativeMillimetres, "mm", False),
    (PositiveMillimetres, "mm", True),
    (Metres, "m", None),
    (NonNegativeMetres, "m", False),
    (PositiveMetres, "m", True),
]


@pytest.mark.parametrize(("kind", "unit", "above"), KINDS)
@pytest.mark.parametrize("value", [True, float("nan"), float("inf"), float("-inf"), 10**400, "1e400 m", None, [], {}])
def test_no_kind_of_length_is_infinite_or_not_a_number(kind: Any, unit: str, above: bool | None, value: object) -> None:
    with pytest.raises(ValidationError, match="not a"):
        TypeAdapter(kind).validate_python(value)


@pytest.mark.parametrize(("kind", "unit", "above"), KINDS)
def test_each_kind_of_length_keeps_its_bounds(kind: Any, unit: str, above: bool | None) -> None:
    adapter: TypeAdapter[float] = TypeAdapter(kind)
    longest = LONGEST[unit]
    inside = [longest, 1.0] + ([] if above else [0.0]) + ([-longest] if above is None else [])
    outside = [longest * 1.001] + ([0.0, 1e-9] if above else []) + ([-longest * 1.001] if above is None else [-0.1])
    assert [adapter.validate_python(value) for value in inside] == inside
    for value in outside:
        with pytest.raises(ValidationError):
            adapter.validate_python(value)


def test_a_length_says_what_it_wants() -> None:
    assert Length("mm").wanted == "a length"
    assert Length("mm", 0.0).wanted == "a length of zero or more"
    assert Length("m", 0.0, above=True).wanted == "a length above zero"
    assert Length("mm", 0.001).wanted == "a length of 0.001 mm or more"


@given(st.from_regex(r"[A-Za-z][A-Za-z0-9 _-]{0,59}", fullmatch=True))
def test_every_name_makes_an_id_of_lower_case_words_and_hyphens(name: str) -> None:
    words = part_id(name).split("-")
    assert all(word and set(word) <= set("abcdefghijklmnopqrstuvwxyz0123456789") for word in words)
    assert part_id(part_id(name)) == part_id(name)


def test_an_id_joins_the_words_of_a_name() -> None:
    assert part_id("Side  Arch_2 -x-") == "side-arch-2-x"
