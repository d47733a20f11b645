"""Straight lines and points against regions with exact borders.

Terms
-----
crossing
    Where an infinite line meets a curve of a border: which line, and the curve's parameter.
place
    Position along a line, 0 at its start and 1 at its end.
bar
    A closed border, counted even-odd: the region itself, or something that is left out of it.

A line's side of every corner is decided once, and a corner on the line counts as lying on its positive side; so a
curve is crossed an odd number of times exactly when its two ends lie on different sides, and the parity along a line
is right however the numbers round.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry.curves import ROOT_MARGIN, Curve, Path
from pipeline.geometry.regions import Region, path_of
from pipeline.geometry.vectors import lengths

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]

ON_EDGE = 1e-6
"""mm; a line nearer than this to both ends of a straight edge lies on it. Far below what any machine can place."""
LEAST_LENGTH = 1e-6
"""mm; shorter pieces are what rounding leaves at corners."""


def clip_lines(lines: ArrayLike, region: Region, excluded: Sequence[Region | Path] = ()) -> tuple[Array, Indices]:
    """Return the parts of many straight lines inside a region and outside everything excluded.

    Lines wholly inside come back bit for bit. What runs along a straight edge of a border is left out, since the
    border itself is there already.

    Parameters
    ----------
    lines
        ``(n, 2, 2)`` start and end points, mm.
    region
        What to keep.
    excluded
        Closed borders that take away what lies inside them; they may overlap.

    Returns
    -------
    lines, source
        ``(m, 2, 2)`` pieces in the order of the lines and along each, and the ``(m,)`` line each came from.
    """
    given = np.asarray(lines, dtype=np.float64).reshape(-1, 2, 2)
    whole = lengths(given[:, 1] - given[:, 0]) > LEAST_LENGTH
    kept, source = _clip(given[whole], [_loops(bar) for bar in (region, *excluded)])
    return kept, np.flatnonzero(whole)[source]


def contains(region: Region, points: ArrayLike) -> Flags:
    """Return which of the ``(n, 2)`` points lie inside the region, even-odd; on the border either answer may come."""
    rows = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    normals = np.column_stack([np.zeros(len(rows)), np.ones(len(rows)), -rows[:, 1]])
    met = np.zeros(len(rows), dtype=np.int64)
    for loop in _loops(region):
        for index, at in _loop_crossings(loop, normals):
            met += np.bincount(index[at[:, 0] > rows[index, 0]], minlength=len(rows))
    inside: Flags = met % 2 == 1
    return inside


def _clip(lines: Array, bars: list[list[Path]]) -> tuple[Array, Indices]:
    starts, ways = lines[:, 0], lines[:, 1] - lines[:, 0]
    spans = lengths(ways)
    units = ways / spans[:, None]
    normals = np.column_stack([-units[:, 1], units[:, 0], units[:, 1] * starts[:, 0] - units[:, 0] * starts[:, 1]])

    at_start = np.zeros((len(bars) + 1, len(lines)), dtype=np.int64)
    found: list[tuple[Indices, Array, int, Indices]] = []

    def note(index: Indices, points: Array, bar: int, change: Indices | int) -> None:
        change = np.broadcast_to(change, len(index))
        place = np.einsum("ij,ij->i", points - starts[index], units[index]) / spans[index]
        before = place <= 0
        np.add.at(at_start[bar], index[before], change[before])
        within = ~before & (place < 1)
        found.append((index[within], place[within], bar, change[within]))

    least, most = np.minimum(lines[:, 0], lines[:, 1]), np.maximum(lines[:, 0], lines[:, 1])
    for number, loops in enumerate(bars):
        for loop in loops:
            # A line that starts outside the box of a loop and does not reach it is not inside it: parity unchanged.
            low, high = _box(loop)
            meets = (most >= low) & (least <= high)
            near = np.flatnonzero(meets[:, 0] & meets[:, 1])
            if len(near) == 0:
                continue
            for index, points in _loop_crossings(loop, normals[near]):
                note(near[index], points, number, 1)
            for curve in loop:
                if curve.straight:
                    for index, points, change in _along(curve, normals[near], units[near]):
                        note(near[index], points, len(bars), change)
    return _pieces(lines, spans, at_start, found)


def _pieces(
    lines: Array, spans: Array, at_start: Indices, found: list[tuple[Indices, Array, int, Indices]]
) -> tuple[Array, Indices]:
    # A row for each stretch of a line: it opens at the line's start or at a crossing and ends where the next opens.
    count = len(lines)
    index = np.concatenate([np.arange(count), *(row[0] for row in found)])
    place = np.concatenate([np.zeros(count), *(row[1] for row in found)])
    bar = np.concatenate([np.full(count, -1), *(np.full(len(row[0]), row[2]) for row in found)])
    change = np.concatenate([np.zeros(count, dtype=np.int64), *(row[3] for row in found)])
    order = np.lexsort((place, index))
    index, place, bar, change = index[order], place[order], bar[order], change[order]

    first = np.searchsorted(index, np.arange(count))[index]
    inside = np.ones(len(index), dtype=bool)
    for number in range(len(at_start)):
        running = np.cumsum(np.where(bar == number, change, 0))
        depth = at_start[number][index] + running - running[first]
        inside &= depth % 2 == 1 if number == 0 else depth % 2 == 0 if number < len(at_start) - 1 else depth == 0

    same = index[1:] == index[:-1]
    joined = inside[1:] & inside[:-1] & same
    opens = inside & ~np.concatenate([[False], joined])
    closes = inside & ~np.concatenate([joined, [False]])
    upto = np.concatenate([np.where(same, place[1:], 1.0), [1.0]])
    line, begin, end = index[opens], place[opens], upto[closes]
    long = (end - begin) * spans[line] > LEAST_LENGTH
    return _between(lines[line[long]], begin[long], end[long]), line[long].astype(np.int64)


def _between(lines: Array, begin: Array, end: Array) -> Array:
    ways = lines[:, 1] - lines[:, 0]
    out = np.stack([lines[:, 0] + begin[:, None] * ways, lines[:, 0] + end[:, None] * ways], axis=1)
    untouched = end == 1.0
    out[untouched, 1] = lines[untouched, 1]
    return out


def _box(loop: Path) -> tuple[Array, Array]:
    """Return the corners of a box round the loop, a little wider: control points hold their curves."""
    control = np.vstack([curve.points[:, :2] / curve.points[:, 2:] for curve in loop])
    return control.min(axis=0) - ON_EDGE, control.max(axis=0) + ON_EDGE


def _along(curve: Curve, normals: Array, units: Array) -> list[tuple[Indices, Array, Indices]]:
    # Lines that lie on a straight edge enter a stretch of their own at one of its ends and leave it at the other.
    ends = np.array([curve.start, curve.end])
    near = np.abs(normals[:, :2] @ ends[0] + normals[:, 2]) < ON_EDGE
    near[near] = np.abs(normals[near, :2] @ ends[1] + normals[near, 2]) < ON_EDGE
    index = np.flatnonzero(near)
    if len(index) == 0:
        return []
    forward = np.where(units[index] @ (ends[1] - ends[0]) > 0, 1, -1)
    return [
        (index, np.broadcast_to(end, (len(index), 2)), forward * sign) for end, sign in zip(ends, (1, -1), strict=True)
    ]


def _loops(bar: Region | Path) -> list[Path]:
    return [path_of(loop) for loop in bar.loops] if isinstance(bar, Region) else [bar]


def _loop_crossings(loop: Path, normals: Array) -> list[tuple[Indices, Array]]:
    """Return (lines, points) of every crossing of infinite lines with each curve of a closed loop."""
    out: list[tuple[Indices, Array]] = []
    positive = [normals @ curve.points[0] >= 0 for curve in loop]
    for number, curve in enumerate(loop):
        after = positive[(number + 1) % len(loop)]
        cross = _cross_straight if curve.straight else _cross_bent
        index, t = cross(curve, normals, positive[number], after)
        if len(index):
            out.append((index, _points(curve, t)))
    return out


def _points(curve: Curve, t: Array) -> Array:
    s = t[:, None]
    p = curve.points
    rows = (1 - s) * p[0] + s * p[1] if curve.straight else (1 - s) ** 2 * p[0] + 2 * s * (1 - s) * p[1] + s**2 * p[2]
    out: Array = rows[:, :2] / rows[:, 2:]
    return out


def _cross_straight(curve: Curve, normals: Array, before: Flags, after: Flags) -> tuple[Indices, Array]:
    index = np.flatnonzero(before != after)
    values = normals[index] @ curve.points.T
    fall = values[:, 0] - values[:, 1]
    t = np.divide(values[:, 0], fall, out=np.full(len(index), 0.5), where=fall != 0)
    return index, np.clip(t, 0.0, 1.0)


def _cross_bent(curve: Curve, normals: Array, before: Flags, after: Flags) -> tuple[Indices, Array]:
    # All weights are above zero, so a curve whose three control values share a sign is not met.
    middle = normals @ curve.points[1] >= 0
    index = np.flatnonzero((before != after) | (before != middle))
    values = normals[index] @ curve.points.T
    a = values[:, 0] - 2 * values[:, 1] + values[:, 2]
    b = 2 * (values[:, 1] - values[:, 0])
    low, high = _quadratic_roots(a, b, values[:, 0])
    once = before[index] != after[index]
    nearest = np.where(np.abs(low - 0.5) <= np.abs(high - 0.5), low, high)
    # Both ends on one side: the line is met twice if the lowest or highest point between them is on the other.
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = -b / (2 * a)
        crest = values[:, 0] + b * turn / 2
    twice = ~once & (turn > 0) & (turn < 1) & ((crest >= 0) != before[index])
    rows = np.concatenate([index[once], index[twice], index[twice]])
    return rows, np.clip(np.concatenate([nearest[once], low[twice], high[twice]]), 0.0, 1.0)


def _quadratic_roots(a: Array, b: Array, c: Array) -> tuple[Array, Array]:
    """Return both real roots of ``a t^2 + b t + c``, without cancellation; the same one twice where there is one."""
    root = np.sqrt(np.maximum(b * b - 4 * a * c, 0.0))
    q = -(b + np.copysign(root, b)) / 2
    level = np.abs(a) <= ROOT_MARGIN * np.maximum(np.abs(b), np.abs(c))
    with np.errstate(divide="ignore", invalid="ignore"):
        one = np.where(q != 0, c / q, 0.0)
        other = np.where(level, one, q / a)
    return np.minimum(one, other), np.maximum(one, other)
