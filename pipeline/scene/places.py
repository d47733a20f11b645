"""Where keys and values stand in a scene file.

Wanted only once something is wrong, so the text is then read a second time by a parser that keeps places. Without that
parser (it has no wheel for every machine) lines are found by their looks, and columns are not known.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from pipeline.elements.model import KeyPath

if TYPE_CHECKING:
    from tree_sitter import Node


class At(NamedTuple):
    """A place in a text, counted from 1, the column in characters."""

    line: int
    column: int | None


START = At(1, 1)


def locate(text: str, path: KeyPath) -> At:
    """Return where a key, array item or table stands; what is missing stands where its table begins.

    ``path`` counts from 0, as in ``("columns", 1, "at", 0)``. A key's place is the key, an item's the item, a
    table's its header.
    """
    found = _all_places(text)
    for end in range(len(path), 0, -1):
        if path[:end] in found:
            return found[path[:end]]
    return START


@lru_cache(maxsize=2)
def _all_places(text: str) -> dict[KeyPath, At]:
    try:
        import tree_sitter
        import tree_sitter_toml
    except ImportError:
        return _first_of_each(_places_by_looks(text))
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    source = text.encode("utf-8", "surrogatepass")
    lines = source.split(b"\n")

    def start(node: Node) -> At:
        row, byte = node.start_point
        return At(row + 1, len(lines[row][:byte].decode("utf-8", "replace")) + 1)

    return _first_of_each((path, start(node)) for path, node in _document(parser.parse(source).root_node))


def _first_of_each(places: Iterable[tuple[KeyPath, At]]) -> dict[KeyPath, At]:
    """Return the first place of each path, and of each table that is never opened by a header of its own."""
    found: dict[KeyPath, At] = {}
    opened: dict[KeyPath, At] = {}
    for path, at in places:
        found.setdefault(path, at)
        for end in range(1, len(path)):
            opened.setdefault(path[:end], at)
    return opened | found


def _document(root: Node) -> Iterator[tuple[KeyPath, Node]]:
    counts: dict[KeyPath, int] = {}
    for node in root.named_children:
        if node.type == "pair":
            yield from _pair((), node)
        elif node.type in ("table", "table_array_element"):
            base = _resolve(_key(node.named_children[0]), counts)
            if node.type == "table_array_element":
                yield base, node
                counts[base] = counts.get(base, 0) + 1
                base = (*base, counts[base] - 1)
            yield base, node
            for child in node.named_children[1:]:
                if child.type == "pair":
                    yield from _pair(base, child)


def _resolve(keys: KeyPath, counts: dict[KeyPath, int]) -> KeyPath:
    """Return a header's path with the number of the last table put in wherever it passes an array of tables."""
    path: KeyPath = ()
    for key in keys:
        if path in counts:
            path = (*path, counts[path] - 1)
        path = (*path, key)
    return path


def _pair(base: KeyPath, node: Node) -> Iterator[tuple[KeyPath, Node]]:
    key, *values = [child for child in node.named_children if child.type != "comment"]
    path = (*base, *_key(key))
    yield path, node
    for value in values:
        yield from _value(path, value)


def _value(path: KeyPath, node: Node) -> Iterator[tuple[KeyPath, Node]]:
    inner = [child for child in node.named_children if child.type != "comment"]
    if node.type == "array":
        for number, item in enumerate(inner):
            yield (*path, number), item
            yield from _value((*path, number), item)
    elif node.type == "inline_table":
        for pair in inner:
            yield from _pair(path, pair)


def _key(node: Node) -> KeyPath:
    if node.type == "dotted_key":
        return tuple(part for child in node.named_children for part in _key(child))
    text = (node.text or b"").decode("utf-8", "replace")
    return (text,) if node.type == "bare_key" else _keys_of(text)


def _keys_of(text: str) -> KeyPath:
    """Return the keys of a dotted key's text, quotes taken off."""
    path: KeyPath = ()
    try:
        table = tomllib.loads(f"{text} = 0")
    except tomllib.TOMLDecodeError:
        return (text,)
    while isinstance(table, dict):
        key, table = next(iter(table.items()))
        path = (*path, key)
    return path


_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_PAIR = re.compile(r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=""")


def _places_by_looks(text: str) -> Iterator[tuple[KeyPath, At]]:
    counts: dict[KeyPath, int] = {}
    base: KeyPath = ()
    for number, line in enumerate(text.split("\n"), 1):
        here = At(number, None)
        if header := _HEADER.match(line):
            base = _resolve(_keys_of(header[2]), counts)
            if header[1] == "[[":
                counts[base] = counts.get(base, 0) + 1
                base = (*base, counts[base] - 1)
            yield base, here
        elif pair := _PAIR.match(line):
            yield (*base, *_keys_of(pair[1])), here
