"""Where keys and values stand in a scene file.

Wanted only once something is wrong, so the text is then read a second time by a parser that keeps places. Without that
parser (it has no wheel for every machine), or where it would take long, lines are found by their looks, and columns are
not known.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from pipeline.elements.problems import KeyPath

if TYPE_CHECKING:
    from tree_sitter import Node, Parser


class At(NamedTuple):
    """A place in a text, counted from 1, the column in characters."""

    line: int
    column: int | None


START = At(1, 1)
LARGE = 200_000
"""Characters of a file that the parser takes a second for at worst; larger ones are searched by their looks."""


def locate(text: str, path: KeyPath) -> At:
    """Return where a key, array item or table stands; what is missing stands where its table begins.

    ``path`` counts from 0, as in ``("columns", 1, "at", 0)``. A key's place is the key, an item's the item, a
    table's its header.
    """
    places = _read(text)
    for end in range(1, len(path)):
        places.open(path[:end])
    for end in range(len(path), 0, -1):
        if path[:end] in places.found:
            return places.found[path[:end]]
    return START


@dataclass(slots=True)
class _Places:
    """Places found so far, and the values nobody has looked into yet.

    Attributes
    ----------
    found
        Place of each header, key and item.
    values
        Arrays and inline tables by their path, to be opened when something in them is asked for.
    lines
        The text's lines that are not plain ASCII; in the others a byte is a character.
    """

    found: dict[KeyPath, At]
    values: dict[KeyPath, Node]
    lines: dict[int, bytes]

    def open(self, path: KeyPath) -> None:
        """Find the items or keys inside the value at a path."""
        value = self.values.pop(path, None)
        inner = [] if value is None else [child for child in value.named_children if child.type != "comment"]
        for number, child in enumerate(inner):
            if child.type == "pair":
                self.add_pair(path, child)
            else:
                self.add_value((*path, number), child)
                self.found[*path, number] = self.start(child)

    def add_pair(self, base: KeyPath, node: Node) -> None:
        """Put in a key and its value."""
        inner = [child for child in node.named_children if child.type != "comment"]
        if len(inner) == 2:
            path = (*base, *_key(inner[0]))
            self.put(path, node)
            self.add_value(path, inner[1])

    def add_value(self, path: KeyPath, node: Node) -> None:
        """Keep a value that holds others."""
        if node.type in ("array", "inline_table"):
            self.values[path] = node

    def put(self, path: KeyPath, node: Node) -> None:
        """Put in a place, and those of tables on the way that have none yet."""
        at = self.start(node)
        for end in range(1, len(path) + 1):
            self.found.setdefault(path[:end], at)

    def start(self, node: Node) -> At:
        """Return where a node begins."""
        row, byte = node.start_point
        line = self.lines.get(row)
        return At(row + 1, (byte if line is None else len(line[:byte].decode("utf-8", "replace"))) + 1)


@lru_cache(maxsize=2)
def _read(text: str) -> _Places:
    parser = _parser() if len(text) <= LARGE else None
    if parser is None:
        return _Places(found=_by_looks(text), values={}, lines={})
    source = text.encode("utf-8", "surrogatepass")
    lines = {row: line for row, line in enumerate(source.split(b"\n")) if not line.isascii()}
    places = _Places(found={}, values={}, lines=lines)
    counts: dict[KeyPath, int] = {}
    tables: list[tuple[KeyPath, Node]] = []
    root = parser.parse(source).root_node
    for node in root.named_children:
        if node.type in ("table", "table_array_element") and node.named_children:
            base = _header(_key(node.named_children[0]), counts, several=node.type == "table_array_element")
            # A header is a table's place even where a longer one passed through it before.
            places.found[base] = places.start(node)
            if isinstance(base[-1], int):
                places.found.setdefault(base[:-1], places.start(node))
            tables.append((base, node))
    for base, node in tables:
        places.put(base, node)
    for base, node in [((), root), *tables]:
        for child in node.named_children:
            if child.type == "pair":
                places.add_pair(base, child)
    return places


def _parser() -> Parser | None:
    try:
        import tree_sitter
        import tree_sitter_toml
    except ImportError:
        return None
    return tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))


def _header(keys: KeyPath, counts: dict[KeyPath, int], *, several: bool) -> KeyPath:
    """Return the path of the table below a header, and count it where it is one of several."""
    base = _resolve(keys, counts)
    if not several:
        return base
    counts[base] = counts.get(base, 0) + 1
    return (*base, counts[base] - 1)


def _resolve(keys: KeyPath, counts: dict[KeyPath, int]) -> KeyPath:
    """Return a header's path with the number of the last table put in wherever it passes an array of tables."""
    path: KeyPath = ()
    for key in keys:
        if path in counts:
            path = (*path, counts[path] - 1)
        path = (*path, key)
    return path


def _key(node: Node) -> KeyPath:
    if node.type == "dotted_key":
        return tuple(part for child in node.named_children for part in _key(child))
    text = (node.text or b"").decode("utf-8", "replace")
    return (text,) if node.type == "bare_key" else _keys_of(text)


def _keys_of(text: str) -> KeyPath:
    """Return the keys of a dotted key's text, quotes taken off."""
    if _PLAIN.fullmatch(text):
        return tuple(text.split("."))
    path: KeyPath = ()
    try:
        table = tomllib.loads(f"{text} = 0")
    except tomllib.TOMLDecodeError:
        return (text,)
    while isinstance(table, dict):
        key, table = next(iter(table.items()))
        path = (*path, key)
    return path


_PLAIN = re.compile(r"[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*")
_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_PAIR = re.compile(r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=""")


def _by_looks(text: str) -> dict[KeyPath, At]:
    counts: dict[KeyPath, int] = {}
    found: dict[KeyPath, At] = {}
    passed: dict[KeyPath, At] = {}
    base: KeyPath = ()
    for number, line in enumerate(text.split("\n"), 1):
        if header := _HEADER.match(line):
            path = base = _header(_keys_of(header[2]), counts, several=header[1] == "[[")
        elif pair := _PAIR.match(line):
            path = (*base, *_keys_of(pair[1]))
        else:
            continue
        found.setdefault(path, At(number, None))
        for end in range(1, len(path)):
            passed.setdefault(path[:end], At(number, None))
    return passed | found
