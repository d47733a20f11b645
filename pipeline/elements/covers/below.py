"""A cover carried on below the level it is laid from, where a wall reaches down to a lower floor.

What lies below repeats what lies above by a whole number of periods, so that courses and bond run on unbroken.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import ROUNDING
from pipeline.elements.surfaces import Family

Array = NDArray[np.float64]

SAME_PLACE = 1e-6
"""mm; units whose middles lie nearer than this are one."""
BONDS = 6
"""Courses after which every bond repeats: bonds of two and of three courses."""


def carry_below(families: Sequence[Family], foot: float) -> list[Family]:
    """Return the families with what lies from ``foot`` (host v, mm, below zero) up to 0 added.

    Patterns whose rows repeat at several heights stay as they are.
    """
    down = _way_down(families, foot)
    if down == 0:
        return list(families)
    lowered = [_lowered(family, down, foot) for family in families]
    return [*families, *(family for family in lowered if len(family.lines))]


def carry_units_below(units: Array, families: Sequence[Family], foot: float) -> Array:
    """Return units ``(n, 4, 2)``, host coordinates, with those from ``foot`` up to 0 added.

    ``families`` are the lines of the same cover, not carried below. Units that reach below 0 already are not doubled.
    """
    down = _way_down(families, foot)
    if down == 0:
        return units
    lower = units - [0.0, down]
    lower = lower[(lower[:, :, 1].mean(axis=1) < 0) & (lower[:, :, 1].max(axis=1) > foot)]
    both = np.concatenate([units, lower])
    _, first = np.unique(np.round(both.mean(axis=1) / SAME_PLACE), axis=0, return_index=True)
    return both[np.sort(first)]


def _way_down(families: Sequence[Family], foot: float) -> float:
    """Return the whole number of periods, mm, that reaches down to ``foot``; 0 where there is none, or no need."""
    if foot > -ROUNDING:
        return 0.0
    periods = [period for period in map(_period, families) if period > 0]
    if not periods or max(periods) - min(periods) > ROUNDING:
        return 0.0
    return periods[0] * math.ceil(-foot / periods[0])


def _square(family: Family) -> bool:
    """Whether every line runs level or upright."""
    away = np.abs(family.lines[:, 1] - family.lines[:, 0])
    return bool((np.minimum(away[:, 0], away[:, 1]) < ROUNDING).all())


def _period(family: Family) -> float:
    """Return the height after which a family repeats with its whole pattern; 0 where any height does."""
    step, course = family.step, family.course
    if not _square(family):  # the joints of herringbone: all of them repeat from one to the next
        return abs(float(step[1]))
    if course is None:
        return BONDS * float(step[1])
    return float(step[1]) if step[1] else BONDS * float(course[1])


def _lowered(family: Family, down: float, foot: float) -> Family:
    lines = family.lines - [0.0, down]
    one, other = lines[:, 0, 1], lines[:, 1, 1]
    inside = (np.minimum(one, other) < -ROUNDING) & (np.maximum(one, other) > foot)
    lines = _cut_off(lines[inside])
    shift = round(down / float(family.step[1])) if family.step[1] else 0
    return Family(lines=lines, numbers=family.numbers[inside] - shift, step=family.step, course=family.course)


def _cut_off(lines: Array) -> Array:
    """Return lines ``(n, 2, 2)`` that all begin or end below v = 0, without what lies above it."""
    out = lines.copy()
    for end in range(2):
        over = lines[:, end, 1] > 0
        one, two = lines[over, 1 - end], lines[over, end]
        share = one[:, 1] / (one[:, 1] - two[:, 1])
        out[over, end, 0] = one[:, 0] + share * (two[:, 0] - one[:, 0])
        out[over, end, 1] = 0.0
    return out
