"""Values and key paths as a person reads them in the scene file."""

from __future__ import annotations

import json
import re
from typing import Any

from pipeline.elements.problems import KeyPath

LONGEST_SHOWN = 40
"""Characters of a found value that a message repeats."""


def show(value: Any) -> str:
    """Return a value as it is written in TOML, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(_shorten(value), ensure_ascii=False)
    if isinstance(value, int):
        return str(value) if value.bit_length() < 100 else "a number of very many digits"
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        inner = ", ".join(show(item) for item in value[:4]) + (", ..." if len(value) > 4 else "")
        return f"[{inner}]" if len(inner) < 2 * LONGEST_SHOWN else "an array"
    return str(value)


def visible(text: str) -> str:
    r"""Return text with every character that is no sign of its own written as its escape, ``\x1b`` or ``\u202e``.

    A terminal obeys some of them, and others turn a line round, so that it reads as something else.
    """
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text)


def show_path(path: KeyPath) -> str:
    """Return a path in dotted form, counting from 1 as people do: ``("columns", 1, "at")`` -> ``columns[2].at``."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            plain = re.fullmatch(r"[A-Za-z0-9_-]{1,80}", part)
            text += ("." if text else "") + (part if plain else json.dumps(_shorten(part), ensure_ascii=False))
    return text


def show_choices(words: list[str]) -> str:
    """Return words as a choice: ``"a", "b" or "c"``."""
    quoted = [show(word) for word in words[:20]]
    if len(words) > 20:
        return ", ".join(quoted) + ", ..."
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def _shorten(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."
