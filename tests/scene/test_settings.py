"""Values set over the file's own."""

from __future__ import annotations

import pytest

from pipeline.elements.problems import Problem
from pipeline.scene.limits import MOST_DOTS
from pipeline.scene.read import placed_error, read_scene
from tests.scene.scene_text import FULL, SMALL, refusal, refusals


def test_a_setting_takes_the_place_of_the_files_value() -> None:
    scene = read_scene(FULL, [("eye.distance", "380"), ("columns[2].diameter", "40 cm"), ("columns[1].at[2][1]", "2")])
    assert scene.eye.distance == 380
    assert scene.columns[1].diameter == 0.4
    assert scene.columns[0].at is not None
    assert scene.columns[0].at[1] == (2.0, 4.0)


def test_a_setting_may_add_a_key_and_a_table() -> None:
    scene = read_scene(
        SMALL, [("make.printer.min_wall", "0.8"), ("covers.brick.pattern", "stack"), ("left.cover", "brick")]
    )
    assert scene.make.printer.min_wall == 0.8
    assert scene.covers["brick"].pattern == "stack"


def test_the_later_of_two_settings_holds() -> None:
    assert read_scene(SMALL, [("eye.height", "70"), ("eye.height", "75")]).eye.height == 75


def test_text_needs_no_quotes_and_may_have_them() -> None:
    assert read_scene(SMALL, [("title", "Old well")]).title == "Old well"
    assert read_scene(SMALL, [("title", '"true"')]).title == "true"


def test_a_setting_never_reaches_beyond_its_key() -> None:
    said = refusal(SMALL, [("title", '"a"\nformat = 2')])
    assert said.startswith(r'--set title="a" format = 2: title: "\"a\"\nformat = 2" holds characters that cannot')


BAD = [
    ("eye.distance", "x", 'eye.distance: "x" is not a length above zero.'),
    ("eye.distance", "nan", "eye.distance: nan is not a length above zero."),
    (
        "eye.distnce",
        "3",
        "eye.distnce: unknown key; allowed: distance, height, right, box, parallax. Did you mean distance?",
    ),
    ("columns[3].diameter", "3", "there is no columns[3]: columns has 2."),
    ("columns[0].diameter", "3", "0 numbers nothing in a key. The first of several is [1]."),
    ("columns.diameter", "3", "columns is not a table. Write columns[1], columns[2], ..."),
    ("steps[1].rise", "3", "there is no steps[1]: the file has no steps."),
    ("box[1]", "3", "box is not an array, and has no box[1]."),
    ("box.width.x", "3", "box.width is not a table."),
    ("a..b", "3", '"a..b" is not a key. Write it as in eye.distance=380 or columns[2].diameter=0.4.'),
    ("", "3", '"" is not a key. Write it as in'),
    ("eye distance", "3", '"eye distance" is not a key. Write it as in'),
    ("eye" + ".a" * 2 * MOST_DOTS + ".b", "3", '"eye.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a..." is not a key. Write'),
    ("box.width", "[" * 100, "box.width: \"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[...\" is not a length above zero."),
    ("title", "x" * 3000, "the setting is too long."),
]  # fmt: skip


@pytest.mark.parametrize(("key", "value", "said"), BAD)
def test_a_bad_setting_is_named_itself(key: str, value: str, said: str) -> None:
    shown = f"{key}={value}"
    shown = shown if len(shown) <= 80 else shown[:77] + "..."
    assert refusal(FULL, [(key, value)]).startswith(f"--set {shown}: {said}")


def test_settings_and_file_are_refused_together() -> None:
    said = refusals(SMALL.replace("180", "0"), [("eye.height", "x"), ("a[0]", "1")])
    assert [line.split(": ")[0] for line in said] == ["--set a[0]=1", "--set eye.height=x", "a.toml:3:1"]


def test_a_message_stays_on_one_line_whatever_is_set() -> None:
    assert refusal(SMALL, [("eye.height", "7\n8\x1b[31m")]).startswith("--set eye.height=7 8 [31m: eye.height: ")


def test_problems_found_later_are_placed_in_the_file_or_at_the_setting() -> None:
    problems = [
        Problem(
            path=("columns", 1, "at"),
            found="[9, 8] is outside the hall",
            allowed="x between -1 and 1 m",
            remedy="move it",
        ),
        Problem(
            path=("openings", 0, "width"),
            found="9 m is wider than the right wall",
            allowed="at most 8 m",
            remedy="make it less",
        ),
        Problem(path=("front",), found="no material is named", allowed="", remedy="name one"),
    ]
    assert placed_error(FULL, problems, [("openings[1].width", "9")]).describe("b.toml") == [
        "--set openings[1].width=9: openings[1].width: 9 m is wider than the right wall; allowed: at most 8 m."
        " Make it less.",
        "b.toml:1:1: front: no material is named. Name one.",
        "b.toml:33:1: columns[2].at: [9, 8] is outside the hall; allowed: x between -1 and 1 m. Move it.",
    ]
