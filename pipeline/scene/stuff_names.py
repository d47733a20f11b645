"""Whether what a scene says its things are made of is known: by the program, or by tables of its own.

Like all agreements this reads the parsed file, so that it speaks up together with whatever else is wrong in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.nearest import nearest
from pipeline.scene.stuff import TOOLS, StuffTable, package
from pipeline.scene.values import show
from pipeline.scene.wording import bad_name
from pipeline.units import NAME_PATTERN

MOST_TOLD = 12
"""Names in one message."""


def stuff_names(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each name of stuff that nothing in the file or the program knows."""
    own = {str(name): table for name, table in _table(data, "stuff").items()}
    for name in own:
        if not re.fullmatch(NAME_PATTERN, name):
            yield bad_name(("stuff", name), name)
        elif name.lower() in TOOLS:
            found = f"{show(name)} is what sheets are cut with"
            yield Problem(path=("stuff", name), found=found, allowed="names of stuff", remedy="give it another name")
    yield from _taken(own)
    names = [*_words(package().stuff, ("also",)), *_own_words(own, ("also",))]
    kinds = [*names, *_words(package().stuff, ("kinds",)), *_own_words(own, ("kinds",)), *TOOLS]
    for path, value in _named(data):
        yield from _unknown(path, value, names, "stuff")
        yield from _unfit(path, value, own)
    clashes = data.get("clashes")
    for number, table in enumerate(clashes if isinstance(clashes, list) else []):
        pair = table.get("pair") if isinstance(table, dict) else None
        for place, value in enumerate(pair if isinstance(pair, list) else []):
            yield from _unknown(("clashes", number, "pair", place), value, kinds, "stuff, kind or tool")


def _named(data: dict[str, Any]) -> Iterator[tuple[KeyPath, Any]]:
    """Yield every key that names stuff, and its value."""
    for name, table in _table(data, "materials").items():
        for key in ("of", "glue", "coat"):
            yield ("materials", name, key), table.get(key) if isinstance(table, dict) else None
    for name, table in _table(data, "covers").items():
        yield ("covers", name, "of"), table.get("of") if isinstance(table, dict) else None
    printer = _table(_table(data, "make"), "printer")
    for key in ("of", "glue"):
        yield ("make", "printer", key), printer.get(key)
    work = _table(data, "work")
    for key in ("glue", "paint", "filler"):
        yield ("work", key), work.get(key)


def _unknown(path: KeyPath, value: Any, known: Iterable[str], what: str) -> Iterator[Problem]:
    if not isinstance(value, str):
        return
    words = list(dict.fromkeys(known))
    if value.lower() in {word.lower() for word in words}:
        return
    guess = nearest(value, words)
    shown = ", ".join(words[:MOST_TOLD])
    yield Problem(
        path=path,
        found=f"there is no {what} {show(value)}",
        allowed=f"{shown}, ... ({len(words)} names)" if len(words) > MOST_TOLD else shown,
        remedy=f'did you mean "{guess}"?' if guess is not None else f"add a table [stuff.{show(value)}]",
    )


def _taken(own: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each other name that already is one of other stuff: clashes of that would be lost unseen."""
    of = {word.lower(): name for name, table in package().stuff.items() for word in (name, *table.also)}
    called = {name: of.get(name.lower(), name) for name in own}
    of |= {name.lower(): name for name in own if name.lower() not in of}
    for name, table in own.items():
        also = table.get("also") if isinstance(table, dict) else None
        for place, word in enumerate(also if isinstance(also, list) else []):
            whose = of.setdefault(word.lower(), called[name]) if isinstance(word, str) else called[name]
            if whose != called[name]:
                yield Problem(
                    path=("stuff", name, "also", place), found=f"{show(word)} is a name of {whose}",
                    allowed="names that nothing else goes by",
                    remedy=f"take it out, or write what is to be changed of it in [stuff.{show(whose)}]",
                )  # fmt: skip


FIT = {"glue": ("glue", "putty", "epoxy"), "paint": ("paint",)}
"""Kinds of which stuff is that a key asks for."""


def _unfit(path: KeyPath, value: Any, own: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem where a key that asks for a glue or a paint names what the package knows to be none."""
    asked = str(path[-1])
    if asked not in FIT or not isinstance(value, str):
        return
    known = {word.lower(): name for name, table in package().stuff.items() for word in (name, *table.also)}
    name = known.get(value.lower())
    if name is None:  # the scene's own stuff is what the scene says
        return
    ours = {key: table for key, table in own.items() if known.get(key.lower()) == name}
    kinds = [*package().stuff[name].kinds, *_own_words(ours, ("kinds",))]
    if not set(kinds) & set(FIT[asked]):
        fit = [one for one, table in package().stuff.items() if set(table.kinds) & set(FIT[asked])]
        yield Problem(
            path=path, found=f"{show(value)} is no {asked}", allowed=f"{', '.join(fit)}, or your own of [stuff]",
            remedy=f'take one of these; if it is one after all, write kinds = ["{asked}"] in [stuff.{show(name)}]',
        )  # fmt: skip


def _words(tables: dict[str, StuffTable], keys: tuple[str, ...]) -> Iterator[str]:
    yield from tables
    for table in tables.values():
        for key in keys:
            yield from getattr(table, key)


def _own_words(tables: dict[str, Any], keys: tuple[str, ...]) -> Iterator[str]:
    yield from tables
    for table in tables.values():
        for key in keys:
            words = table.get(key) if isinstance(table, dict) else None
            yield from (word for word in (words if isinstance(words, list) else []) if isinstance(word, str))


def _table(data: dict[str, Any], key: str) -> dict[str, Any]:
    value = data.get(key)
    return value if isinstance(value, dict) else {}
