"""What things are made of, and which of it does not go together: the tables of a scene and those of the package.

Terms
-----
stuff
    What a sheet, a coat, a glue, a paint or a print is made of, by its name in the trade: ``"polystyrene foam"``.
kind
    A broader word that stuff goes by as well: ``"foam"``. A clash that names a kind holds for all stuff of that kind.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Literal

from pydantic import Field

from pipeline.units import NAME_PATTERN, Table, Words

StuffName = Annotated[str, Field(pattern=rf"^{NAME_PATTERN}$")]
Density = Annotated[float, Field(ge=1e-3, le=25)]
"""g/cm^3; nothing on a bench is denser than gold and platinum, or lighter than air."""
Price = Annotated[float, Field(ge=0, le=1e7)]
Hours = Annotated[float, Field(ge=0, le=1e4)]
Severity = Literal["danger", "ruin", "weak"]

TOOLS = ("hand", "knife", "laser")
"""What sheets are cut with; clashes may name these beside stuff."""


class StuffTable(Table):
    """One of `[stuff.NAME]`: what sheets, coats, glues, paints or prints are made of."""

    kinds: Annotated[tuple[StuffName, ...], Field(strict=False, max_length=20)] = Field(
        default=(), description="Broader words that it goes by as well, such as foam; clashes of these are its own."
    )
    also: Annotated[tuple[StuffName, ...], Field(strict=False, max_length=20)] = Field(
        default=(), description="Other names of it."
    )
    density: Density | None = Field(default=None, description="Mass of a volume of it, g/cm3.")
    price: Price | None = Field(default=None, description="Price of one kilogram, in work.currency.")
    dries: Hours | None = Field(
        default=None, description="Hours until it may be worked on, from the maker's data sheet; common figures if not."
    )


class ClashTable(Table):
    """One of `[[clashes]]`: two that do not go together."""

    pair: Annotated[tuple[StuffName, StuffName], Field(strict=False)] = Field(
        description="The two: stuff, kinds of it, or what a sheet is cut with (hand, knife, laser)."
    )
    severity: Severity = Field(
        default="weak",
        description="danger: somebody can be hurt (the check fails); ruin: one spoils the other; weak: it comes off or "
        "warps (both warned).",
    )
    reason: Annotated[Words, Field(min_length=1, max_length=300)] = Field(description="Why, in a few words.")
    instead: Annotated[Words, Field(max_length=300)] = Field(default="", description="What to do instead.")
    unless_sealed: bool = Field(
        default=False, description="true: it does no harm where the ground is sealed (sealed = true of its material)."
    )


class _Package(Table):
    stuff: dict[str, StuffTable]
    clashes: Annotated[tuple[ClashTable, ...], Field(strict=False)]


@cache
def package() -> _Package:
    """Return the tables that come with the program."""
    text = (resources.files("pipeline.scene") / "stuff.toml").read_text("utf-8")
    return _Package.model_validate(tomllib.loads(text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuff:
    """What something is made of.

    Attributes
    ----------
    name
        As the trade has it.
    kinds
        All words that clashes may call it by, in lower case, its name among them.
    density, price, dries
        As in the table; nothing where nobody knows.
    """

    name: str
    kinds: frozenset[str]
    density: float | None = None
    price: float | None = None
    dries: float | None = None


class Shelf:
    """All stuff and all clashes of a scene: the package's, and over them the scene's own.

    A word that is a kind in the package's tables means all stuff of that kind, even where it is another name of one of
    them as well: ``"foam"``. Every other word means the stuff that goes by it.
    """

    def __init__(self, own: Mapping[str, StuffTable], clashes: Iterable[ClashTable]) -> None:
        tables = dict(package().stuff)
        names = {word.lower(): name for name, table in tables.items() for word in (name, *table.also)}
        self._said: dict[str, StuffTable] = {}
        for name, table in own.items():
            known = names.get(name.lower(), name)
            self._said[known] = table
            tables[known] = table if known not in tables else _added(tables[known], table)
        self._tables = {word.lower(): name for name, table in tables.items() for word in (name, *table.also)}
        self._stuff = {
            name: Stuff(
                name=name,
                kinds=_kinds_of(name, tables, self._tables),
                density=table.density,
                price=table.price,
                dries=table.dries,
            )
            for name, table in tables.items()
        }
        self._pairs = [(self._word(c.pair[0]), self._word(c.pair[1]), c) for c in (*package().clashes, *clashes)]

    def _word(self, name: str) -> str:
        """Return the word that a clash means: a kind, or the name of stuff for another name of it."""
        found = None if name.lower() in package_kinds() else self.find(name)
        return name.lower() if found is None else found.name.lower()

    def says(self, stuff: Stuff, key: str) -> bool:
        """Return whether the scene's own tables give a figure of some stuff."""
        return stuff.name in self._said and getattr(self._said[stuff.name], key) is not None

    def find(self, name: str) -> Stuff | None:
        """Return stuff by its name or another name of it, in any case of letters."""
        known = self._tables.get(name.lower())
        return None if known is None else self._stuff[known]

    def of_words(self, words: str) -> Stuff | None:
        """Return the stuff whose name stands in some words, the longest such name: ``"blue foam"`` is foam."""
        padded = f" {' '.join(words.lower().replace('-', ' ').replace('_', ' ').split())} "
        found = [word for word in self._tables if f" {word.replace('-', ' ')} " in padded]
        return self.find(max(found, key=len)) if found else None

    def clash(self, one: Iterable[str], other: Iterable[str], *, sealed: bool = False) -> ClashTable | None:
        """Return the gravest clash between two sets of words in lower case, or nothing."""
        these, those = frozenset(one), frozenset(other)
        met = [
            clash
            for first, second, clash in self._pairs
            if not (sealed and clash.unless_sealed)
            and ((first in these and second in those) or (second in these and first in those))
        ]
        return min(met, key=lambda clash: SEVERITIES.index(clash.severity)) if met else None


def _added(known: StuffTable, own: StuffTable) -> StuffTable:
    """Return a table of the package with what a scene's own gives: figures in place of its, words beside its."""
    given = {key: getattr(own, key) for key in own.model_fields_set - {"kinds", "also"}}
    words = {key: tuple(dict.fromkeys((*getattr(known, key), *getattr(own, key)))) for key in ("kinds", "also")}
    return known.model_copy(update=given | words)


@cache
def package_kinds() -> frozenset[str]:
    """Return the words that are kinds in the package's tables and no stuff of their own, in lower case."""
    tables = package().stuff
    return frozenset(kind.lower() for table in tables.values() for kind in table.kinds) - {
        name.lower() for name in tables
    }


def _kinds_of(name: str, tables: Mapping[str, StuffTable], names: Mapping[str, str]) -> frozenset[str]:
    """Return all words that clashes may call stuff by: its name, its kinds, and what those are kinds of in turn."""
    words: set[str] = set()
    left = [name]
    while left:
        word = left.pop().lower()
        known = None if word in package_kinds() else names.get(word)
        word = word if known is None else known.lower()
        if word not in words:
            words.add(word)
            left += () if known is None else tables[known].kinds
    return frozenset(words)


SEVERITIES: tuple[Severity, ...] = ("danger", "ruin", "weak")
"""The gravest first."""
