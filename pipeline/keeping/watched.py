"""What a function looks at of a value that holds more than it needs.

Terms
-----
watched
    A stand-in for a frozen dataclass: it answers as that does, and notes which fields are looked at.

A pure function that looked at some fields, found the same in them again, and was given the same otherwise, goes the
same way and returns the same: what it never looked at may change.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from types import FunctionType, MappingProxyType
from typing import Any, TypeVar, cast

T = TypeVar("T")

Seen = set[str]


class Watched:
    """Stands in for a frozen dataclass; its methods and properties run on the stand-in.

    Parameters
    ----------
    value
        The dataclass.
    seen
        Names of the fields that are looked at, added to.
    changes
        What stands in place of some fields, as `altered` puts it; looking at them is not noted.
    """

    __slots__ = ("_changes", "_seen", "_value")

    def __init__(self, value: Any, seen: Seen, changes: Mapping[str, object] = MappingProxyType({})) -> None:
        self._value, self._seen, self._changes = value, seen, changes

    def __getattr__(self, name: str) -> Any:
        if name in self._changes:
            return self._changes[name]
        kind = type(self._value)
        if name in kind.__dataclass_fields__:
            self._seen.add(name)
            return getattr(self._value, name)
        found = getattr(kind, name)
        if isinstance(found, property):
            return cast(Callable[[object], object], found.fget)(self)
        return found.__get__(self) if isinstance(found, FunctionType) else found


def watch(value: T, seen: Seen) -> T:
    """Return a stand-in for a frozen dataclass that notes in ``seen`` which fields are looked at."""
    return cast(T, Watched(value, seen))


def altered(value: T, **changes: object) -> T:
    """Return a frozen dataclass, or what stands in for one, with other values in some fields.

    ``dataclasses.replace`` would look at all fields.
    """
    if isinstance(value, Watched):
        return cast(T, Watched(value._value, value._seen, {**value._changes, **changes}))
    return cast(T, dataclasses.replace(cast(Any, value), **changes))
