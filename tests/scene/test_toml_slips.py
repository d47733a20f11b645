"""What is not TOML is explained to people who never heard of TOML."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import pytest

from pipeline.scene.syntax import explain
from tests.scene.scene_text import SMALL, refusal

SLIPS = [
    ("cover = brick", '14:9: brick is not a value. Text stands in quotes: cover = "brick".'),
    ("length = 12 ft", '14:13: 12 ft is not a number. A length with a unit stands in quotes: length = "12 ft".'),
    ("length = 0,5", "14:11: 0,5 is not a number. Decimals have a point: 0.5."),
    ("length: 5", '14:7: a key without a value. Write key = value, as in length = 3 or length = "text".'),
    ("length =", '14:9: no value after the =. Write key = value, as in length = 3 or length = "text".'),
    ("length = .5", "14:10: .5 is not a number. Write a digit before and after the point, and none too many: 0.5."),
    ("build = True", "14:9: True is not a value. Write build = true."),
    ("build = no", "14:9: no is not a value. Write build = false."),
    ("[make", "14:1: a table's header is not closed. Write [name] for a table, [[name]] for one of several."),
    ("[box]", "14:1: the table stands here for a second time. Join the two, or write [[name]] for one of several."),
    ("a = 1\na = 2", "15:1: the key stands here for a second time, or is a value and a table at once. Keep one of them."),
    ("at = [1, 2", "14:11: an array is not closed. End it with ] and put commas between its items."),
    ("at = [1 2]", "14:9: an array is not closed. End it with ] and put commas between its items."),
    ("a = { b = 1 c = 2 }", "14:13: a table in braces is not closed on its line. End it with } on the same line."),
    ("a = { b = 1", "14:12: a table in braces is not closed on its line. End it with } on the same line."),
    ('a = "x', '14:7: text is not closed. End it with " on the same line.'),
    ('a = "x\nb = 1', '14:7: text is not closed. End it with " on the same line.'),
    ("a = \u201cx\u201d", '14:5: typographic quotes. Use the straight ones: "text".'),
    ('a = "C:\\new\\queue"', "14:12: a backslash that means nothing here. Write text with backslashes in single quotes: 'a\\b'."),
    ('a = "x\\\ny"', "14:7: a backslash that means nothing here. Write text with backslashes in single quotes: 'a\\b'."),
    ("a = 1; b = 2", "14:6: ; b = 2 does not belong here. Write one key = value on a line, comments after a #."),
    ("// a remark", "14:1: not TOML: invalid statement. Write one key = value on a line, comments after a #."),
    ("a = 1 # \x00", "14:9: an invisible character that a scene file cannot hold. Take it out."),
]  # fmt: skip


@pytest.mark.parametrize(("line", "said"), SLIPS)
def test_a_slip_of_form_is_placed_and_explained(line: str, said: str) -> None:
    assert refusal(SMALL + line) == f"a.toml:{said}"


@pytest.mark.parametrize(
    "value", ["\x9b31m", "\u202e5", "1\x14", "'\u202e'", '"\\u001b[2J"', '"\\u009b2J"', '"\\u202e"']
)
def test_a_message_shows_what_it_found_and_does_nothing_else(value: str) -> None:
    """Control and turning characters are written as escapes; a terminal would obey them."""
    said = refusal(SMALL.replace("width = 180", f"width = {value}"))
    assert said.startswith("a.toml:3:")
    assert said.isprintable(), said


def test_what_the_parser_says_without_a_place_stands_at_the_start() -> None:
    """Every message of today's parsers names one; another release may have one that does not."""
    said = explain("a = 1\n", "Something else").describe("a.toml")
    assert said == ["a.toml:1:1: not a scene file; allowed: TOML. Start from one: foreshorten begin NAME."]
