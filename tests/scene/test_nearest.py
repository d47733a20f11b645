"""A mistyped key is answered with the key that was meant."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.scene.box import Box, Eye, Space
from pipeline.scene.make import Make, Printer
from pipeline.scene.materials import Material
from pipeline.scene.model import Scene
from pipeline.scene.nearest import nearest, slips
from pipeline.units import Table

TABLES: list[type[Table]] = [Scene, Box, Eye, Space, Material, Make, Printer]
KEYS = [(list(table.model_fields), key) for table in TABLES for key in table.model_fields]

DISTANCES = [
    ("ca", "abc", 3),  # the restricted form; the unrestricted one would say 2 (Boytsov, 2011, section 2.2)
    ("kitten", "sitting", 3),  # Levenshtein's usual example
    ("width", "widht", 1),
    ("", "abc", 3),
    ("same", "same", 0),
]


@pytest.mark.parametrize(("word", "other", "count"), DISTANCES)
def test_slips_are_counted_as_published(word: str, other: str, count: int) -> None:
    assert slips(word, other) == count


@given(st.text("abc", max_size=6), st.text("abc", max_size=6))
def test_slips_are_the_same_both_ways(word: str, other: str) -> None:
    assert slips(word, other) == slips(other, word)


@given(st.sampled_from(KEYS), st.data())
def test_one_slip_of_the_fingers_finds_a_key_one_slip_away(pair: tuple[list[str], str], data: st.DataObject) -> None:
    known, key = pair
    at = data.draw(st.integers(0, len(key) - 1))
    letter = data.draw(st.sampled_from(string.ascii_lowercase))
    kind = data.draw(st.sampled_from(["swap", "drop", "double", "change"]))
    slip = {
        "swap": key[:at] + key[at : at + 2][::-1] + key[at + 2 :],
        "drop": key[:at] + key[at + 1 :],
        "double": key[: at + 1] + key[at:],
        "change": key[:at] + letter + key[at + 1 :],
    }[kind]
    guess = nearest(slip, known)
    assert guess is not None
    assert slips(slip, guess) <= 1


MEANT = [
    ("hieght", Box, "height"),
    ("Width", Box, "width"),
    ("back-gap", Box, "back_gap"),
    ("backgap", Box, "back_gap"),
    ("colour", Make, "colours"),
    ("colors", Make, "colours"),
    ("mesh", Make, "mesh_tolerance"),
    ("opening", Scene, "openings"),
    ("cieling", Scene, "ceiling"),
    ("material", Scene, "materials"),
]


@pytest.mark.parametrize(("word", "table", "key"), MEANT)
def test_usual_slips_find_the_key_that_was_meant(word: str, table: type[Table], key: str) -> None:
    assert nearest(word, table.model_fields) == key


@pytest.mark.parametrize("word", ["", "zzz", "xylophone", "a" * 10_000, "--"])
def test_what_is_like_nothing_gets_no_suggestion(word: str) -> None:
    assert nearest(word, Box.model_fields) is None
