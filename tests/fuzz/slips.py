"""Typing mistakes in good scene files, each with where it is and what was meant."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

from tests.fuzz.growing import demos
from tests.fuzz.keys import all_keys
from tests.scene.scene_text import FULL

ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
NEIGHBOURS = {letter: row[max(0, i - 1) : i + 2] for row in ROWS for i, letter in enumerate(row)}
"""Keys beside one another on a keyboard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A scene with one mistake.

    Attributes
    ----------
    kind
        Of mistake.
    line, columns
        Where it is: the columns that a message may name, the first and the last.
    meant
        What a suggestion must hold.
    """

    kind: str
    text: str
    line: int
    columns: tuple[int, int]
    meant: str


Make = Callable[[random.Random, re.Match[str]], tuple[str, tuple[int, int], str] | None]


def typed(rng: random.Random, word: str) -> str:
    """Return a word with one slip of the fingers: two letters swapped, one lost, doubled, or its neighbour hit."""
    at = rng.randrange(len(word))
    letter = rng.choice([other for other in NEIGHBOURS.get(word[at], "x") if other != word[at]] or ["x"])
    return rng.choice(
        [
            word[:at] + word[at : at + 2][::-1] + word[at + 2 :],
            word[:at] + word[at + 1 :],
            word[: at + 1] + word[at:],
            word[:at] + letter + word[at + 1 :],
        ]
    )


def _key(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    key, wrong = found[2], typed(rng, found[2])
    if key not in known_keys() or wrong in known_keys():
        return None
    column = found.start(2) + 1
    return found.string.replace(key, wrong, 1), (column, column), f"did you mean {key}?"


@cache
def known_keys() -> frozenset[str]:
    """Return every key that any table of a scene file knows."""
    return frozenset(part for key in all_keys() for part in key.path if isinstance(part, str))


def _choice(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    word = found[3]
    column = found.start(2) + 1
    return found.string.replace(f'"{word}"', f'"{typed(rng, word)}"', 1), (column, column), f'did you mean "{word}"?'


def _header(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    word = found[1]
    column = found.start(1) + 1
    return found.string.replace(word, typed(rng, word), 1), (1, column), f"did you mean {word}?"


def _comma(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    start = found.start(3) + 1
    wrong = found[3].replace(".", ",")
    end = start + len(wrong)
    return (
        found.string[: start - 1] + wrong + found.string[end - 1 :],
        (start, end),
        f"decimals have a point: {found[3]}",
    )


def _no_quotes(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    start = found.start(3)
    return found.string.replace(f'"{found[3]}"', found[3], 1), (start, start + len(found[3])), f'= "{found[3]}"'


def _open_quotes(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    line = found.string[: found.end(3)] + found.string[found.end(3) + 1 :]
    return line, (found.start(3), len(line) + 1), 'end it with "'


def _no_equals(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    line = found.string.replace(" = ", " ", 1)
    return line, (1, len(found[2]) + 2), "write key = value"


def _open_header(rng: random.Random, found: re.Match[str]) -> tuple[str, tuple[int, int], str] | None:
    line = found.string.replace("]", "", 1)
    return line, (1, len(line) + 1), "write [name] for a table"


KINDS: dict[str, tuple[str, Make]] = {
    "a key": (r"^()([a-z_]{3,}) = ", _key),
    "a choice": (r"^()(pattern|process|head|beyond|form|profile|section|edges|paper) = \"([a-z]{4,})\"", _choice),
    "a name": (r"^()(cover|material) = \"([a-z]{4,})\"", _choice),
    "a table": (r"^\[{1,2}([a-z]{4,})\]{1,2}\s*(?:#.*)?$", _header),
    "a comma for a point": (r"^()([a-z_]+) = ([0-9]+\.[0-9]+)\s*(?:#.*)?$", _comma),
    "text without quotes": (r"^()([a-z_]+) = \"([a-z][a-z ]*)\"\s*$", _no_quotes),
    "quotes not closed": (r"^()([a-z_]+) = \"([a-z][a-z ]*)\"\s*$", _open_quotes),
    "no equals sign": (r"^()([a-z_]+) = [0-9.]+\s*$", _no_equals),
    "a header not closed": (r"^\[([a-z]{4,})\]\s*$", _open_header),
}


def slips(seed: int, count: int) -> Iterator[Slip]:
    """Yield so many scenes with a mistake each, the kinds in turn."""
    rng = random.Random(seed)
    texts = [FULL, *demos()]
    made = 0
    while made < count:
        kind = list(KINDS)[made % len(KINDS)]
        pattern, make = KINDS[kind]
        lines = rng.choice(texts).split("\n")
        fitting = [number for number, line in enumerate(lines) if re.search(pattern, line)]
        if not fitting:
            continue
        number = rng.choice(fitting)
        match = re.search(pattern, lines[number])
        found = None if match is None else make(rng, match)
        if found is None or found[0] == lines[number]:
            continue
        line, columns, meant = found
        text = "\n".join([*lines[:number], line, *lines[number + 1 :]])
        made += 1
        yield Slip(kind=kind, text=text, line=number + 1, columns=columns, meant=meant)
