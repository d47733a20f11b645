"""Flat lines bent by rulings whose built places are known: a cylinder, a cone, and strips in any order."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.bent_faithful import PIECE_MM, _parted, bend

Array = NDArray[np.float64]
Rulings = tuple[Array, Array]

RADIUS, STEP = 20.0, 0.1
COUNT = 8


def cylinder(mirrored: bool = False, upside_down: bool = False) -> Rulings:
    """Return rulings 30 mm long every tenth of a radian round a standing cylinder, counted from its right or left."""
    angles = STEP * np.arange(COUNT)
    feet, heads = (-5.0, 25.0) if not upside_down else (25.0, -5.0)
    flat = np.array([[[RADIUS * a, feet], [RADIUS * a, heads]] for a in angles])
    built = np.array([[[RADIUS * math.cos(a), RADIUS * math.sin(a), h] for h in (feet, heads)] for a in angles])
    return (flat[::-1], built[::-1]) if mirrored else (flat, built)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("upside_down", [False, True])
def test_a_cylinders_strips_are_its_chords(mirrored: bool, upside_down: bool) -> None:
    """A flat point s of the way from one ruling to the next lies s of the way along the chord, as high as it was."""
    strips = [(k, s, h) for k in range(COUNT - 1) for s in (0.0, 0.25, 0.6) for h in (-5.0, 3.0, 31.0)]
    strips += [(0, -0.3, 2.0), (COUNT - 2, 1.4, 2.0)]  # past the first and the last ruling their strips go on
    flat = np.array([[RADIUS * STEP * (k + s), h] for k, s, h in strips])

    def at(k: int, h: float) -> Array:
        return np.array([RADIUS * math.cos(STEP * k), RADIUS * math.sin(STEP * k), h])

    expected = np.array([(1 - s) * at(k, h) + s * at(k + 1, h) for k, s, h in strips])
    lines = np.stack([flat, flat[::-1]], axis=1)
    found = bend(lines, cylinder(mirrored, upside_down))
    assert found[:, 0] == pytest.approx(expected, abs=1e-9)
    assert found[:, 1] == pytest.approx(expected[::-1], abs=1e-9)


@pytest.mark.parametrize("order", [1, -1])
def test_a_cones_strips_are_ruled(order: int) -> None:
    """Feet 10 mm from the apex, ways that fan out: (1 - s) (A + l a) + s (B + l b) in the plane and in the room, the
    ways shorter or longer in the file than a unit."""
    turn, half = 0.2, math.radians(35)
    ways = np.array([[math.sin(turn * k), math.cos(turn * k)] for k in range(5)])[::order]
    angles = turn / math.sin(half) * np.arange(5)[::order]
    ways_built = np.array(
        [[math.sin(half) * math.cos(a), math.sin(half) * math.sin(a), math.cos(half)] for a in angles]
    )
    sizes = np.array([40.0, 25.0, 31.0, 40.0, 50.0])[:, None]
    flat = np.stack([10 * ways, (10 + sizes) * ways], axis=1)
    built = np.stack([10 * ways_built, (10 + sizes) * ways_built], axis=1)
    places = [(k, s, along) for k in range(4) for s in (0.1, 0.5, 0.9) for along in (-4.0, 0.0, 7.0, 45.0)]

    def ruled(rows: Array) -> Array:
        return np.array([(1 - s) * (10 + along) * rows[k] + s * (10 + along) * rows[k + 1] for k, s, along in places])

    found = bend(ruled(ways)[:, None], (flat, built))
    assert found[:, 0] == pytest.approx(ruled(ways_built), abs=1e-8)


def test_nothing_bent_is_nothing() -> None:
    """No guides are no lines."""
    assert bend(np.zeros((0, 2, 2)), cylinder()).shape == (0, 2, 3)
    assert _parted(np.zeros((0, 2, 2)), cylinder()).shape == (0, 2, 2)


def test_lines_are_parted_at_rulings_and_into_short_pieces() -> None:
    """Rulings stand every 2 mm from 0 to 14. One line of 1.3 mm across that at 2: thirds, and the place it crosses; one
    along the rulings, no longer than a piece: whole; one from ruling to ruling: quarters, no end twice; and one whose
    middle lies on a ruling is parted there once."""
    lines = np.array(
        [
            [[1.5, 3.0], [2.8, 3.0]],
            [[3.0, 1.0], [3.0, 1.0 + PIECE_MM]],
            [[6.0, 4.0], [4.0, 4.0]],
            [[3.0, 5.0], [5.0, 5.0]],
        ]
    )
    found = _parted(lines, cylinder())
    xs = [1.5, 1.5 + 1.3 / 3, 2.0, 1.5 + 2.6 / 3, 2.8]
    expected = [[[a, 3.0], [b, 3.0]] for a, b in pairwise(xs)]
    expected += [[[3.0, 1.0], [3.0, 1.0 + PIECE_MM]]]
    expected += [[[6.0 - k / 2, 4.0], [5.5 - k / 2, 4.0]] for k in range(4)]
    expected += [[[3.0 + k / 2, 5.0], [3.5 + k / 2, 5.0]] for k in range(4)]
    assert found.shape == (13, 2, 2)
    assert found == pytest.approx(np.array(expected), abs=1e-9)


def test_a_line_aslant_is_parted_at_every_ruling_it_crosses() -> None:
    """From (1, 0) to (5, 3), 5 mm: tenths, and where x is 2 and 4, at a quarter and three quarters of it."""
    found = _parted(np.array([[[1.0, 0.0], [5.0, 3.0]]]), cylinder())
    shares = sorted({*(k / 10 for k in range(11)), 0.25, 0.75})
    marks = np.array([[1 + 4 * s, 3 * s] for s in shares])
    assert found == pytest.approx(np.stack([marks[:-1], marks[1:]], axis=1), abs=1e-9)
