"""What the program stands on: a lower bound for each package, and no licence that would bind its users."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from importlib.metadata import Distribution, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PROJECT = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
EXTRAS: dict[str, list[str]] = PROJECT["optional-dependencies"]
DIRECT = [*PROJECT["dependencies"], *(line for lines in EXTRAS.values() for line in lines)]

MIXED = {"docutils"}
"""Public domain and BSD; its GPL file is an editor's mode in its source archive, which no wheel holds."""

BINDING = re.compile(r"(?<!lesser )(?<!library )(?<!L)(A?GPL|(affero )?general public licen[cs]e)", re.IGNORECASE)


def _needed(lines: Iterable[str]) -> Iterator[Requirement]:
    """Yield the requirements that hold on this machine."""
    for requirement in map(Requirement, lines):
        if requirement.marker is None or requirement.marker.evaluate():
            yield requirement


def _closure() -> dict[str, Distribution]:
    """Return every distribution that the program and its extras install, by name."""
    waiting = [(requirement.name, requirement.extras) for requirement in _needed(DIRECT)]
    found: dict[str, Distribution] = {}
    met: set[tuple[str, frozenset[str]]] = set()
    while waiting:
        name, extras = waiting.pop()
        key = (canonicalize_name(name), frozenset(extras))
        if key in met:
            continue
        met.add(key)
        found[key[0]] = dist = distribution(name)
        for requirement in map(Requirement, dist.requires or ()):
            marker = requirement.marker
            if marker is None or any(marker.evaluate({"extra": extra}) for extra in (*extras, "")):
                waiting.append((requirement.name, requirement.extras))
    return found


def _licence(dist: Distribution) -> str:
    """Return what a distribution says of its licence, or the text that it ships where it says nothing."""
    fields = ("License-Expression", "License", "Classifier")
    lines = [line.partition("\n")[0] for field in fields for line in dist.metadata.get_all(field) or ()]
    said = [line for line in lines if "::" not in line or line.startswith("License ::")]
    if any(said):
        return "; ".join(said)
    files = [file for file in dist.files or () if re.search(r"licen[cs]e|copying", file.name, re.IGNORECASE)]
    return "; ".join(Path(str(file.locate())).read_text(errors="replace")[:400] for file in files)


def test_no_package_is_under_a_licence_that_binds_its_users() -> None:
    """Neither GPL nor AGPL in all that the program, its extras and its tests bring; LGPL is linked, not copied."""
    found = _closure()
    assert len(found) > 50
    assert {name for name, dist in found.items() if BINDING.search(_licence(dist))} <= MIXED


def test_every_package_says_its_licence() -> None:
    """A package of unknown licence would be none at all."""
    assert {name for name, dist in _closure().items() if not _licence(dist)} == set()


@pytest.mark.parametrize("line", sorted(set(DIRECT)))
def test_a_package_is_bound_from_below_and_nothing_else(line: str) -> None:
    """``name>=version``: CI installs this version too, and the newest there is."""
    assert [bound.operator for bound in Requirement(line).specifier] == [">="]


def test_one_bound_for_each_package() -> None:
    """Extras that share a package ask for the same version of it."""
    bounds = {(Requirement(line).name, str(Requirement(line).specifier)) for line in DIRECT}
    assert len(bounds) == len({name for name, _ in bounds})


@pytest.mark.parametrize(
    ("text", "binds"),
    [
        ("GNU General Public License v3 (GPLv3)", True),
        ("GPL-2.0-or-later", True),
        ("AGPL-3.0-only", True),
        ("GNU Affero General Public License", True),
        ("LGPL-2.1-only", False),
        ("GNU Lesser General Public License v3", False),
        ("MIT", False),
    ],
)
def test_what_counts_as_binding(text: str, binds: bool) -> None:
    """The names by SPDX's list and by the package index's classifiers."""
    assert bool(BINDING.search(text)) is binds
