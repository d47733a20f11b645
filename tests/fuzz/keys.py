"""Every key a scene file can hold, as the schema tells; so keys of tables that are new are tried without being named.

Terms
-----
key
    A path from the root, ``("columns", 0, "diameter")``, and what the schema says of its value. Tables under names of
    their own are called ``NAMED`` in it.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from pipeline.elements.problems import KeyPath
from pipeline.scene.schema import json_schema
from tests.scene.scene_text import SMALL

NAMED = "card"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Key:
    """One key, or one item of an array.

    Attributes
    ----------
    path
        From the root.
    schema
        Of the value, references followed.
    """

    path: KeyPath
    schema: dict[str, Any]

    @property
    def kinds(self) -> frozenset[str]:
        """What the value may be: ``"number"``, ``"integer"``, ``"string"``, ``"boolean"``, ``"array"``."""
        return frozenset(choice["type"] for choice in choices(self.schema))

    @property
    def numeric(self) -> bool:
        """Whether it may be a number."""
        return bool(self.kinds & {"number", "integer"})

    @property
    def name(self) -> str:
        """As the schema's reader would write it."""
        return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in self.path).lstrip(".")


@cache
def all_keys() -> tuple[Key, ...]:
    """Return every key that holds a value, and every first item of an array of values."""
    return tuple(_below((), json_schema()))


def numeric_keys() -> tuple[Key, ...]:
    """Return every place of a scene file where a number may stand, but for the format's own."""
    return tuple(key for key in all_keys() if key.numeric and key.path != ("format",))


def choices(schema: dict[str, Any]) -> list[dict[str, Any]]:
    """Return a schema's choices, references followed; itself where it has none."""
    schema = follow(schema)
    return [deep for choice in schema.get("anyOf", [schema]) for deep in _of_choice(schema, choice)]


def _of_choice(schema: dict[str, Any], choice: dict[str, Any]) -> list[dict[str, Any]]:
    return [schema] if choice is schema else choices(choice)


def follow(schema: dict[str, Any]) -> dict[str, Any]:
    """Return a schema with its reference followed."""
    for part in (schema, *schema.get("allOf", [])):
        if "$ref" in part:
            definition: dict[str, Any] = json_schema_once()["definitions"][part["$ref"].rsplit("/", 1)[1]]
            return definition
    return schema


@cache
def json_schema_once() -> dict[str, Any]:
    """Return the schema, made once."""
    return json_schema()


def _below(path: KeyPath, schema: dict[str, Any]) -> Iterator[Key]:
    arrays = 0
    for choice in choices(schema):
        kind = choice["type"]
        if kind == "object":
            for name, inner in choice.get("properties", {}).items():
                yield from _below((*path, name), inner)
            if isinstance(choice.get("additionalProperties"), dict):
                yield from _below((*path, NAMED), choice["additionalProperties"])
        elif kind == "array":
            arrays += 1
            items = choice["items"]
            tables = not isinstance(items, list) and choices(items)[0]["type"] == "object"
            if arrays == 1 and not tables:
                yield Key(path=path, schema=schema)
            for number, item in enumerate(items if isinstance(items, list) else [items]):
                yield from _below((*path, number), item)
        elif choice is choices(schema)[0]:
            yield Key(path=path, schema=schema)


def least(schema: dict[str, Any]) -> Any:
    """Return the least value that a schema takes: of tables, what must be in them."""
    choice = choices(schema)[0]
    if "enum" in choice:
        return choice["enum"][0]
    kind = choice["type"]
    if kind == "object":
        needed = {name: least(choice["properties"][name]) for name in choice.get("required", [])}
        return needed or ({NAMED: least(choice["additionalProperties"])} if choice.get("minProperties") else {})
    if kind == "array":
        items = choice["items"]
        return (
            [least(item) for item in items] if isinstance(items, list) else [least(items)] * choice.get("minItems", 0)
        )
    if kind == "string":
        return _text(choice.get("pattern", ""))
    if kind == "boolean":
        return False
    number = min(max(1.0, choice.get("minimum", 1.0)), choice.get("maximum", 1.0))
    return int(number) if kind == "integer" else number


def _text(pattern: str) -> str:
    return "#102030" if "#" in pattern else "1 mm" if "mm" in pattern else "thing"


def scene_with(path: KeyPath, value: Any) -> dict[str, Any]:
    """Return the tables of a small scene in which a value stands at a path; tables on the way get least values."""
    data: dict[str, Any] = tomllib.loads(SMALL)
    put(data, path, value)
    return data


def put(data: dict[str, Any], path: KeyPath, value: Any) -> None:
    """Put a value at a path of a scene's tables, and on the way what it needs."""
    here: Any = data
    schema = json_schema_once()
    for number, part in enumerate(path):
        rest = path[number + 1 :]
        schema = _step(schema, part, rest)
        there = here[part] if _has(here, part) else None
        new = there if rest and _is_shaped(there, schema, rest) else copy.deepcopy(least(_fitting(schema, rest)))
        new = new if rest else value
        if isinstance(part, int) and part >= len(here):
            here.append(new)
        else:
            here[part] = new
        here = new


def _has(here: Any, part: str | int) -> bool:
    return part in here if isinstance(here, dict) else isinstance(part, int) and part < len(here)


def _is_shaped(value: Any, schema: dict[str, Any], rest: KeyPath) -> bool:
    """Return whether a value is of the choice that the rest of a path leads through."""
    deep = len(rest) > 1 and isinstance(rest[1], int) and isinstance(rest[0], int)
    if isinstance(rest[0], str):
        return isinstance(value, dict)
    return (
        isinstance(value, list) and bool(value) and (isinstance(value[0], list) == deep or isinstance(value[0], dict))
    )


def _fitting(schema: dict[str, Any], rest: KeyPath) -> dict[str, Any]:
    """Return the last choice of a schema through which the rest of a path leads."""
    return [choice for choice in choices(schema) if _leads(choice, rest)][-1]


def _leads(choice: dict[str, Any], rest: KeyPath) -> bool:
    if not rest:
        return True
    if choice["type"] != ("object" if isinstance(rest[0], str) else "array"):
        return False
    return any(_leads(deep, rest[1:]) for deep in choices(_inner(choice, rest[0])))


def _step(schema: dict[str, Any], part: str | int, rest: KeyPath) -> dict[str, Any]:
    return _inner(_fitting(schema, (part, *rest)), part)


def _inner(choice: dict[str, Any], part: str | int) -> dict[str, Any]:
    inner: dict[str, Any]
    if isinstance(part, str):
        inner = choice.get("properties", {}).get(part) or choice["additionalProperties"]
    else:
        inner = choice["items"][part] if isinstance(choice["items"], list) else choice["items"]
    return inner
