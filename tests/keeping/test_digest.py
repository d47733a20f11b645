"""One hash for one content."""

from __future__ import annotations

import os
import subprocess
import sys
import weakref
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.elements.problems import Problem
from pipeline.keeping.digest import Remembered, UndigestibleError, digest
from pipeline.scene.read import read_scene

from ..scene_text import COVERED, changed


class Colour(Enum):
    """Two members of one value would be one; two of one name cannot be."""

    RED = 1
    BLUE = 2


@dataclass(frozen=True)
class Point:
    """Frozen: its digest may be remembered."""

    x: float
    y: Any


@dataclass(frozen=True)
class Place:
    """The same fields as a point."""

    x: float
    y: Any


@dataclass
class Loose:
    """Not frozen: it may change, so its digest is never remembered."""

    x: float


PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.binary()
VALUES = st.recursive(PLAIN, lambda inner: st.lists(inner).map(tuple) | st.dictionaries(st.text(), inner), max_leaves=8)


def same(a: object, b: object) -> bool:
    """Return whether two values are alike in kind and content: 1, 1.0 and True are three, 0.0 and -0.0 two."""
    return repr(a) == repr(b)


@given(VALUES, VALUES)
def test_two_values_have_one_digest_only_if_they_are_one_value(a: object, b: object) -> None:
    """Equal digest if and only if equal content; `repr` tells contents of these kinds apart."""
    assert (digest(a) == digest(b)) == same(a, b)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (1, 1.0),
        (1, True),
        (0.0, -0.0),
        ("1", b"1"),
        ("", None),
        (("ab", "c"), ("a", "bc")),
        (((1,), 2), (1, (2,))),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
        (np.zeros(2), np.zeros(2, dtype=np.float32)),
        (np.zeros((2, 3)), np.zeros((3, 2))),
        (np.arange(4), np.arange(4)[::-1]),
        (Point(1.0, 2), Place(1.0, 2)),
        (Point(1.0, 2), Point(2, 1.0)),
        (Colour.RED, Colour.BLUE),
        (Colour.RED, 1),
        (digest, same),
        (np.float64(1), 1.0),
    ],
)
def test_what_differs_in_kind_order_or_shape_has_another_digest(a: object, b: object) -> None:
    """A cache that took one for the other would hand out somebody else's panel."""
    assert digest(a) != digest(b)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (np.arange(6.0).reshape(2, 3), np.arange(6.0).reshape(3, 2).T.copy().T.reshape(2, 3)),
        (np.arange(8.0)[::2], np.array([0.0, 2.0, 4.0, 6.0])),
        ({"a": 1}, MappingProxyType({"a": 1})),
        ({3, 1, 2}, {2, 3, 1}),
        (Point(1.0, (2,)), Point(1.0, (2,))),
    ],
)
def test_what_is_alike_has_the_same_digest(a: object, b: object) -> None:
    """How an array lies in memory, and in which order a set was filled, is no content."""
    assert digest(a) == digest(b)


def test_a_remembered_digest_is_that_of_the_content() -> None:
    """Identity only spares work; another object of the same content gives the same."""
    remembered = Remembered()
    point = Point(1.0, np.arange(3))
    assert digest(point, remembered) == digest(point, remembered) == digest(Point(1.0, np.arange(3)))
    assert remembered.get(point) is not None
    assert remembered.get(Point(1.0, np.arange(3))) is None


def test_what_is_asked_for_stays_remembered_and_the_rest_is_let_go() -> None:
    """Asked for once between two agings, it outlives both; not asked for, its object is freed."""
    remembered = Remembered()
    used, unused = Point(1.0, np.arange(3)), Point(2.0, np.arange(3))
    for point in (used, unused):
        digest(point, remembered)
    known, gone = remembered.get(used), weakref.ref(unused)
    assert known is not None
    del point, unused
    for _ in range(2):
        assert gone() is not None
        remembered.age()
        assert remembered.get(used) == known
    assert gone() is None


def test_what_may_change_is_never_remembered() -> None:
    """A dataclass that is not frozen is looked at every time."""
    remembered = Remembered()
    loose = Loose(1.0)
    before = digest(loose, remembered)
    loose.x = 2.0
    assert digest(loose, remembered) != before


@pytest.mark.parametrize("value", [object(), lambda: None, np.array([object()]), (1, [iter(())])])
def test_what_has_no_canonical_form_is_refused(value: object) -> None:
    """Nothing is guessed: a closure or an open thing raises."""
    with pytest.raises(UndigestibleError):
        digest(value)


def test_a_scene_has_another_digest_if_one_of_its_numbers_has_changed() -> None:
    """Pydantic tables go in field by field."""
    other = changed(COVERED, "length = 0.9", "length = 0.91")
    scenes = [read_scene(text.encode()) for text in (COVERED, COVERED, other)]
    first, again, last = (digest(scene) for scene in scenes)
    assert first == again != last


def test_digests_are_the_same_in_every_process() -> None:
    """Python's own hashes are salted; these are not."""
    code = (
        "from pipeline.keeping.digest import digest; from pipeline.elements.problems import Problem;"
        "print(digest((Problem(path=('a', 1), found='x', allowed='y', remedy='z'), {'b', 'a', 'c'}, 0.1)).hex())"
    )
    here = digest((Problem(path=("a", 1), found="x", allowed="y", remedy="z"), {"b", "a", "c"}, 0.1)).hex()
    root = str(Path(__file__).parents[2])
    for seed in ("0", "1"):
        env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": root}
        out = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
        assert out.stdout.strip() == here
