"""A cover carried on below the level it is laid from, where a wall reaches down to a lower floor.

What lies below repeats what lies above by a whole number of periods, so that courses and bond run on unbroken.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pipeline.elements.hall_shape import ROUNDING
from pipeline.elements.surfaces import Family

BONDS = 6
"""Courses after which every bond repeats: bonds of two and of three courses."""


def carry_below(families: Sequence[Family], foot: float) -> list[Family]:
    """Return the families with what lies from ``foot`` (host v, mm, below zero) up to 0 added.

    Patterns of slanting lines, and those whose rows repeat at several heights, stay as they are.
    """
    if foot > -ROUNDING or not all(map(_square, families)):
        return list(families)
    periods = [period for period in map(_period, families) if period > 0]
    if not periods or max(periods) - min(periods) > ROUNDING:
        return list(families)
    down = periods[0] * math.ceil(-foot / periods[0])
    lowered = [_lowered(family, down, foot) for family in families]
    return [*families, *(family for family in lowered if len(family.lines))]


def _square(family: Family) -> bool:
    """Whether every line runs level or upright."""
    away = np.abs(family.lines[:, 1] - family.lines[:, 0])
    return bool((np.minimum(away[:, 0], away[:, 1]) < ROUNDING).all())


def _period(family: Family) -> float:
    """Return the height after which a family repeats with its whole pattern; 0 where any height does."""
    step, course = family.step, family.course
    if course is None:
        return BONDS * float(step[1])
    return float(step[1]) if step[1] else BONDS * float(course[1])


def _lowered(family: Family, down: float, foot: float) -> Family:
    lines = family.lines - [0.0, down]
    one, other = lines[:, 0, 1], lines[:, 1, 1]
    inside = (np.minimum(one, other) < -ROUNDING) & (np.maximum(one, other) > foot)
    lines = lines[inside].copy()
    lines[:, :, 1] = np.minimum(lines[:, :, 1], 0.0)
    shift = round(down / float(family.step[1])) if family.step[1] else 0
    return Family(lines=lines, numbers=family.numbers[inside] - shift, step=family.step, course=family.course)
