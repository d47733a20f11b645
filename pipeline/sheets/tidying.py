"""No line drawn twice: what lies along a line that is drawn anyway is left out.

Two passes of a knife along one line cut deeper than one, and a laser burns it wider. Outlines and holes stay whole;
then come folds, guides, places and bevels, each without what an earlier one draws already.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.curves import Curve, Path, evaluate, flatten, flatten_path, line, normalised_weights, piece
from pipeline.geometry.merging import MIN_SEGMENT

Array = NDArray[np.float64]

NEAR = 0.02
"""mm; lines that run nearer to one another are one for any tool."""
SLANT = 0.005
"""Sine of the greatest angle between lines that may be one."""
STUB = 1.0
"""mm; longer lines do not stay that near to the curves of a room."""
BESIDE = 0.05
"""mm; a mark that runs so near to a curve that is cut shows nothing that the cut does not."""
SAMPLE = 0.25
"""mm between the places at which a mark is held against cut curves."""
MOST_SAMPLES = 400
REMEMBERED = 4096
"""Curves whose boxes are kept; they are immutable and known by identity."""
PAIRS = 2_000_000
"""Pairs of lines compared at once; more would take too much memory."""


def lines_of(path: Path) -> Array:
    """Return the straight curves of a path as ``(n, 2, 2)`` lines."""
    rows = [[curve.start, curve.end] for curve in path if curve.straight]
    return np.array(rows, dtype=np.float64).reshape(-1, 2, 2)


def without(lines: Array, drawn: Array) -> Array:
    """Return ``(m, 2, 2)``: what is left of lines ``(n, 2, 2)`` where none of ``drawn`` ``(k, 2, 2)`` lies along them.

    What is left shorter than the shortest segment is dropped.
    """
    if not len(lines) or not len(drawn):
        return lines
    block = max(1, PAIRS // len(drawn))
    return np.concatenate([_without(lines[i : i + block], drawn) for i in range(0, len(lines), block)])


def _without(lines: Array, drawn: Array) -> Array:
    free = _free(lines, drawn)
    touched = [i for i, spans in enumerate(free) if spans is not None]
    if not touched:
        return lines
    kept = [np.delete(lines, touched, axis=0)]
    for i in touched:
        way = (lines[i, 1] - lines[i, 0]) / math.dist(lines[i, 0], lines[i, 1])
        kept += [np.array([[lines[i, 0] + a * way, lines[i, 0] + b * way]]) for a, b in free[i] or ()]
    return np.concatenate(kept)


def _overlaps(lines: Array, drawn: Array) -> tuple[NDArray[np.intp], Array, Array]:
    """Return which lines are drawn already, and from where to where, mm from their start."""
    ways = lines[:, 1] - lines[:, 0]
    sizes = np.maximum(np.linalg.norm(ways, axis=1), 1e-12)
    ways = ways / sizes[:, None]
    others = drawn[:, 1] - drawn[:, 0]
    spans = np.maximum(np.linalg.norm(others, axis=1), 1e-12)
    slant = np.abs(np.outer(ways[:, 0], others[:, 1] / spans) - np.outer(ways[:, 1], others[:, 0] / spans))
    level = np.outer(-ways[:, 1], drawn[:, 0, 0]) + np.outer(ways[:, 0], drawn[:, 0, 1])
    level -= (ways[:, 0] * lines[:, 0, 1] - ways[:, 1] * lines[:, 0, 0])[:, None]
    i, j = np.nonzero((slant < SLANT) & (np.abs(level) < NEAR + SLANT * (spans + sizes[:, None])))
    away = drawn[j] - lines[i, 0][:, None]
    along = np.einsum("ijk,ik->ij", away, ways[i])
    off = away[..., 1] * ways[i, 0][:, None] - away[..., 0] * ways[i, 1][:, None]
    low = np.clip(along.min(axis=1), 0, sizes[i])
    high = np.clip(along.max(axis=1), 0, sizes[i])
    # How far apart they are where they run side by side: the offset is linear along the drawn line.
    span = np.where(np.abs(along[:, 1] - along[:, 0]) < 1e-12, 1.0, along[:, 1] - along[:, 0])
    slope = (off[:, 1] - off[:, 0]) / span
    farthest = np.maximum(*(np.abs(off[:, 0] + slope * (at - along[:, 0])) for at in (low, high)))
    same = (high - low > NEAR) & (farthest < NEAR)
    return i[same], low[same], high[same]


def _gaps(taken: list[tuple[float, float]], size: float) -> list[tuple[float, float]]:
    """Return the parts of 0 to ``size`` outside the taken ones, those too short to draw left out."""
    free, at = [], 0.0
    for low, high in [*taken, (size, size)]:
        if low - at >= MIN_SEGMENT:
            free.append((at, low))
        at = max(at, high)
    return free


def runs_without(path: Path, drawn: Array, curves: tuple[Curve, ...]) -> tuple[Path, ...] | None:
    """Return the open runs left of a path, or nothing if all of it is left.

    Parameters
    ----------
    path
        Closed or open.
    drawn
        ``(k, 2, 2)`` straight lines drawn already.
    curves
        Curves drawn already; those that are straight are passed over.
    """
    ring = flatten_path(path, NEAR)
    (west, south), (east, north) = ring.min(axis=0) - STUB, ring.max(axis=0) + STUB
    bent = []
    for curve in curves:  # few are anywhere near
        if not curve.straight:
            (left_end, bottom), (right_end, top) = _box(curve)
            if left_end <= east and right_end >= west and bottom <= north and top >= south:
                bent.append(curve)
    straight = iter(_free(lines_of(path), drawn))
    left = [_left(curve, next(straight) if curve.straight else None, bent) for curve in path]
    if bent:
        under = shapely.MultiLineString([flatten(curve, NEAR / 4) for curve in bent])
        shapely.prepare(under)
        if shapely.dwithin(shapely.LineString([*ring, path[-1].end]), under, BESIDE):
            left = [[part for one in parts for part in _aside(one, under)] for parts in left]
    if all(len(parts) == 1 and parts[0] is curve for curve, parts in zip(path, left, strict=True)):
        return None
    runs: list[list[Curve]] = []
    for curve in (part for parts in left for part in parts):
        if runs and np.abs(runs[-1][-1].end - curve.start).max() < 1e-9:
            runs[-1].append(curve)
        else:
            runs.append([curve])
    if len(runs) > 1 and np.abs(runs[-1][-1].end - runs[0][0].start).max() < 1e-9:
        runs[0] = runs.pop() + runs[0]
    return tuple(tuple(run) for run in runs if _reach(run) >= MIN_SEGMENT)


def without_stubs(lines: Array, curves: tuple[Curve, ...]) -> Array:
    """Return the lines but those that lie along a bent curve from end to end, as what is left beside a head does."""
    bent = [curve for curve in curves if not curve.straight]
    sizes = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    short = np.flatnonzero(sizes < STUB)
    if not bent or not len(short):
        return lines
    x, y = lines[short, :, 0], lines[short, :, 1]
    beside, beneath = np.zeros(x.shape, dtype=bool), []
    for curve in bent:  # few of thousands of lines are anywhere near
        (west, south), (east, north) = _box(curve)
        within = (x >= west - NEAR) & (x <= east + NEAR) & (y >= south - NEAR) & (y <= north + NEAR)
        if within.any():
            beside |= within
            beneath.append(curve)
    short = short[beside.all(axis=1)]
    if not len(short):
        return lines
    drawn = shapely.MultiLineString([flatten(curve, NEAR / 4) for curve in beneath])
    shapely.prepare(drawn)
    along = shapely.dwithin(shapely.points(lines[short]), drawn, NEAR).all(axis=1)
    return np.delete(lines, short[along], axis=0)


def _free(lines: Array, drawn: Array) -> list[list[tuple[float, float]] | None]:
    """Return for each line which parts of it are left, mm from its start, or nothing where all of it is."""
    free: list[list[tuple[float, float]] | None] = [None] * len(lines)
    if len(lines):
        low, high = lines.min(axis=(0, 1)) - NEAR, lines.max(axis=(0, 1)) + NEAR
        start, end = drawn[:, 0], drawn[:, 1]
        drawn = drawn[((np.minimum(start, end) <= high) & (np.maximum(start, end) >= low)).all(axis=1)]
    if len(lines) and len(drawn):
        which, lows, highs = _overlaps(lines, drawn)
        for i in np.unique(which).tolist():
            mine = which == i
            spans = sorted(zip(lows[mine].tolist(), highs[mine].tolist(), strict=True))
            free[i] = _gaps(spans, math.dist(lines[i, 0], lines[i, 1]))
    return free


def _left(curve: Curve, free: list[tuple[float, float]] | None, bent: list[Curve]) -> list[Curve]:
    if not curve.straight:
        return [] if any(_same(curve, other) for other in bent) else [curve]
    if free is None:
        return [curve]
    # Anew: a line that came through the relief has weights, and its parameter is not its length.
    way = (curve.end - curve.start) / math.dist(curve.start, curve.end)
    return [line(curve.start + a * way, curve.start + b * way) for a, b in free]


def _aside(curve: Curve, drawn: shapely.MultiLineString) -> list[Curve]:
    """Return what is left of a curve where it does not run beside drawn ones, as a patch of light along a head does."""
    count = max(9, min(MOST_SAMPLES, math.ceil(math.dist(curve.start, curve.end) / SAMPLE) + 1))
    at = np.linspace(0.0, 1.0, count)
    beside = np.concatenate([[False], shapely.dwithin(shapely.points(evaluate(curve, at)), drawn, BESIDE), [False]])
    steps = np.diff(beside.astype(np.int8))
    runs = [(int(a), int(b) - 1) for a, b in zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True)]
    taken = [(at[a], at[b]) for a, b in runs if b > a]
    if not taken:
        return [curve]
    free, start = [], 0.0
    for low, high in [*taken, (1.0, 1.0)]:
        if low - start > 0 and math.dist(*evaluate(curve, np.array([start, low]))) >= MIN_SEGMENT:
            free.append(piece(curve, start, low))
        start = max(start, high)
    return free


def _same(one: Curve, other: Curve) -> bool:
    """Return whether two conic arcs are one, either way round: the same control points and middle weight."""
    (control, weights), (there, others) = _control(one), _control(other)
    if np.abs(control[0] - there[0]).max() > NEAR:
        there = there[::-1]
    return bool(np.abs(control - there).max() <= NEAR and abs(weights[1] - others[1]) <= SLANT)


@lru_cache(maxsize=REMEMBERED)
def _control(curve: Curve) -> tuple[Array, Array]:
    """Return `normalised_weights`, asked for again and again: every mark is held against every curve before it."""
    return normalised_weights(curve)


@lru_cache(maxsize=REMEMBERED)
def _box(curve: Curve) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the least and greatest coordinates of a curve's control points, between which it lies."""
    control, _ = _control(curve)
    (west, south), (east, north) = control.min(axis=0).tolist(), control.max(axis=0).tolist()
    return (west, south), (east, north)


def _reach(run: list[Curve]) -> float:
    ends = np.array([run[0].start, *(curve.end for curve in run)])
    return float((ends.max(axis=0) - ends.min(axis=0)).max())
