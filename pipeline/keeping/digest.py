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
from functools import cache, partial
from hashlib import sha256
from types import BuiltinFunctionType, FunctionType, MappingProxyType
from typing import Any

import numpy as np
import shapely
from pydantic import BaseModel

Put = Callable[[bytes], None]


class Remembered:
    """Digests of frozen values by identity; each keeps its value alive, so that no identity is used twice.

    They fall into two ages. What nobody asks for from one aging to the next but one is let go, and its value with it.
    """

    __slots__ = ("_new", "_old")

    def __init__(self) -> None:
        self._new: dict[int, tuple[Any, bytes]] = {}
        self._old: dict[int, tuple[Any, bytes]] = {}

    def age(self) -> None:
        """Let go what has not been asked for since the last aging."""
        self._old, self._new = self._new, {}

    def get(self, value: object) -> bytes | None:
        """Return the digest of a value, if it is remembered."""
        known = self._new.get(id(value))
        if known is None:
            known = self._old.get(id(value))
            if known is None:
                return None
            self._new[id(value)] = known
        return known[1]

    def put(self, value: object, digest: bytes) -> None:
        """Remember the digest of a value that cannot change."""
        self._new[id(value)] = (value, digest)


Feed = Callable[[Any, Put, Remembered], None]


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
        Digests of frozen dataclasses and models taken before, added to.

    Raises
    ------
    UndigestibleError
        For anything else.
    """
    fed: list[bytes] = []
    _feed(value, fed.append, Remembered() if remembered is None else remembered)
    return sha256(b"".join(fed)).digest()


def _feed(value: Any, put: Put, remembered: Remembered) -> None:
    kind: Any = type(value)
    plain = PLAIN.get(kind)
    if plain is not None:
        put(plain(value))
    else:
        _feeder(kind)(value, put, remembered)


@cache
def _feeder(kind: type) -> Feed:
    """Return what feeds values of a kind that has parts."""
    if kind in (tuple, list):
        return _feed_row
    if dataclasses.is_dataclass(kind):
        return _feed_dataclass
    if kind is np.ndarray:
        return _feed_array
    for base, feed in FEEDS:
        if issubclass(kind, base):
            return feed
    return _refuse


def _feed_row(value: Any, put: Put, remembered: Remembered) -> None:
    put(b"(%d:" % len(value))
    for item in value:  # most have no parts
        plain = PLAIN.get(type(item))
        if plain is not None:
            put(plain(item))
        else:
            _feed(item, put, remembered)


def _feed_named(value: Any, put: Put, remembered: Remembered) -> None:
    """Feed a named tuple."""
    put(b"n%s" % _text(_name(value)))
    _feed_row(value, put, remembered)


def _feed_mapping(value: Mapping[Any, Any], put: Put, remembered: Remembered) -> None:
    """Feed a mapping in its own order, which may mean something: the first material is everybody's."""
    put(b"d%d:" % len(value))
    for key, item in value.items():
        _feed(key, put, remembered)
        _feed(item, put, remembered)


def _feed_set(value: Any, put: Put, remembered: Remembered) -> None:
    put(b"{%d:" % len(value))
    for each in sorted(digest(item, remembered) for item in value):
        put(each)


def _feed_enum(value: Any, put: Put, _: Remembered) -> None:
    put(b"e%s" % _text(f"{_name(value)}.{value.name}"))


def _feed_function(value: Any, put: Put, remembered: Remembered) -> None:
    if "<" in value.__qualname__:
        _refuse(value, put, remembered)
    put(b"f%s" % _text(f"{value.__module__}.{value.__qualname__}"))


def _feed_array(value: Any, put: Put, _: Remembered) -> None:
    put(_array(value))


def _feed_number(value: Any, put: Put, _: Remembered) -> None:
    put(b"g%s" % _array(np.asarray(value)))


def _feed_geometry(value: Any, put: Put, _: Remembered) -> None:
    put(b"w%s" % PLAIN[bytes](value.wkb))


def _refuse(value: Any, _put: Put, _: Remembered) -> None:
    raise UndigestibleError(f"{_name(value)} has no canonical form")


def _feed_dataclass(value: Any, put: Put, remembered: Remembered) -> None:
    known = remembered.get(value)
    if known is not None:
        put(known)
        return
    kind: Any = type(value)
    names, frozen, head = _shape(kind)
    fed = [head]
    for name in names:
        _feed(getattr(value, name), fed.append, remembered)
    out = sha256(b"".join(fed)).digest()
    if frozen:
        remembered.put(value, out)
    put(out)


def _feed_model(value: Any, put: Put, remembered: Remembered) -> None:
    known = remembered.get(value)
    if known is not None:
        put(known)
        return
    fed = [b"m%s" % _text(_name(value))]
    _feed_mapping(value.__dict__, fed.append, remembered)
    out = sha256(b"".join(fed)).digest()
    if type(value).model_config.get("frozen"):
        remembered.put(value, out)
    put(out)


@cache
def _shape(kind: Any) -> tuple[tuple[str, ...], bool, bytes]:
    """Return a dataclass's fields, whether it is frozen, and what its canonical form begins with."""
    names = tuple(field.name for field in dataclasses.fields(kind))
    return names, kind.__dataclass_params__.frozen, b"c%s" % _text(_called(kind))


def _name(value: Any) -> str:
    kind: Any = type(value)
    return _called(kind)


@cache
def _called(kind: type) -> str:
    return f"{kind.__module__}.{kind.__qualname__}"


def _text(value: str) -> bytes:
    coded = value.encode("utf-8", "surrogatepass")
    return b"%d:%s" % (len(coded), coded)


def _array(value: Any) -> bytes:
    if value.dtype == object:
        raise UndigestibleError("an array of objects has no canonical form")
    data: bytes = value.tobytes()
    return f"a{value.dtype.str}{value.shape}:".encode() + data


FEEDS: tuple[tuple[type, Feed], ...] = (
    (enum.Enum, _feed_enum),
    (BaseModel, _feed_model),
    (dict, _feed_mapping),
    (MappingProxyType, _feed_mapping),
    (tuple, _feed_named),
    (set, _feed_set),
    (frozenset, _feed_set),
    (FunctionType, _feed_function),
    (BuiltinFunctionType, _feed_function),
    (type(_shape), _feed_function),
    (np.generic, _feed_number),
    (shapely.Geometry, _feed_geometry),
)
"""What feeds what has parts, the first that fits; a function of a module may be one that remembers its results."""

PLAIN: dict[type, Callable[[Any], bytes]] = {
    float: partial(struct.Struct("<cd").pack, b"."),
    int: lambda value: b"i%d;" % value,
    bool: lambda value: b"T" if value else b"F",
    str: lambda value: b"s" + _text(value),
    bytes: lambda value: b"b%d:" % len(value) + value,
    type(None): lambda _: b"0",
}
"""Canonical forms of what has no parts; each begins with a letter of its own and tells where it ends."""
