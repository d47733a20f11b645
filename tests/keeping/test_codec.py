"""What is stored comes back as it was, and bytes that are none of ours are told from it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.checks.model import Finding
from pipeline.exports.drawing import Layer
from pipeline.geometry.meshes import Mesh
from pipeline.keeping.codec import DamagedError, UncodableError, decode, encode
from pipeline.keeping.digest import digest

PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.binary()
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner) | st.lists(inner).map(tuple) | st.dictionaries(st.text(), inner), max_leaves=8
)
FINDING = Finding(id="in-box", part="floor", status="pass", value=0.1, limit=None, unit="mm", message="in")
MESH = Mesh(vertices=np.array([[0.1, 2.0, 3.0]]), triangles=np.array([[0, 0, 0]]))


@given(VALUES)
def test_plain_values_come_back(value: object) -> None:
    """Every bit of a number too, and 1, 1.0 and True as themselves."""
    assert digest(decode(encode(value))) == digest(value)


@pytest.mark.parametrize(
    "value",
    [
        FINDING,
        (MESH, [FINDING], {Layer.GUIDE: MESH}),
        np.arange(6.0).reshape(2, 3),
        np.arange(6.0).reshape(2, 3).T,
        np.arange(12.0).reshape(3, 4)[:, ::2],
        np.zeros((0, 2, 2)),
        np.array([True, False]),
        np.float64(0.1),
        frozenset({"b", "a"}),
        shapely.Polygon([(0, 0), (0.1, 0), (0, 0.3)]),
    ],
    ids=lambda value: str(sorted(value) if isinstance(value, frozenset) else value),  # the same in every process
)
def test_what_builds_make_comes_back(value: Any) -> None:
    """Dataclasses of the package, arrays of any shape, plane shapes."""
    back = decode(encode(value))
    assert type(back) is type(value)
    assert digest(back) == digest(value)


@pytest.mark.parametrize("order", ["C", "F"])
def test_an_array_comes_back_as_it_lay_in_memory(order: Any) -> None:
    """Sums run along memory: one that lay otherwise could differ in its last bit."""
    value = np.asarray(np.arange(6.0).reshape(2, 3), order=order)
    back = decode(encode(value))
    assert (back.flags.c_contiguous, back.flags.f_contiguous) == (value.flags.c_contiguous, value.flags.f_contiguous)


@pytest.mark.parametrize("value", [object(), lambda: 1, np.array(["a"]), {1: {2, 3}}, [iter(())]])
def test_what_cannot_be_stored_is_refused(value: object) -> None:
    """Nothing is stored that would not come back whole."""
    with pytest.raises(UncodableError):
        encode(value)


@pytest.mark.parametrize(
    "structure",
    [
        b'["c","os","system","ls"]',
        b'["c","pipeline.checks.model","NoSuchThing"]',
        b'["c","pipeline.checks.model","Status"]',
        b'["c","pipeline.no_such_module","Finding"]',
        b'["c","pipeline.checks.model","Finding","a"]',
        b'["a","<f8",[2],false,0,16]',
        b'["a","<f8",[2],false,-8,16]',
        b'["a","O",[0],false,0,0]',
        b'["z"]',
        b"[]",
        b"{",
        b"[" * 100_000,
    ],
)
def test_foreign_structures_are_damage(structure: bytes) -> None:
    """Types outside the package, missing fields and bytes that are not there: nothing is called, nothing is guessed."""
    with pytest.raises(DamagedError):
        decode(len(structure).to_bytes(8, "little") + structure)


@given(st.binary(max_size=200))
def test_random_bytes_are_damage_or_a_plain_value(data: bytes) -> None:
    """No other error ever leaves it."""
    try:
        decode(data)
    except DamagedError:
        return
    assert len(data) >= 8, "whatever is decoded has a length before it"
