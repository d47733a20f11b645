"""Several values in one argument."""

from __future__ import annotations

import pytest

from pipeline.commands.ranges import values


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("60,80", ["60", "80"]),
        ("300:600:100", ["300", "400", "500", "600"]),
        ("1:2:0.4", ["1", "1.4", "1.8"]),
        ("0.1:0.3:0.1", ["0.1", "0.2", "0.3"]),
        ("80:60:-10,5", ["80", "70", "60", "5"]),
        ("7:7:1", ["7"]),
        ('"a:b,c",x', ['"a:b,c"', "x"]),
        ("[1, 2],[3, 4]", ["[1, 2]", "[3, 4]"]),
        ("1e2:3e2:1e2", ["100", "200", "300"]),
    ],
)
def test_lists_and_ranges_name_values(text: str, expected: list[str]) -> None:
    """Ends are taken in; decimals stay exact; commas in quotes and brackets part nothing."""
    assert expected == values(text)


@pytest.mark.parametrize("text", ["", "1,,2", "1:2", "1:2:3:4", "1:2:0", "1:2:-1", "a:b:c", "nan:2:1", "0:1e9:1"])
def test_what_names_no_values_is_refused(text: str) -> None:
    """Each with a reason."""
    with pytest.raises(ValueError, match=r"empty place|FROM:TO:STEP|leads nowhere|more than"):
        values(text)
