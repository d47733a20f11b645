"""Values of a scene file changed, everything else left as it was: comments, order, blanks."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

Keys = tuple[str, ...]
"""Names of the tables that lead to a value, and its own."""


class EditError(ValueError):
    """The file cannot be changed in these places only; it has to be done by hand."""


def with_values(text: str, values: Mapping[Keys, float]) -> str:
    """Return a scene file's text with some numbers set; the tables they stand in are there.

    Raises
    ------
    EditError
        If anything else in the file would change with them.
    """
    wanted = tomllib.loads(text)
    before = copy.deepcopy(wanted)
    try:
        document = tomlkit.parse(text)
        for keys, value in values.items():
            _put(wanted, keys, value)
            _put(document, keys, value)
        edited = tomlkit.dumps(document)
        same = tomllib.loads(edited) == wanted
    except (TOMLKitError, tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError) as error:
        raise EditError("the file is written in a way that cannot be changed safely") from error
    if not same or (wanted == before and edited != text):
        raise EditError(f"more than {', '.join('.'.join(keys) for keys in values)} would change")
    return edited


def _put(table: Any, keys: Keys, value: float) -> None:
    for key in keys[:-1]:
        table = table[key]
    table[keys[-1]] = value
