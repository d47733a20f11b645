"""What cuts leave beside a body is told from what can be printed."""

from __future__ import annotations

import pytest
from manifold3d import Manifold

from pipeline.geometry.crumbs import CRUMB, is_crumb, without_crumbs

BLOCK = Manifold.cube((10.0, 20.0, 30.0))


@pytest.mark.parametrize(
    ("sizes", "crumb"),
    [
        ((0.03, 0.03, 0.03), True),  # 2 V / A = 0.03 / 3
        ((0.07, 0.07, 0.07), False),
        ((5.0, 5.0, 0.99 * CRUMB), True),
        ((500.0, 500.0, 1.01 * CRUMB), False),
        ((9.0, 0.03, 0.03), True),  # a hair: half its width
        ((9.0, 0.05, 0.05), False),
    ],
)
def test_a_crumb_is_thinner_than_a_layer(sizes: tuple[float, float, float], crumb: bool) -> None:
    """By 2 V / A = 1 / (1/a + 1/b + 1/c) of a box, whichever way it lies."""
    assert is_crumb(Manifold.cube(sizes).rotate((10.0, 20.0, 30.0))) is crumb


def test_crumbs_go_and_bodies_and_hollows_stay() -> None:
    """A grain beside the block, one more as a hollow in it, and a hollow that is none."""
    grain = Manifold.cube((0.02, 0.02, 0.02))
    hollow = Manifold.cube((2.0, 2.0, 2.0)).translate((4.0, 4.0, 4.0))
    whole = BLOCK - hollow
    body = whole - grain.translate((8.0, 8.0, 8.0)) + grain.translate((50.0, 0.0, 0.0))
    assert len(body.decompose()) == 4
    cleaned = without_crumbs(body)
    assert len(cleaned.decompose()) == 2
    assert cleaned.volume() == pytest.approx(6000 - 8, rel=1e-12)


def test_a_body_without_crumbs_stays_as_it_is() -> None:
    """And so does one that is nothing else: it is refused where its size is known."""
    both = BLOCK + Manifold.cube((1.0, 1.0, 1.0)).translate((50.0, 0.0, 0.0))
    grain = Manifold.cube((0.01, 0.01, 0.01))
    assert without_crumbs(both) is both
    assert without_crumbs(grain) is grain
