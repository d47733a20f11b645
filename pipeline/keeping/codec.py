"""Values to bytes and back, so that what was made outlives the process: JSON for the structure, raw bytes for arrays.

Only what a build makes comes back: numbers, text, arrays, plane shapes, tuples, lists, dicts, enumerations and
dataclasses of this package, rebuilt through their own constructors. Nothing in the bytes can run.
"""

from __future__ import annotations

import dataclasses
import enum
import importlib
import json
import struct
from functools import cache
from typing import Any

import numpy as np
import shapely

HEAD = struct.Struct("<Q")
"""Length of the structure; raw bytes follow it."""

PACKAGE = "pipeline."

KINDS = "biufc"
"""Kinds of numpy's numbers that are stored; no objects, no text."""


class UncodableError(TypeError):
    """A value that cannot be stored."""


class DamagedError(ValueError):
    """Bytes that are no stored value."""


def encode(value: object) -> bytes:
    """Return a value as bytes.

    Raises
    ------
    UncodableError
        If something in it cannot be stored.
    """
    raw: list[bytes] = []
    structure = json.dumps(_node(value, raw, [0]), separators=(",", ":")).encode()
    return b"".join([HEAD.pack(len(structure)), structure, *raw])


def decode(data: bytes) -> Any:
    """Return the value that was stored.

    Raises
    ------
    DamagedError
        If the bytes are none of ours, or of a program whose types have other fields.
    """
    try:
        (length,) = HEAD.unpack_from(data)
        structure = json.loads(data[HEAD.size : HEAD.size + length])
        return _value(structure, memoryview(data)[HEAD.size + length :])
    except (
        struct.error,
        ValueError,
        TypeError,
        KeyError,
        IndexError,
        AttributeError,
        RecursionError,
        shapely.GEOSException,
    ) as error:
        raise DamagedError(str(error)) from error


def _node(value: Any, raw: list[bytes], used: list[int]) -> Any:
    kind = type(value)
    if value is None or kind in (bool, int, float, str):
        return value
    if kind in (tuple, list):
        return ["t" if kind is tuple else "l", *(_node(item, raw, used) for item in value)]
    if dataclasses.is_dataclass(kind) and kind.__module__.startswith(PACKAGE):
        fields = (_node(getattr(value, name), raw, used) for name in _fields(kind))
        return ["c", kind.__module__, kind.__qualname__, *fields]
    if kind is np.ndarray and value.dtype.kind in KINDS:
        turned = value.flags.f_contiguous and not value.flags.c_contiguous
        data = value.tobytes(order="F" if turned else "C")
        return ["a", value.dtype.str, list(value.shape), turned, *_kept_raw(data, raw, used)]
    if kind is bytes:
        return ["b", *_kept_raw(value, raw, used)]
    return _rare_node(value, kind, raw, used)


def _rare_node(value: Any, kind: type, raw: list[bytes], used: list[int]) -> Any:
    if isinstance(value, enum.Enum) and kind.__module__.startswith(PACKAGE):
        return ["e", kind.__module__, kind.__qualname__, value.name]
    if kind is dict:
        return ["d", *([_node(key, raw, used), _node(item, raw, used)] for key, item in value.items())]
    if kind is frozenset:
        return ["f", *(_node(item, raw, used) for item in sorted(value))]
    if isinstance(value, np.generic) and value.dtype.kind in KINDS:
        return ["g", value.dtype.str, *_kept_raw(value.tobytes(), raw, used)]
    if isinstance(value, shapely.Geometry):
        return ["w", *_kept_raw(value.wkb, raw, used)]
    raise UncodableError(f"{kind.__module__}.{kind.__qualname__} cannot be stored")


def _kept_raw(data: bytes, raw: list[bytes], used: list[int]) -> tuple[int, int]:
    start = used[0]
    raw.append(data)
    used[0] += len(data)
    return start, len(data)


def _value(node: Any, raw: memoryview) -> Any:
    if not isinstance(node, list):
        return node
    tag = node[0]
    if tag == "t":
        return tuple(_value(item, raw) for item in node[1:])
    if tag == "c":
        kind = _type(node[1], node[2])
        return kind(**dict(zip(_fields(kind), (_value(item, raw) for item in node[3:]), strict=True)))
    if tag == "a":
        _, dtype, shape, turned, start, length = node
        flat = np.frombuffer(_raw(raw, start, length), dtype=np.dtype(dtype))
        return flat.reshape(shape, order="F" if turned else "C").copy(order="K")
    if tag == "l":
        return [_value(item, raw) for item in node[1:]]
    if tag == "d":
        return {_value(key, raw): _value(item, raw) for key, item in node[1:]}
    return _rare_value(tag, node, raw)


def _rare_value(tag: str, node: list[Any], raw: memoryview) -> Any:
    if tag == "b":
        return bytes(_raw(raw, node[1], node[2]))
    if tag == "w":
        return shapely.from_wkb(bytes(_raw(raw, node[1], node[2])))
    if tag == "e":
        return _type(node[1], node[2])[node[3]]
    if tag == "f":
        return frozenset(_value(item, raw) for item in node[1:])
    if tag == "g":
        return np.frombuffer(_raw(raw, node[2], node[3]), dtype=np.dtype(node[1]))[0]
    raise DamagedError(f"no such kind: {tag!r}")


def _raw(raw: memoryview, start: int, length: int) -> memoryview:
    if not 0 <= start <= start + length <= len(raw):
        raise DamagedError("the bytes end too early")
    return raw[start : start + length]


@cache
def _fields(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind) if field.init)


@cache
def _type(module: str, name: str) -> Any:
    """Return a dataclass or an enumeration of this package."""
    if not module.startswith(PACKAGE):
        raise DamagedError(f"{module} is not of this package")
    try:
        found = getattr(importlib.import_module(module), name)
    except ImportError as error:
        raise DamagedError(str(error)) from error
    if not isinstance(found, type) or not (dataclasses.is_dataclass(found) or issubclass(found, enum.Enum)):
        raise DamagedError(f"{name} is no dataclass")
    return found
