"""Whatever a file holds, it is read or refused in words; nothing else happens."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from tests.scene.scene_text import FULL

CISTERN = (Path(__file__).parents[2] / "scenes/cistern.toml").read_text(encoding="utf-8")
MESSAGE = re.compile(r"(a\.toml:\d+(:\d+)?|--set [^\n]*): [^\n]+[.?]")
OTHERS_WORDS = ("Input should", "Value error", "Field required", "pydantic", "Traceback")


def said_of(text: str | bytes, overrides: list[tuple[str, str]] | None = None) -> list[str]:
    """Return what is said of a file, checked for its form; nothing for a good one."""
    error = _error_of(text, overrides or [])
    if error is None:
        return []
    said = error.describe("a.toml")
    lines = (text.encode() if isinstance(text, str) else text).count(b"\n") + 1
    assert said
    assert all(1 <= item.line <= lines for item in error.placed)
    for line in said:
        assert MESSAGE.fullmatch(line), line
        assert not any(words in line for words in OTHERS_WORDS), line
    return said


def _error_of(text: str | bytes, overrides: list[tuple[str, str]]) -> SceneFileError | None:
    try:
        read_scene(text, overrides)
    except SceneFileError as error:
        return error
    return None


def _keys(table: BaseModel, prefix: str = "") -> Iterator[str]:
    for key in type(table).model_fields:
        value = getattr(table, key)
        yield prefix + key
        if isinstance(value, BaseModel):
            yield from _keys(value, f"{prefix}{key}.")
        elif isinstance(value, dict):
            for name, inner in value.items():
                yield from _keys(inner, f"{prefix}{key}.{name}.")
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for number, inner in enumerate(value, 1):
                yield from _keys(inner, f"{prefix}{key}[{number}].")


KEYS = sorted(set(_keys(read_scene(FULL))))
SWITCHES = {"build", "engaged", "closed", "legs", "net", "spandrel", "fit_gauge", "grain", "sealed", "stencils"}


def test_every_table_of_a_scene_is_tried() -> None:
    assert {"box.width", "materials.card.sheet", "arches[1].span", "columns[2].at", "make.printer.bed"} <= set(KEYS)


@pytest.mark.parametrize("value", ["nan", "-inf", "1e400", "[[]]", "1979-05-27", "{ x = 1 }"])
@pytest.mark.parametrize("key", KEYS)
def test_no_key_takes_what_is_no_value_of_any_kind(key: str, value: str) -> None:
    said = said_of(FULL, [(key, value)])
    assert said, f"{key} = {value} was taken"
    assert any(f" {key}" in line for line in said)


@pytest.mark.parametrize("key", KEYS)
def test_only_switches_take_true(key: str) -> None:
    assert (said_of(FULL, [(key, "true")]) == []) is (key.rsplit(".", maxsplit=1)[-1] in SWITCHES)


VALUES = st.one_of(
    st.text(max_size=12),
    st.integers().map(str),
    st.floats().map(repr),
    st.lists(st.one_of(st.integers(), st.booleans(), st.text("ab", max_size=2)), max_size=4).map(str),
    st.sampled_from(["{}", "{a = 1}", "true", "[[[1]]]", "07:32:00", "'x'"]),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(KEYS), VALUES), min_size=1, max_size=3))
def test_any_values_are_taken_or_refused_in_words(overrides: list[tuple[str, str]]) -> None:
    said_of(FULL, overrides)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_file_with_letters_lost_or_added_is_read_or_refused_in_words(data: st.DataObject) -> None:
    text = CISTERN
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 3))
        added = data.draw(st.text("[]{}=\".#\\\n 1a\r'\u00e9", max_size=3))
        text = text[:at] + added + text[at + gone :]
    said_of(text)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=60))
def test_any_bytes_are_refused_in_words(data: bytes) -> None:
    assert said_of(data)
