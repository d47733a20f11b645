"""What would take hours or gigabytes is counted before it is made, and refused."""

from __future__ import annotations

import pytest

from tests.fuzz.counts import ALLOWED, REFUSED
from tests.fuzz.judging import judge_make, refusal_of


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_too_many_is_refused_before_it_is_made(name: str) -> None:
    """In words that say how many may be, and soon: counting costs nothing."""
    text, words = REFUSED[name]
    said = refusal_of(text)
    assert any(words in line for line in said), said


@pytest.mark.parametrize("name", [name for name in ALLOWED if "paper" not in name and "size" not in name])
def test_what_only_looks_like_many_is_made(name: str) -> None:
    """Within the time and memory that any scene has."""
    assert judge_make(ALLOWED[name]).outcome in ("built", "failed")
