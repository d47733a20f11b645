"""What is wrong in a scene file is said in words, at its line and column, all at once."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import json
import re

import pytest

from pipeline.room.measure import measure
from pipeline.scene.model import Scene
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from pipeline.scene.tables import describe_key
from pipeline.units import LENGTH_PATTERN, NAME_PATTERN, WORDS_PATTERN
from tests.scene.scene_text import FULL, SMALL, refusal, refusals

MM = 'Give a number of millimetres, or text with a unit: "180 mm", "75 cm", "2.4 m", "3 in", "12 ft".'
M = 'Give a number of metres, or text with a unit: "180 mm", "75 cm", "2.4 m", "3 in", "12 ft".'

PLACED = [
    ("width = 180", "width = 0", f"3:1: box.width: 0 is not a length above zero. {MM}"),
    ("width = 180", "width = -3", f"3:1: box.width: -3 is not a length above zero. {MM}"),
    ("width = 180", "width = nan", f"3:1: box.width: nan is not a length above zero. {MM}"),
    ("width = 180", "width = -inf", f"3:1: box.width: -inf is not a length above zero. {MM}"),
    ("width = 180", "width = 1e400", f"3:1: box.width: inf is not a length above zero. {MM}"),
    ("width = 180", 'width = "18,5"', '3:1: box.width: "18,5" is not a length above zero. Decimals have a point: 18.5.'),
    ("width = 180", 'width = "18,5 cm"', '3:1: box.width: "18,5 cm" is not a length above zero. Decimals have a point: "18.5 cm".'),
    ("width = 180", "width = true", f"3:1: box.width: true is not a length above zero. {MM}"),
    ("width = 180", 'width = "12 feet"', f'3:1: box.width: "12 feet" is not a length above zero. {MM}'),
    ("width = 180", "width = [180]", f"3:1: box.width: [180] is not a length above zero. {MM}"),
    ("width = 180", "width = 1979-05-27", f"3:1: box.width: 1979-05-27 is not a length above zero. {MM}"),
    ("width = 180", "width = 2e6", f"3:1: box.width: 2000000.0 is not a believable length here; allowed: up to 2000 mm. {MM}"),
    ("width = 180", "width = 1e-9", f"3:1: box.width: 1e-09 is not a believable length here; allowed: 0.001000 mm or more. {MM}"),
    ("width = 180\n", "", "2:1: box.width: missing. Add width = ...: Inside width of the box, mm."),
    ("depth = 12", 'depth = ""', f'11:1: space.depth: "" is not a length above zero. {M}'),
    ("scale = 48", "scale = 0", "10:1: space.scale: 0 is out of bounds; allowed: 0.001 or more. Write here: scale at the opening: 48 means 1:48."),
    ("scale = 48", 'scale = "1:48"', '10:1: space.scale: "1:48" is not a number. Write here: scale at the opening: 48 means 1:48.'),
    ("scale = 48", "scale = nan", "10:1: space.scale: nan is not a finite number. Write here: scale at the opening: 48 means 1:48."),
    ("scale = 48", "scale = true", "10:1: space.scale: true is not a number. Write here: scale at the opening: 48 means 1:48."),
    (
        "[materials.card]",
        "[material.card]",
        f"12:1: material: unknown key; allowed: {', '.join(Scene.model_fields)}. Did you mean materials?",
    ),
    (
        "height = 78",
        "hieght = 78",
        "8:1: eye.hieght: unknown key; allowed: distance, height, right, box, parallax. Did you mean height?",
    ),
    (
        'process = "knife"',
        'process = "lazer"',
        '14:1: materials.card.process: "lazer" is none of the choices; allowed: "hand", "knife" or "laser".'
        ' Did you mean "laser"?',
    ),
    (
        "bed = [180, 180, 180]",
        "bed = [180, 180]",
        "16:1: make.printer.bed: too few items. Write here: width, depth and height it can print, mm.",
    ),
    (
        "bed = [180, 180, 180]",
        "bed = [180, 180, 1, 1]",
        "16:1: make.printer.bed: 4 items; allowed: at most 3. Write here: width, depth and height it can print, mm.",
    ),
    (
        "bed = [180, 180, 180]",
        "bed = [180, 180, 0]",
        f"16:18: make.printer.bed[3]: 0 is not a length above zero. {MM}",
    ),
    ('cover = "brick"', 'cover = "brik"', '18:1: left.cover: there is no cover "brik"; allowed: "brick". Did you mean "brick"?'),
    ('cover = "brick"', "cover = 3", "18:1: left.cover: 3 is not text. Put it in quotes."),
    (
        'cover = "brick"',
        'material = "steel"',
        '18:1: left.material: there is no material "steel"; allowed: "card". Add a table [materials.steel].',
    ),
    ("[-3.9, 4.0]", "[-3.9, true]", f"29:14: columns[1].at[1][2]: true is not a length. {M}"),
    ("[3.9, 4.0]]", "[3.9, nan]]", f"29:26: columns[1].at[2][2]: nan is not a length. {M}"),
    ("diameter = 0.3", "diameter = 0", f"34:1: columns[2].diameter: 0 is not a length above zero. {M}"),
    ("diameter = 0.3\n", "", "31:1: columns[2].diameter: missing. Add diameter = ...: Of the shaft, m; across the flats where it is not round."),
    ("[[arches]]", "[arches]", "35:1: arches: one table where several are wanted. Write [[arches]] with two pairs of brackets, once for each."),
    ("[eye]", "[[eye]]", "6:1: eye: several tables where one is wanted; allowed: one table. Write its header with one pair of brackets: [eye]."),
    ("[[arches]]", '[[meshes]]\nname = "urn"\nfile = ""\nat = [0, 5]\n[[arches]]', '37:1: meshes[1].file: "" has 0 characters; allowed: at least 1 character. Write more.'),
    ("[[arches]]", f'[[meshes]]\nname = "urn"\nfile = "{"x" * 201}"\nat = [0, 5]\n[[arches]]', f'37:1: meshes[1].file: "{"x" * 37}..." has 201 characters; allowed: at most 200 characters. Shorten it.'),
    ("format = 1", "format = 2", "1:1: format: 2 is a later format than this version of the program reads; allowed: 1. Install a newer version; nothing else of the file was looked at."),
    ("format = 1", "format = true", "1:1: format: true is no format this program reads; allowed: 1. Write format = 1."),
    ("format = 1", "format = 1.0", "1:1: format: 1.0 is no format this program reads; allowed: 1. Write format = 1."),
    ("format = 1\n", "", "1:1: format: missing. Add format = ...: Version of the scene file's format: 1."),
]  # fmt: skip


@pytest.mark.parametrize(("good", "bad", "said"), PLACED)
def test_a_slip_is_named_at_its_line_and_column(good: str, bad: str, said: str) -> None:
    assert FULL.count(good) >= 1
    assert f"a.toml:{said}" in refusals(FULL.replace(good, bad, 1))


def test_a_good_file_is_read() -> None:
    scene = read_scene(FULL)
    assert scene.box.clearance == 0.5
    assert scene.columns[0].at == ((-3.9, 4.0), (3.9, 4.0))
    assert measure(scene).hall.surfaces["ceiling"].material == "card"


def test_all_slips_are_named_at_once_in_the_order_of_the_file() -> None:
    text = (
        FULL.replace("width = 180", "width = 0").replace('"brick"', '"stone"').replace("distance = 420", "distanze = 1")
    )
    places = [line.split(": ")[0] for line in refusals(text)]
    assert places == ["a.toml:3:1", "a.toml:7:1", "a.toml:18:1"]


def test_an_empty_file_lacks_every_table_that_must_be_there() -> None:
    said = refusals("")
    assert all(line.startswith("a.toml:1:1: ") for line in said)
    keys = [line.split(": ")[1] for line in said]
    assert keys == ["format", "box", "eye", "space", "materials"]


def test_many_slips_of_one_sort_are_not_all_listed() -> None:
    text = SMALL + "[make]\n" + "".join(f"key{n} = 1\n" for n in range(5000))
    assert len(refusals(text)) == 200


GIVEN = [
    ("distance = 420\n", "", "8:1: space: only space.depth is given"),
    ("depth = 12\n", "", "9:1: space: only eye.distance is given"),
    ("depth = 12\n", "depth = 12\nback_scale = 0.6\n", "12:1: space.back_scale: eye.distance and space.depth and space.back_scale are all given"),
    ("depth = 12\n", "back_width = 90\nback_scale = 0.6\n", "11:1: space.back_width: back_scale and back_width are both given"),
]  # fmt: skip


@pytest.mark.parametrize(("good", "bad", "said"), GIVEN)
def test_the_relief_needs_exactly_two_of_three_figures(good: str, bad: str, said: str) -> None:
    """Of eye distance, apparent depth and back scale any two give the third (Burmester 1883, s = (D + d)/(D + L))."""
    assert refusal(SMALL.replace(good, bad)).startswith(f"a.toml:{said}; allowed: exactly two of")


@pytest.mark.parametrize(
    ("gone", "added"),
    [("depth = 12", "back_scale = 0.6"), ("distance = 420", "right = 1"), ("depth = 12", "back_width = 90")],
)
def test_any_two_of_the_three_figures_will_do(gone: str, added: str) -> None:
    text = SMALL.replace(gone, added)
    if "distance" not in text:
        text = text.replace("depth = 12", "depth = 12\nback_scale = 0.6")
    assert read_scene(text).space.scale == 48


def test_with_several_materials_every_built_surface_names_its_own() -> None:
    text = SMALL + '[materials.foam]\nthickness = 3\n[left]\nmaterial = "foam"\n[right]\n[back]\nbuild = false\n'
    said = refusals(text)
    assert [line.split(": ")[0:2] for line in said] == [
        ["a.toml:1:1", "floor.material"],
        ["a.toml:1:1", "ceiling.material"],
        ["a.toml:18:1", "right.material"],
    ]
    assert all('several materials; allowed: "card" or "foam"' in line for line in said)


def test_without_materials_nothing_can_be_cut() -> None:
    text = SMALL.split("[materials")[0]
    assert refusal(text) == (
        "a.toml:1:1: materials: missing. Add the table [materials.NAME]: Sheets that panels are cut from, by name."
    )
    assert refusal(text + "[materials]\n").startswith(
        "a.toml:12:1: materials: nothing stands here; allowed: at least 1"
    )


def test_of_many_choices_the_first_twenty_are_told() -> None:
    """In the order of the file; the line stays one that can be read."""
    sheets = "".join(f"[materials.card{n}]\nthickness = {n}\n" for n in range(1, 25))
    said = refusals(SMALL + sheets + '[left]\nmaterial = "steel"\n')
    choices = ", ".join(f'"{name}"' for name in ("card", *(f"card{n}" for n in range(1, 20))))
    assert f"allowed: {choices}, .... Add a table [materials.steel]." in next(line for line in said if "steel" in line)


def test_every_form_that_text_must_have_is_one_that_can_be_told() -> None:
    """Names, words and colours each have words of their own for what is wrong; lengths say theirs themselves."""
    patterns = set(re.findall(r'"pattern": "((?:[^"\\\\]|\\\\.)*)"', json.dumps(Scene.model_json_schema())))
    told = {f"^{form}$" for form in (NAME_PATTERN, WORDS_PATTERN, LENGTH_PATTERN)}
    assert {json.loads(f'"{pattern}"') for pattern in patterns} == {*told, "^#[0-9A-Fa-f]{6}$"}


def test_a_key_that_no_table_knows_has_no_description() -> None:
    """Nor has one below it: a message then goes without."""
    assert describe_key(Scene, ("box", "width")) == "Inside width of the box, mm."
    assert describe_key(Scene, ("box", "lining")) == ""
    assert describe_key(Scene, ("box", "lining", "colour")) == ""


def test_keys_of_another_table_are_sent_there() -> None:
    assert refusal(SMALL.replace("height = 78", "height = 78\nscale = 3")) == (
        "a.toml:9:1: eye.scale: unknown key; allowed: distance, height, right, box, parallax. Put it below the header [space] or [[meshes]]."
    )


def test_tables_that_no_scene_has_are_unknown_keys() -> None:
    assert refusal(SMALL + "[furniture]\nheight = 1.7\n").startswith("a.toml:14:1: furniture: unknown key")


def test_no_message_speaks_the_language_of_the_validator() -> None:
    said = "\n".join(refusals(_spoilt()))
    for phrase in ("Input should", "valid dictionary", "valid number", "Extra inputs", "Field required", "pydantic"):
        assert phrase not in said


def _spoilt() -> str:
    """Return FULL with every value turned into a table, an array, a date or a truth value in turn."""
    values = ["{x = 1}", "[true, {}]", "1979-05-27", "false", "[]", '""', "3"]
    lines = []
    for number, line in enumerate(FULL.splitlines()):
        key, equals, _ = line.partition(" = ")
        lines.append(f"{key} = {values[number % len(values)]}" if equals else line)
    return "\n".join(lines)


def test_an_error_carries_its_problems_for_programs_too() -> None:
    with pytest.raises(SceneFileError) as caught:
        read_scene(SMALL.replace("width = 180", "width = 0"))
    placed = caught.value.placed[0]
    assert (placed.line, placed.column, placed.problem.path) == (3, 1, ("box", "width"))
    assert caught.value.problems == [placed.problem]


def test_a_file_of_a_later_format_is_refused_with_one_word() -> None:
    """Its other tables may be right there; this version cannot know."""
    later = 'format = 7\n[rooms]\nfirst = "hall"\n'
    assert refusals(later) == [
        "a.toml:1:1: format: 7 is a later format than this version of the program reads; allowed: 1."
        " Install a newer version; nothing else of the file was looked at."
    ]


def test_a_mistyped_key_of_the_relief_is_told_once() -> None:
    """What is lacking because of it is no second mistake."""
    assert refusals(SMALL.replace("distance = 420", "distanze = 420")) == [
        "a.toml:7:1: eye.distanze: unknown key; allowed: distance, height, right, box, parallax. Did you mean distance?"
    ]
    assert len(refusals(SMALL.replace("distance = 420", "parallax = 6"))) == 1
    assert len(refusals(SMALL.replace("distance = 420", "moon = 6"))) == 2


MISTYPED = [
    ("height = 78", "heigth = 78", "eye.heigth"),  # a key that must be there
    ("[box]", "[bos]", "bos"),  # a table that must be there, of which nothing else can be said yet
    ("[materials.card]", "[material.card]", "material"),
    ("[covers.brick]", "[cover.brick]", "cover"),  # which [left] names
    ('name = "pier"', 'nam = "pier"', "columns[1].nam"),  # in an array of tables
    ("thickness = 2", "thicknes = 2", "materials.card.thicknes"),
]


@pytest.mark.parametrize(("before", "after", "key"), MISTYPED)
def test_a_mistyped_key_is_told_once_wherever_it_stands(before: str, after: str, key: str) -> None:
    """The key it was meant to be is neither missing nor unknown to those that name it."""
    assert before in FULL
    said = refusals(FULL.replace(before, after))
    assert [line.split(": ")[1] for line in said] == [key]
    assert "Did you mean " in said[0]


def test_a_key_that_is_there_twice_over_lacks_nothing() -> None:
    """A mistyped one beside the right one is only unknown, and what else is wrong is told as before."""
    twice = FULL.replace("height = 78", "height = 78\nheigth = 80")
    assert [line.split(": ")[1] for line in refusals(twice)] == ["eye.heigth"]
    lacking = FULL.replace("height = 78", "moon = 78")
    assert [line.split(": ")[1] for line in refusals(lacking)] == ["eye.height", "eye.moon"]
