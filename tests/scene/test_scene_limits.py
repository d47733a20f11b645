"""What would be slow or fatal to parse is refused before it is parsed."""

from __future__ import annotations

import pytest

from tests.scene.scene_text import SMALL, refusal


def test_a_file_over_a_megabyte_is_refused() -> None:
    assert refusal("#" * 1_000_001) == (
        "a.toml:1:1: the file has 1000001 bytes; allowed: at most 1000000. Is it a scene file?"
    )


def test_a_dotted_key_of_20_kilobytes_is_refused() -> None:
    """The parser of the standard library takes time with the square of a key's dots: 0.7 s for this one."""
    assert (
        refusal(SMALL + "a." * 10_000 + "a = 1\n")
        == "a.toml:14:26: a key of very many dots; allowed: at most 12. Is it a scene file?"
    )


def test_a_header_of_very_many_dots_is_refused() -> None:
    assert refusal(SMALL + "[" + "a." * 13 + "a]\n").startswith("a.toml:14:27: a key of very many dots")


@pytest.mark.parametrize("opening", ["[", "{a=", "[{a="])
def test_nesting_that_would_exhaust_the_parser_is_refused(opening: str) -> None:
    said = refusal(SMALL + "a = " + opening * 5000)
    assert said.startswith("a.toml:14:")
    assert said.endswith("brackets nested 13 deep; allowed: at most 12. Close some.")


def test_a_number_python_would_not_read_is_refused() -> None:
    """Python reads whole numbers of at most 4300 digits (its manual, 'Integer string conversion length limitation')."""
    assert (
        refusal(SMALL.replace("180", "9" * 5000))
        == "a.toml:3:9: a number of 5000 digits; allowed: at most 399. Round it."
    )


def test_brackets_dots_and_digits_in_text_and_comments_do_not_count() -> None:
    text = "[" * 50 + "." * 50 + "1" * 500
    for line in (f'title = "{text[:150]}"', f"title = '{text[:150]}'", f'title = """{text[:150]}"""', f"# {text}"):
        source = SMALL.replace("format = 1", f"format = 1\n{line}").replace("width = 180", "width = 0")
        assert refusal(source).startswith("a.toml:4:1: box.width: 0 is not")


def test_many_decimals_on_one_line_are_no_dotted_key() -> None:
    places = ", ".join(f"[{n}.5, {n}.25]" for n in range(30))
    text = SMALL.replace("180", "0") + f'[[columns]]\nname = "post"\ndiameter = 0.1\nat = [{places}]\n'
    assert refusal(text).startswith("a.toml:3:1: box.width")


def test_bytes_that_are_not_utf8_are_named_at_their_place() -> None:
    bad = SMALL.replace("[box]", "# é\n[box] # ").encode().replace(b"[box] # ", b"[box] # \xe9")
    assert refusal(bad) == (
        'a.toml:3:9: byte 0xe9 is not UTF-8 text; allowed: UTF-8. Save it again with the encoding "UTF-8".'
    )


def test_utf16_is_named_as_what_it_is() -> None:
    assert refusal(SMALL.encode("utf-16")).startswith("a.toml:1:1: the file is saved as UTF-16")


def test_text_that_no_file_can_hold_is_refused() -> None:
    assert refusal("title = '\ud800'").startswith("a.toml:1:10: byte 0xed is not UTF-8 text")


def test_a_byte_order_mark_and_foreign_line_ends_do_no_harm() -> None:
    text = SMALL.replace("width = 180", "width = 0").replace("\n", "\r\n")
    assert refusal(b"\xef\xbb\xbf" + text.encode()).startswith("a.toml:3:1: box.width")


def test_a_margin_that_leaves_nothing_of_any_sheet_is_refused() -> None:
    """Of the default sheet too, which no line of the file tells: A3 is 297 mm wide (ISO 216)."""
    assert refusal(SMALL + "margin = 150\n") == (
        "a.toml:14:1: materials.card.margin: 150 is not a believable length here; allowed: up to 100 mm. "
        'Give a number of millimetres, or text with a unit: "180 mm", "75 cm", "2.4 m", "3 in", "12 ft".'
    )
