"""Which keys the scenes that were tried have held."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

from tests.fuzz.keys import NAMED, all_keys

NAMING = ("covers", "materials", "stuff")
"""Tables whose own tables have names of their own."""


def keys_of(text: str | bytes) -> set[str]:
    """Return the names of the schema's keys that a text holds; of one that is no TOML none."""
    try:
        data = tomllib.loads(text if isinstance(text, str) else text.decode())
    except (ValueError, RecursionError):
        return set()
    try:
        return set(_names(data, "", ()))
    except RecursionError:
        return set()


def _names(value: Any, name: str, path: tuple[str, ...]) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            shown = NAMED if len(path) == 1 and path[0] in NAMING else key
            yield from _names(inner, f"{name}.{shown}" if name else shown, (*path, key))
    elif isinstance(value, list):
        if not any(isinstance(item, dict) for item in value):
            yield name
        for number, item in enumerate(value):
            apart = isinstance(item, int | float | str) and f"{name}[{number}]" in known()
            yield from _names(item, f"{name}[{number if apart else 0}]", (*path, ""))
    else:
        yield name


def known() -> frozenset[str]:
    """Return the names of all keys."""
    return _KNOWN


_KNOWN = frozenset(key.name for key in all_keys())
