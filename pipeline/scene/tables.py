"""Which table of the model a path of the scene file leads to."""

from __future__ import annotations

import types
from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated, Any, Union, get_args, get_origin

from pipeline.elements.problems import KeyPath
from pipeline.units import Length, Table


@lru_cache(maxsize=4096)
def table_at(root: type[Table], path: KeyPath) -> type[Table] | None:
    """Return the model of the table that stands at a path, or nothing if no table does."""
    return next((kind for kind in _kinds_at(root, path) if _is_table(kind)), None)


def holds_tables(root: type[Table], path: KeyPath) -> bool:
    """Return whether a path leads to an array of tables, written with two brackets."""
    return table_at(root, path) is None and table_at(root, (*path, 0)) is not None


def names_tables(root: type[Table], path: KeyPath) -> bool:
    """Return whether a path leads to tables under names of their own, such as ``[covers.NAME]``."""
    return table_at(root, path) is None and table_at(root, (*path, "NAME")) is not None


def describe_key(root: type[Table], path: KeyPath) -> str:
    """Return what the model says of a key (for an item of an array, of the array's key), or an empty text."""
    while path and isinstance(path[-1], int):
        path = path[:-1]
    table = table_at(root, path[:-1]) if path else None
    field = table.model_fields.get(str(path[-1])) if table is not None else None
    return (field.description or "") if field is not None else ""


def length_unit(root: type[Table], path: KeyPath) -> str:
    """Return ``"mm"`` or ``"m"`` where the key is a length, else an empty text."""
    table = table_at(root, path[:-1]) if path else None
    field = table.model_fields.get(str(path[-1])) if table is not None else None
    marks = [] if field is None else [*field.metadata, *_marks(field.annotation)]
    return next((mark.unit for mark in marks if isinstance(mark, Length)), "")


@lru_cache(maxsize=512)
def homes_of(root: type[Table], key: str) -> tuple[str, ...]:
    """Return the headers of the tables that know a key, of the first two floors of the file."""
    homes = []
    for name in root.model_fields:
        for path, header in (((name,), f"[{name}]"), ((name, 0), f"[[{name}]]"), ((name, "NAME"), f"[{name}.NAME]")):
            table = table_at(root, path)
            if table is not None:
                if key in table.model_fields:
                    homes.append(header)
                break
    return tuple(homes)


def _kinds_at(kind: Any, path: KeyPath) -> Iterator[Any]:
    for plain in _unwrap(kind):
        if not path:
            yield plain
        elif _is_table(plain):
            field = plain.model_fields.get(str(path[0]))
            if field is not None:
                yield from _kinds_at(field.annotation, path[1:])
        elif get_origin(plain) is dict and isinstance(path[0], str):
            yield from _kinds_at(get_args(plain)[1], path[1:])
        elif get_origin(plain) in (list, tuple) and isinstance(path[0], int) and get_args(plain):
            yield from _kinds_at(get_args(plain)[0], path[1:])


def _unwrap(kind: Any) -> Iterator[Any]:
    """Yield a type without annotations, or each choice of a union."""
    if get_origin(kind) is Annotated:
        yield from _unwrap(get_args(kind)[0])
    elif get_origin(kind) in (Union, types.UnionType):
        for choice in get_args(kind):
            yield from _unwrap(choice)
    else:
        yield kind


def _marks(kind: Any) -> Iterator[Any]:
    if get_origin(kind) is Annotated:
        yield from get_args(kind)[1:]
    for inner in get_args(kind):
        if get_origin(inner) is not None:
            yield from _marks(inner)


def _is_table(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Table)
