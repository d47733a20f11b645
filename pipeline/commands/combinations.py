"""Every combination of the values that a sweep names, each with the name of its folder."""

from __future__ import annotations

import hashlib
import itertools
import math
import re
from dataclasses import dataclass

from pipeline.commands.model import InputError
from pipeline.commands.ranges import values

LONGEST_NAME = 120
"""Letters of a folder's name; beyond it a digest stands for the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A key of the scene and the values it takes, in order, as text."""

    key: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """One value for each key, and the folder's name."""

    settings: tuple[tuple[str, str], ...]
    name: str


def axes(settings: list[tuple[str, str]]) -> tuple[Axis, ...]:
    """Return the axes that arguments such as ``eye.distance=300:600:50`` name; a value named twice counts once.

    Raises
    ------
    InputError
        If a list names nothing, or a key is named twice.
    """
    found: dict[str, Axis] = {}
    for key, text in settings:
        if key in found:
            raise InputError(f"--set {key}: named twice; put all its values into one list, as in {key}=1,2,3")
        try:
            found[key] = Axis(key=key, values=tuple(dict.fromkeys(values(text))))
        except ValueError as error:
            raise InputError(f"--set {key}: {error}") from None  # which tells how it is written
    return tuple(found.values())


def count(swept: tuple[Axis, ...]) -> int:
    """Return how many combinations there are."""
    return math.prod(len(axis.values) for axis in swept)


def combinations(swept: tuple[Axis, ...]) -> list[Combination]:
    """Return every combination, the last axis running fastest; names differ also where upper and lower case are one."""
    taken: set[str] = set()
    out = []
    for chosen in itertools.product(*(axis.values for axis in swept)):
        settings = tuple((axis.key, value) for axis, value in zip(swept, chosen, strict=True))
        name = _name(settings)
        if name.casefold() in taken:
            name = f"{name[: LONGEST_NAME - 9]}-{_digest(settings)}"
        taken.add(name.casefold())
        out.append(Combination(settings=settings, name=name))
    return out


def _name(settings: tuple[tuple[str, str], ...]) -> str:
    text = "_".join(f"{key}={value}" for key, value in settings)
    plain = re.sub(r"[^A-Za-z0-9._=+-]+", "-", text).strip("-. ")
    return plain if len(plain) <= LONGEST_NAME else f"{plain[: LONGEST_NAME - 9]}-{_digest(settings)}"


def _digest(settings: tuple[tuple[str, str], ...]) -> str:
    return hashlib.sha256(repr(settings).encode()).hexdigest()[:8]
