"""Scene files with something broken in them: the text of a good one, a few times mutated."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

HOSTILE_VALUES = (
    "nan", "inf", "-inf", "1e400", "-1e400", "0", "-0.0", "-1", "1e-12", "1e12", "5e-324", "1e308", "true", "9" * 60,
    "0x7fffffffffffffff", "1_000", "0.1e-999999", "1979-05-27", "07:32:00", "[]", "{}", '""', "[[[]]]", "[1, 2, 3, 4]",
    '"0 mm"', '"1e999 m"', '"-3 ft"', '"1 parsec"', "'''\n'''", '"\\u0000"', '"\\u202e"', "{ x = 1 }", '[{}, {}]',
)  # fmt: skip
PIECES = (
    "[", "]", "[[", "]]", "{", "}", '"', "'", '"""', "'''", "#", "=", ".", ",", "\\", "\n", "\r", "\r\n", "\t", "\x00",
    "\x1b[31m", "\x7f", "\x9b", "\u202e", "\ufeff", "\u00e9", "\u2028", "\U0001f3f0", "-", "_", "e",
    "1e400", "nan", "true",
)  # fmt: skip

Mutate = Callable[[random.Random, str], str]
_NUMBER = re.compile(r"(?<![\w.\"])-?[0-9]+(?:\.[0-9]+)?(?![\w.\"])")
_WORD = re.compile(r"[A-Za-z_]{2,}")
_QUOTED = re.compile(r"\"[^\"\n]*\"")


def mutated(rng: random.Random, texts: list[str]) -> str:
    """Return one of the texts, mutated from one to five times."""
    text = rng.choice(texts)
    for _ in range(rng.randint(1, 5)):
        text = rng.choice(MUTATIONS)(rng, text) if rng.random() < 0.95 else crossed(rng, text, rng.choice(texts))
    return text


def crossed(rng: random.Random, one: str, other: str) -> str:
    """Return the beginning of one text and the end of another, cut between lines."""
    return "\n".join([*_some(rng, one.split("\n"), first=True), *_some(rng, other.split("\n"), first=False)])


def _some(rng: random.Random, lines: list[str], *, first: bool) -> list[str]:
    at = rng.randint(0, len(lines))
    return lines[:at] if first else lines[at:]


def _piece_in(rng: random.Random, text: str) -> str:
    at = rng.randint(0, len(text))
    return text[:at] + rng.choice(PIECES) * rng.choice((1, 1, 1, 2, 40)) + text[at:]


def _letters_out(rng: random.Random, text: str) -> str:
    at = rng.randint(0, len(text))
    return text[:at] + text[at + rng.choice((1, 1, 2, 5, 60)) :]


def _letters_swapped(rng: random.Random, text: str) -> str:
    at = rng.randint(0, max(0, len(text) - 2))
    return text[:at] + text[at : at + 2][::-1] + text[at + 2 :]


def _letter_changed(rng: random.Random, text: str) -> str:
    at = rng.randint(0, len(text))
    return text[:at] + chr(rng.choice((rng.randint(1, 126), rng.randint(127, 0x2FF), 0x1F600))) + text[at + 1 :]


def _value_changed(rng: random.Random, text: str) -> str:
    return _one_replaced(rng, text, _NUMBER, lambda _: rng.choice(HOSTILE_VALUES))


def _number_scaled(rng: random.Random, text: str) -> str:
    factors = (0.0, -1.0, 1e-9, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e9)
    return _one_replaced(rng, text, _NUMBER, lambda found: f"{float(found) * rng.choice(factors):.6g}")


def _word_replaced(rng: random.Random, text: str) -> str:
    words = _WORD.findall(text) or ["word"]
    return _one_replaced(rng, text, _WORD, lambda _: rng.choice(words))


def _text_changed(rng: random.Random, text: str) -> str:
    return _one_replaced(rng, text, _QUOTED, lambda _: rng.choice(HOSTILE_VALUES))


def _one_replaced(rng: random.Random, text: str, what: re.Pattern[str], new: Callable[[str], str]) -> str:
    found = list(what.finditer(text))
    if not found:
        return text
    match = rng.choice(found)
    return text[: match.start()] + new(match[0]) + text[match.end() :]


def _line_out(rng: random.Random, text: str) -> str:
    lines = text.split("\n")
    del lines[rng.randrange(len(lines))]
    return "\n".join(lines)


def _line_again(rng: random.Random, text: str) -> str:
    lines = text.split("\n")
    lines.insert(rng.randrange(len(lines) + 1), rng.choice(lines))
    return "\n".join(lines)


def _line_moved(rng: random.Random, text: str) -> str:
    lines = text.split("\n")
    lines.insert(rng.randrange(len(lines)), lines.pop(rng.randrange(len(lines))))
    return "\n".join(lines)


def _end_cut(rng: random.Random, text: str) -> str:
    return text[: rng.randint(0, len(text))]


MUTATIONS: tuple[Mutate, ...] = (
    _piece_in, _letters_out, _letters_swapped, _letter_changed, _value_changed, _value_changed, _number_scaled,
    _number_scaled, _word_replaced, _text_changed, _line_out, _line_again, _line_moved, _end_cut,
)  # fmt: skip
