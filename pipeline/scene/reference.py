"""The scene file's reference: every table and key with what it may hold, from the very schema that editors read."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from pipeline.scene.schema import json_schema

Schema = Mapping[str, Any]

HEAD = """# The scene file

Every table and key, written by `foreshorten schema --page`; do not edit it by hand.

Lengths of real things (`box`, `eye`, `materials`, `make` and what they hold) are in millimetres.
Lengths of imagined things are in metres.
Any length may also be text with its unit: `"180 mm"`, `"75 cm"`, `"2.4 m"`, `"3 in"`, `"12 ft"`.
Angles are in degrees.
A key without a default must be there where its table is.
"""


def reference() -> str:
    """Return the page, Markdown."""
    whole = json_schema()
    lines = [HEAD]
    lines += _section("At the top", "Before the first table.", _plain(whole), whole)
    for key, schema in whole["properties"].items():
        for header, about, table in _tables(key, schema, whole):
            lines += _section(f"`{header}`", about, table, whole)
    return "\n".join(lines).rstrip() + "\n"


def _plain(whole: Schema) -> Schema:
    """Return the keys of the file that are no tables."""
    keys = {key: part for key, part in whole["properties"].items() if not list(_tables(key, part, whole))}
    return {"properties": keys, "required": whole["required"]}


def _tables(key: str, schema: Schema, whole: Schema) -> Iterator[tuple[str, str, Schema]]:
    """Yield the table a key stands for and those within it: header, description, the table itself."""
    header, table = _table(key, schema, whole)
    if table is None:
        return
    yield header, schema.get("description", ""), table
    for inner, below in table.get("properties", {}).items():
        yield from _tables(f"{header.strip('[]')}.{inner}", below, whole)


def _table(key: str, schema: Schema, whole: Schema) -> tuple[str, Schema | None]:
    """Return the header of a key's table and the table; none where the key holds a value."""
    found = _followed(schema, whole)
    if "properties" in found:
        return f"[{key}]", found
    if isinstance(found.get("items"), dict) and "properties" in (item := _followed(found["items"], whole)):
        return f"[[{key}]]", item
    if isinstance(found.get("additionalProperties"), dict):
        return f"[{key}.NAME]", _followed(found["additionalProperties"], whole)
    return key, None


def _followed(schema: Schema, whole: Schema) -> Schema:
    """Return what a reference leads to."""
    for part in (schema, *schema.get("allOf", ()), *schema.get("anyOf", ())):
        if "$ref" in part:
            target: Schema = whole["definitions"][part["$ref"].rsplit("/", 1)[-1]]
            return target
    return schema


def _section(heading: str, about: str, table: Schema, whole: Schema) -> Iterator[str]:
    yield f"## {heading}\n\n{about}\n"
    yield "| key | holds | default | |"
    yield "|---|---|---|---|"
    needs = frozenset(table.get("required", ()))
    for key, part in table.get("properties", {}).items():
        default = "needed" if key in needs else _default(part)
        yield f"| `{key}` | {_cell(_holds(key, part, whole))} | {default} | {_cell(part.get('description', ''))} |"
    yield ""


def _default(part: Schema) -> str:
    return f"`{json.dumps(part['default'], ensure_ascii=False)}`" if "default" in part else ""


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _holds(key: str, part: Schema, whole: Schema) -> str:
    """Return in words what a key may hold."""
    header, table = _table(key, part, whole)
    if table is not None:
        return "tables" if header.startswith("[[") or header.endswith(".NAME]") else "a table"
    found = _followed(part, whole)
    choices = [_value(one) for one in found.get("anyOf", [found])]
    if len(choices) > 1 and "a length" in choices:
        choices = [one for one in choices if not one.startswith("a number")]
    return " or ".join(dict.fromkeys(choice for choice in choices if choice))


def _value(schema: Schema) -> str:
    if "enum" in schema:
        return ", ".join(f"`{json.dumps(one, ensure_ascii=False)}`" for one in schema["enum"])
    kind = schema.get("type")
    if kind == "string" and "mm|cm|m|in|ft" in schema.get("pattern", ""):
        return "a length"
    if kind == "array":
        items = schema.get("items")
        return f"{len(items)} values" if isinstance(items, list) else "a list"
    if kind == "object":
        return f"names, each with {_value(schema.get('additionalProperties', {})) or 'a value'}"
    words = {"string": "text", "boolean": "`true`, `false`", "integer": "a whole number", "number": "a number"}
    said = words.get(str(kind), "")
    low, high = (schema.get(bound) for bound in ("minimum", "maximum"))
    if kind in ("integer", "number") and low is not None and high is not None:
        return f"{said} from {low:g} to {high:g}"
    return said
