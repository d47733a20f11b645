"""The small rooms that are built by the thousand, and what is counted of them."""

from __future__ import annotations

import random

from tests.fuzz.judging import judge_read, refusal
from tests.fuzz.keys import all_keys
from tests.fuzz.odd_forms import odd_form
from tests.fuzz.reaching import keys_of
from tests.fuzz.tiny import PIECES, together
from tests.fuzz.writing import to_toml

LEAST_SHARE = 0.7
"""Of the schema's keys that the pieces hold; the others are put in by chance."""


def test_each_piece_is_good_by_itself() -> None:
    """Or the scenes that hold it would all be refused, and nothing behind it tried."""
    said = {name: refusal(to_toml(together([name]))) for name in PIECES}
    assert {name: lines for name, lines in said.items() if lines} == {}


def test_the_pieces_hold_most_keys() -> None:
    """Each key is told by the name that the schema gives it."""
    held = set[str]().union(*(keys_of(to_toml(together([name]))) for name in PIECES))
    known = {key.name for key in all_keys()}
    assert {
        "lights[0].direction[2]",
        "materials.card.offcuts[0][0]",
        "box.measured.depths[3]",
        "stuff.card.kinds[0]",
    } <= held
    assert len(held & known) > LEAST_SHARE * len(known)


def test_of_what_is_no_toml_no_keys_are_told() -> None:
    """Nor of what is nested too deep to look into."""
    assert keys_of("[box") == set()
    assert keys_of("x = " + "{ a = " * 3000 + "1" + " }" * 3000) == set()


def test_odd_forms_are_refused_in_words() -> None:
    """Nested and dotted a thousand times, of thousands of things, of bytes that are no text."""
    rng = random.Random(7)
    outcomes = [judge_read(odd_form(rng, to_toml(together([])))).outcome for _ in range(150)]
    assert outcomes.count("refused") > 100
