"""Tables as the text of a scene file, each key on a line of its own, so that its place is known without a parser."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import Any

from pipeline.elements.problems import KeyPath

BARE = re.compile(r"[A-Za-z0-9_-]+")


class Raw(str):
    """A value's text as it is to stand in the file: ``Raw("1e400")``."""

    __slots__ = ()


@dataclass(slots=True)
class _Sheet:
    lines: list[str] = field(default_factory=list)
    places: dict[KeyPath, int] = field(default_factory=dict)

    def put(self, path: KeyPath, text: str) -> None:
        self.lines.append(text)
        self.places.setdefault(path, len(self.lines))


def to_toml(data: dict[str, Any]) -> str:
    """Return the tables as a scene file's text."""
    return placed_toml(data)[0]


def placed_toml(data: dict[str, Any]) -> tuple[str, dict[KeyPath, int]]:
    """Return the text, and the line of each key and header; keys and headers begin in the first column."""
    sheet = _Sheet()
    _table(sheet, (), (), data)
    return "\n".join(sheet.lines) + "\n", sheet.places


def _table(sheet: _Sheet, path: KeyPath, names: tuple[str, ...], table: dict[str, Any]) -> None:
    inner = {key: value for key, value in table.items() if _is_table(value) or _is_tables(value)}
    for key, value in table.items():
        if key not in inner:
            sheet.put((*path, key), f"{_key(key)} = {value_text(value)}")
    for key, value in inner.items():
        header = ".".join(_key(name) for name in (*names, key))
        if isinstance(value, dict):
            sheet.put((*path, key), f"[{header}]")
            _table(sheet, (*path, key), (*names, key), value)
        else:
            for number, item in enumerate(value):
                sheet.put((*path, key, number), f"[[{header}]]")
                _table(sheet, (*path, key, number), (*names, key), item)


def _is_table(value: Any) -> bool:
    return isinstance(value, dict)


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def _key(name: str) -> str:
    return name if BARE.fullmatch(name) else _text(name)


def _text(text: str) -> str:
    """Return a basic string; JSON's escapes are TOML's too, once pairs of surrogates are one letter."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def value_text(value: Any) -> str:
    """Return a value as TOML has it."""
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(value_text(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {value_text(inner)}" for key, inner in value.items()) + " }"
    return repr(value)
