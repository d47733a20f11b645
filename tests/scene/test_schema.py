"""The JSON Schema says what the model says, in the draft that editors read."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft4Validator

from pipeline.scene.schema import json_schema
from pipeline.scene.starter import Wishes, starter_scene
from tests.scene.scene_text import FULL, SMALL

SCENES = sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))
VALIDATOR = Draft4Validator(json_schema())


def errors(text: str) -> list[str]:
    """Return the paths the schema finds fault with."""
    found = VALIDATOR.iter_errors(tomllib.loads(text))
    return sorted({".".join(map(str, error.absolute_path)) for error in found})


def test_the_schema_is_of_draft_4() -> None:
    Draft4Validator.check_schema(json_schema())
    words = set(_keywords(json_schema()))
    assert words.isdisjoint({"$defs", "const", "prefixItems", "discriminator", "examples", "null"})
    assert json_schema()["$schema"] == "http://json-schema.org/draft-04/schema#"


def _keywords(schema: Any) -> Iterator[str]:
    if isinstance(schema, dict):
        yield from schema
    for part in schema.values() if isinstance(schema, dict) else schema if isinstance(schema, list) else []:
        yield from _keywords(part)


def test_bounds_that_exclude_themselves_are_said_as_draft_4_says_them() -> None:
    minutes = json_schema()["definitions"]["Eye"]["properties"]["parallax"]
    assert (minutes["minimum"], minutes["exclusiveMinimum"], minutes["maximum"]) == (0, True, 600)


@pytest.mark.parametrize("path", SCENES, ids=lambda path: str(path.stem))
def test_the_demo_scenes_keep_to_the_schema(path: Path) -> None:
    assert errors(path.read_text(encoding="utf-8")) == []


def test_other_good_scenes_keep_to_the_schema() -> None:
    assert [errors(text) for text in (SMALL, FULL, starter_scene(Wishes(title="Any room")))] == [[], [], []]


BAD = [
    ("width = 180", "width = 0", "box.width"),
    ("width = 180", "width = true", "box.width"),
    ("width = 180", 'width = "12 feet"', "box.width"),
    ("width = 180", "widht = 180", "box"),
    ("scale = 48", "scale = 0", "space.scale"),
    ("format = 1", "format = 2", "format"),
    ('process = "knife"', 'process = "lazer"', "materials.card.process"),
    ("bed = [180, 180, 180]", "bed = [180, 180, 1, 1]", "make.printer.bed"),
    ("bed = [180, 180, 180]", "bed = [180, 180]", "make.printer.bed"),
    ('name = "post"', 'name = "a/b"', "columns.1.name"),
    ("[materials.card]", "[covers.card]", ""),
]


@pytest.mark.parametrize(("good", "bad", "place"), BAD)
def test_bad_scenes_do_not_keep_to_it(good: str, bad: str, place: str) -> None:
    assert place in errors(FULL.replace(good, bad, 1))


def test_every_key_is_described() -> None:
    schema = json_schema()
    for name, table in {"Scene": schema, **schema["definitions"]}.items():
        for key, value in table["properties"].items():
            assert value.get("description", "").endswith("."), f"{name}.{key}"


def test_defaults_and_choices_are_given() -> None:
    make = json_schema()["definitions"]["Make"]["properties"]
    assert make["edges"]["enum"] == ["bevel", "square"]
    assert (make["edges"]["default"], make["fit"]["default"]) == ("bevel", 0.15)


def test_the_schema_is_the_same_every_time() -> None:
    assert json.dumps(json_schema()) == json.dumps(json_schema())
