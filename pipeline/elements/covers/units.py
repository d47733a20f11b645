"""Units of coursed work as rectangles: what lies between the middles of the joints, less half a joint all round.

At the edges of the face there is no joint: the first course stands on the floor, the first unit of a course begins
where the wall does, and the last of either is cut there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.covers.courses import Bond, Series, count_below, divide

Array = NDArray[np.float64]


def cut_units(height: float, joint: float, bond: Bond, along: float, up: float, *, fit: bool) -> Array:
    """Return the units of a face of ``along`` by ``up`` as ``(n, 4, 2)`` corners, counter-clockwise, imagined mm.

    The arguments are those of ``lay_courses``; with ``fit`` the beds are as wide as they come out.
    """
    courses = divide(height, joint, up, fit=fit)
    bed = courses.gauge - height
    count = np.arange(len(courses.bounds))
    bottoms = courses.bounds[:, 0] + np.where(count > 0, bed / 2, 0.0)
    tops = courses.bounds[:, 1] - np.where(count < len(courses.beds), bed / 2, 0.0)
    parts = [np.empty((0, 4, 2))]
    for number, course in enumerate(bond):
        rows = slice(number, None, len(bond))
        parts.append(_rectangles(_spans(course, joint, along), np.column_stack([bottoms, tops])[rows]))
    return np.concatenate(parts)


def turn_units(units: Array) -> Array:
    """Return units ``(n, 4, 2)`` with u and v exchanged, counter-clockwise again."""
    return units[:, ::-1, ::-1].copy()


def _spans(course: tuple[Series, ...], joint: float, along: float) -> Array:
    """Return where each unit of a course begins and ends, ``(n, 2)``."""
    perpends = np.sort(np.concatenate([_places(series, along) for series in course]))
    return np.column_stack([np.append(0.0, perpends + joint / 2), np.append(perpends - joint / 2, along)])


def _places(series: Series, along: float) -> Array:
    count = count_below(series.pitch, series.shift, along)
    m = np.arange(1, (count if series.last is None else min(count, series.last)) + 1, dtype=np.float64)
    return m * series.pitch + series.shift


def _rectangles(spans: Array, rows: Array) -> Array:
    """Return the rectangles of every span in every row that have a size, ``(n, 4, 2)``."""
    spans, rows = (pairs[pairs[:, 1] > pairs[:, 0]] for pairs in (spans, rows))
    out = np.empty((len(rows), len(spans), 4, 2))
    out[..., 0] = spans[None, :, [0, 1, 1, 0]]
    out[..., 1] = rows[:, None, [0, 0, 1, 1]]
    return out.reshape(-1, 4, 2)
