"""No number, however odd, in whatever key, does anything but be taken or be refused in words at its place."""

from __future__ import annotations

import pytest

from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from tests.fuzz.judging import in_our_words, judge_read
from tests.fuzz.keys import all_keys, numeric_keys
from tests.fuzz.numbers import FAR_NUMBERS, NO_NUMBERS, Case, cases

ODD = list(cases(NO_NUMBERS))


def test_the_keys_are_those_of_the_schema() -> None:
    """Of every table something, at every depth, in arrays and under names."""
    names = {key.name for key in all_keys()}
    assert {"title", "box.width", "covers.card.joint", "columns[0].at[0][0]", "openings[0].door.planks"} <= names
    assert {"box.measured.depths[3]", "materials.card.offcuts[0][2]", "make.printer.bed[1]"} <= names
    assert 100 < len(numeric_keys()) < len(all_keys())


@pytest.mark.parametrize("value", NO_NUMBERS)
def test_what_is_no_number_is_refused_at_its_key(value: str) -> None:
    """TOML has nan and inf, and 1e400 is read as infinity (IEEE 754, 7.4); a truth is no number here."""
    wrong = [case.key.name for case in ODD if case.value == value and not _refused_in_place(case)]
    assert wrong == []


def _refused_in_place(case: Case) -> bool:
    try:
        read_scene(case.text)
    except SceneFileError as error:
        in_our_words(error, case.text.count("\n"))
        own = [item for item in error.placed if item.problem.path == case.key.path[: len(item.problem.path)]]
        return bool(own) and all(item.line == case.line and item.column is not None for item in own)
    return False


@pytest.mark.parametrize("value", FAR_NUMBERS)
def test_a_far_number_is_taken_or_refused_in_words(value: str) -> None:
    """Whatever is taken is measured and imagined too."""
    outcomes = {judge_read(case.text).outcome for case in cases((value,))}
    assert outcomes <= {"taken", "refused"}
    assert "refused" in outcomes
