"""Coursed work: bed joints, and perpends between them.

Terms
-----
course
    A row of units. Course n fills n g to n g + height; g, the gauge, is a height and a joint.
bed
    The joint over a course. Its guide runs along its middle, at n g - joint / 2 for n >= 1.
perpend
    A joint between two units of a course. Its guide runs from the middle of one bed to the middle of the next; in the
    first course from 0, in the last to the edge of the face.
series
    Perpends of a course at even pitch.
bond
    The series of each course, repeated upward.

All in imagined mm, (along, up) the courses, which is (u, v) of the host unless the courses are turned.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Family

Array = NDArray[np.float64]

EVEN = 1e-9
"""Share of a pitch by which a joint must lie before the edge of the face; less is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Perpends at ``m * pitch + shift`` for m = 1, 2, ..., ``last``.

    ``beside`` is the distance to the nearest perpend of another series of the same course, where that is nearer than
    the pitch: such perpends are the first to go when guides come too close, all at once, so they get odd numbers.
    """

    pitch: float
    shift: float
    last: int | None = None
    beside: float | None = None


Bond = tuple[tuple[Series, ...], ...]


def stepped(length: float, joint: float, *steps: float) -> Bond:
    """Return the perpends of as many courses as there are ``steps``, each moved on by such a share of its unit."""
    pitch = length + joint
    return tuple((Series(pitch=pitch, shift=step * pitch - joint / 2),) for step in steps)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Courses:
    """The courses of a face: gauge, guides of the beds ``(k,)`` and bottom and top of each course ``(c, 2)``."""

    gauge: float
    beds: Array
    bounds: Array


def lay_courses(height: float, joint: float, bond: Bond, along: float, up: float, *, fit: bool) -> list[Family]:
    """Return the bed joints and the perpends of every series on a face of ``along`` by ``up``."""
    courses = divide(height, joint, up, fit=fit)
    families = [_beds(courses, along)]
    for number, course in enumerate(bond):
        bounds = courses.bounds[number :: len(bond)]
        families += [_perpends(series, bounds, courses.gauge, along) for series in course]
    return [family for family in families if len(family.lines)]


def divide(height: float, joint: float, up: float, *, fit: bool) -> Courses:
    """Return the courses that fill ``up``; with ``fit`` the joints share out the rest, so that the last is whole.

    The number of courses is then the one whose gauge is nearest to height + joint while the joint stays above zero.
    """
    gauge = height + joint
    if fit:
        fewer = max(1, math.floor(up / gauge))
        counts = [fewer, fewer + 1] if up / (fewer + 1) > height else [fewer]
        gauge = min((up / count for count in counts), key=lambda shared: abs(shared - gauge))
        joint = gauge - height
    beds = np.arange(1, count_below(gauge, -joint / 2, up) + 1, dtype=np.float64) * gauge - joint / 2
    edges = np.concatenate([[0.0], beds, [up]])
    bounds = np.column_stack([edges[:-1], edges[1:]])
    if len(beds) and len(beds) * gauge >= up - EVEN * gauge:
        bounds = bounds[:-1]
    return Courses(gauge=gauge, beds=beds, bounds=bounds)


def count_below(pitch: float, shift: float, end: float) -> int:
    """Return how many of ``m * pitch + shift``, m = 1, 2, ..., lie before ``end``."""
    return max(0, math.ceil((end - shift) / pitch - EVEN) - 1)


def turn(families: list[Family]) -> list[Family]:
    """Return the families with u and v exchanged."""
    return [
        Family(
            lines=family.lines[:, :, ::-1].copy(),
            numbers=family.numbers,
            step=family.step[::-1].copy(),
            course=None if family.course is None else family.course[::-1].copy(),
        )
        for family in families
    ]


def _beds(courses: Courses, along: float) -> Family:
    lines = np.zeros((len(courses.beds), 2, 2))
    lines[:, 1, 0] = along
    lines[:, :, 1] = courses.beds[:, None]
    return Family(lines=lines, numbers=np.arange(1, len(lines) + 1), step=np.array([0.0, courses.gauge]))


def _perpends(series: Series, bounds: Array, gauge: float, along: float) -> Family:
    count = count_below(series.pitch, series.shift, along)
    m = np.arange(1, (count if series.last is None else min(count, series.last)) + 1)
    lines = np.empty((len(bounds), len(m), 2, 2))
    lines[..., 0] = (m * series.pitch + series.shift)[None, :, None]
    lines[..., 1] = bounds[:, None, :]
    numbers, step = (m, series.pitch) if series.beside is None else (2 * m + 1, series.beside)
    return Family(
        lines=lines.reshape(-1, 2, 2),
        numbers=np.tile(numbers, len(bounds)),
        step=np.array([step, 0.0]),
        course=np.array([0.0, gauge]),
    )
