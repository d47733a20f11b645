"""One hash for a value: equal for equal content, whatever the process, the hash seed or the order of making.

Terms
-----
digest
    SHA-256 of a value's canonical form: the kind of every part of it, its length, and its bytes.
remembered
    A frozen dataclass whose digest was taken before; it cannot have changed since, and is recognised by identity.
"""

from __future__ import annotations

import dataclasses
import enum
import struct
from collections.abc import Callable, Mapping
from functools import cache
from hashlib import sha256
from types import BuiltinFunctionType, FunctionType, MappingProxyType
from typing import Any

import numpy as np
import shapely
from pydantic import BaseModel

Remembered = dict[int, tuple[Any, bytes]]


class UndigestibleError(TypeError):
    """A value that has no canonical form."""


def digest(value: object, remembered: Remembered | None = None) -> bytes:
    """Return the digest of a value, 32 bytes.

    Parameters
    ----------
    value
        Numbers, text, bytes, nothing, enumerations, arrays, tuples, lists, dicts, sets, plane shapes, functions of
        modules, pydantic models and dataclasses, nested as one likes.
    remembered
        Digests of frozen dataclasses by identity, added to; keeps them alive, so that no identity is used twice.

    Raises
    ------
    UndigestibleError
        For anything else.
    """
    hasher = sha256()
    _feed(value, hasher.update, {} if remembered is None else remembered)
    return hasher.digest()


def _feed(value: Any, put: Callable[[bytes], None], remembered: Remembered) -> None:
    kind = type(value)
    plain = PLAIN.get(kind)
    if plain is not None:
        put(plain(value))
    elif kind in (tuple, list):
        put(b"(%d:" % len(value))
        for item in value:
            _feed(item, put, remembered)
    elif dataclasses.is_dataclass(kind):
        put(_of_dataclass(value, kind, remembered))
    elif kind is np.ndarray:
        put(_array(value))
    else:
        _feed_rare(value, kind, put, remembered)


def _feed_rare(value: Any, kind: type, put: Callable[[bytes], None], remembered: Remembered) -> None:
    if isinstance(value, enum.Enum):
        put(b"e%s" % _text(f"{_name(kind)}.{value.name}"))
    elif isinstance(value, BaseModel):
        put(_of_model(value, kind, remembered))
    elif isinstance(value, (dict, MappingProxyType)):
        _feed_mapping(value, put, remembered)
    elif isinstance(value, tuple):  # a named tuple
        put(b"n%s" % _text(_name(kind)))
        _feed(tuple(value), put, remembered)
    elif isinstance(value, (set, frozenset)):
        put(b"{%d:" % len(value))
        for each in sorted(digest(item, remembered) for item in value):
            put(each)
    elif isinstance(value, FUNCTIONS) and "<" not in value.__qualname__:
        put(b"f%s" % _text(f"{value.__module__}.{value.__qualname__}"))
    elif isinstance(value, np.generic):
        put(b"g")
        put(_array(np.asarray(value)))
    elif isinstance(value, shapely.Geometry):
        put(b"w")
        put(PLAIN[bytes](value.wkb))
    else:
        raise UndigestibleError(f"{_name(kind)} has no canonical form")


def _feed_mapping(value: Mapping[Any, Any], put: Callable[[bytes], None], remembered: Remembered) -> None:
    """Feed a mapping in its own order, which may mean something: the first material is everybody's."""
    put(b"d%d:" % len(value))
    for key, item in value.items():
        _feed(key, put, remembered)
        _feed(item, put, remembered)


def _of_dataclass(value: Any, kind: type, remembered: Remembered) -> bytes:
    known = remembered.get(id(value))
    if known is not None:
        return known[1]
    names, frozen, head = _shape(kind)
    hasher = sha256(head)
    for name in names:
        _feed(getattr(value, name), hasher.update, remembered)
    out = hasher.digest()
    if frozen:
        remembered[id(value)] = (value, out)
    return out


def _of_model(value: BaseModel, kind: type, remembered: Remembered) -> bytes:
    known = remembered.get(id(value))
    if known is not None:
        return known[1]
    hasher = sha256(b"m%s" % _text(_name(kind)))
    _feed_mapping(value.__dict__, hasher.update, remembered)
    out = hasher.digest()
    if kind.model_config.get("frozen"):  # type: ignore[attr-defined]
        remembered[id(value)] = (value, out)
    return out


@cache
def _shape(kind: Any) -> tuple[tuple[str, ...], bool, bytes]:
    """Return a dataclass's fields, whether it is frozen, and what its canonical form begins with."""
    names = tuple(field.name for field in dataclasses.fields(kind))
    return names, kind.__dataclass_params__.frozen, b"c%s" % _text(_name(kind))


@cache
def _name(kind: type) -> str:
    return f"{kind.__module__}.{kind.__qualname__}"


def _text(value: str) -> bytes:
    coded = value.encode("utf-8", "surrogatepass")
    return b"%d:%s" % (len(coded), coded)


def _array(value: Any) -> bytes:
    if value.dtype == object:
        raise UndigestibleError("an array of objects has no canonical form")
    data: bytes = value.tobytes()
    return f"a{value.dtype.str}{value.shape}:".encode() + data


FUNCTIONS = (FunctionType, BuiltinFunctionType, type(_shape))
"""What a function of a module is, plain or remembering its results."""

PLAIN: dict[type, Callable[[Any], bytes]] = {
    float: lambda value: b"." + struct.pack("<d", value),
    int: lambda value: b"i%d;" % value,
    bool: lambda value: b"T" if value else b"F",
    str: lambda value: b"s" + _text(value),
    bytes: lambda value: b"b%d:" % len(value) + value,
    type(None): lambda _: b"0",
}
"""Canonical forms of what has no parts; each begins with a letter of its own and tells where it ends."""
