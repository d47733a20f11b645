"""Fitted pieces merged: no points of no length, no lines or circles in parts, no segment too short to cut.

Terms
-----
piece
    One line or arc of a fit.
trace
    Points of the exact path that a piece stands for.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.bulges import arc_samples, off_arc, point_off_arc

Array = NDArray[np.float64]

MIN_SEGMENT = 0.1
"""mm; shorter segments make cutters stutter."""
SAME = 1e-6
"""mm; points nearer than this are one, and pieces that agree so far lie on one line or circle."""
MAX_TURN_RAD = math.radians(179)
"""Greatest turn of one arc; at half a turn the bulge reaches 1 and readers begin to differ."""
SAMPLES = 65
"""Points a piece is compared at; between them the distance grows by less than 1 %."""
MEETING_SHARES = (0.0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
"""Places tried between the middle of a short piece and the corner its neighbours would make without it."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One line or arc; plane points as complex numbers; ``trace`` ``(k, 2)``, ends included."""

    start: complex
    end: complex
    bulge: float
    trace: Array

    @property
    def size(self) -> float:
        """The chord's length."""
        return abs(self.end - self.start)

    @property
    def turn(self) -> float:
        """The angle the arc turns by, rad, positive counter-clockwise."""
        return 4 * math.atan(self.bulge)

    def sample(self, count: int) -> Array:
        """Return ``(count, 2)`` points on the piece."""
        return arc_samples(self.start, self.end, self.bulge, count)


def drop_points(pieces: list[Piece], closed: bool) -> list[Piece]:
    """Return the pieces without those of no length; the next starts where the one before ended.

    Raises
    ------
    ValueError
        If none is left.
    """
    kept = [p for p in pieces if p.size > SAME]
    if not kept:
        raise ValueError("a path of no length")
    ends = [q.start for q in kept[1:]] + [kept[0].start if closed else kept[-1].end]
    return [replace(p, end=end) for p, end in zip(kept, ends, strict=True)]


def merge_lines(pieces: list[Piece], closed: bool) -> list[Piece]:
    """Return the pieces with neighbouring lines that run straight on made one."""
    kept = pieces[:1]
    for p in pieces[1:]:
        joined = _joined_line(kept[-1], p)
        kept[-1:] = [kept[-1], p] if joined is None else [joined]
    if closed and len(kept) > 2:
        joined = _joined_line(kept[-1], kept[0])
        if joined is not None:
            kept = [joined, *kept[1:-1]]
    return kept


def _joined_line(first: Piece, second: Piece) -> Piece | None:
    if first.bulge or second.bulge:
        return None
    along = (first.end - first.start).conjugate() * (second.end - second.start)
    if along.real <= 0 or abs(along.imag) > 2 * SAME * (first.size + second.size):
        return None
    trace = np.vstack([first.trace, second.trace[1:]])
    if np.abs(off_arc(trace, first.start, second.end, 0.0)).max() > SAME:
        return None
    return Piece(first.start, second.end, 0.0, trace)


def merge_arcs(pieces: list[Piece], closed: bool) -> list[Piece]:
    """Return the pieces with runs of one circle shared out evenly among as few arcs as ``MAX_TURN_RAD`` allows."""
    first = 0
    if closed:
        breaks = [i for i in range(len(pieces)) if not _one_circle(pieces[i - 1], pieces[i])]
        first = breaks[0] if breaks else 0
    turned = pieces[first:] + pieces[:first]
    runs: list[list[Piece]] = []
    for p in turned:
        if runs and _one_circle(runs[-1][-1], p) and _one_circle(runs[-1][0], p):
            runs[-1].append(p)
        else:
            runs.append([p])
    return [p for run in runs for p in _share_run(run)]


def _one_circle(first: Piece, second: Piece) -> bool:
    if not first.bulge * second.bulge > 0:
        return False
    if abs(point_off_arc(second.end, first.start, first.end, first.bulge)) > 2 * SAME:  # as nearly all other pieces
        return False
    far = [off_arc(b.sample(3), a.start, a.end, a.bulge) for a, b in ((first, second), (second, first))]
    return bool(np.abs(far).max() <= SAME)


def _share_run(run: list[Piece]) -> list[Piece]:
    turn = sum(p.turn for p in run)
    count = math.ceil(abs(turn) / MAX_TURN_RAD)
    if len(run) == 1 or count >= len(run):
        return run
    start, centre = run[0].start, _centre(run[0])
    places = [centre + (start - centre) * cmath.exp(1j * turn * k / count) for k in range(count)] + [run[-1].end]
    bulge = math.tan(turn / count / 4)
    return [Piece(a, b, bulge, arc_samples(a, b, bulge, SAMPLES)) for a, b in pairwise(places)]


def _centre(p: Piece) -> complex:
    return (p.start + p.end) / 2 + (p.end - p.start) * 1j * (1 - p.bulge**2) / (4 * p.bulge)


def merge_short(pieces: list[Piece], closed: bool) -> list[Piece]:
    """Return the pieces with those under ``MIN_SEGMENT`` merged away, the one that moves the path least first."""
    if closed and sum(p.size for p in pieces) < 3 * MIN_SEGMENT:
        return pieces
    while len(pieces) > (2 if closed else 1):
        short = min(range(len(pieces)), key=lambda i: pieces[i].size)
        if pieces[short].size >= MIN_SEGMENT:
            break
        turn = short - 1 if closed else 0
        order = pieces[turn:] + pieces[:turn] if closed else pieces
        here = 1 if closed else short
        options = [(lo, hi, new) for lo, hi, new in _without(order, here) if not _collapsed(order, lo, hi, new)]
        if not options:
            break
        lo, hi, new = _nearest(order, options)
        pieces = order[:lo] + new + order[hi:]
    return pieces


def _collapsed(order: list[Piece], lo: int, hi: int, new: list[Piece]) -> bool:
    """Whether too little would be left: two lines enclose nothing."""
    rest = order[:lo] + new + order[hi:]
    return any(p.size <= SAME for p in new) or (len(rest) < 3 and not any(p.bulge for p in rest))


def _without(order: list[Piece], here: int) -> list[tuple[int, int, list[Piece]]]:
    """Return ways to do without a short piece: (from, to, what takes the place of ``order[from:to]``)."""
    out: list[tuple[int, int, list[Piece]]] = []
    before = order[here - 1] if here > 0 else None
    after = order[here + 1] if here + 1 < len(order) else None
    if before is not None:
        out += [(here - 1, here + 1, [p]) for p in _as_one(before, order[here])]
    if after is not None:
        out += [(here, here + 2, [p]) for p in _as_one(order[here], after)]
    if before is not None and after is not None:
        out += [(here - 1, here + 2, new) for new in _met(before, order[here], after)]
    return out


def _as_one(first: Piece, second: Piece) -> list[Piece]:
    trace = np.vstack([first.trace, second.trace[1:]])
    start, end = first.start, second.end
    straight = Piece(start, end, 0.0, trace)
    if start == end or not (first.bulge or second.bulge):
        return [straight]
    return [straight, Piece(start, end, _bulge_through(start, first.end, end), trace)]


def _bulge_through(start: complex, middle: complex, end: complex) -> float:
    """Return the bulge of the arc by three points: the angle at the middle is pi - theta / 2."""
    half = cmath.phase((end - middle) * (middle - start).conjugate())
    return math.tan(half / 2) if abs(half) < MAX_TURN_RAD / 2 else 0.0


def _met(before: Piece, short: Piece, after: Piece) -> list[list[Piece]]:
    """Return the neighbours brought together: at the middle of the short piece, where they meet, and between."""
    middle = (short.start + short.end) / 2
    places = [middle]
    u, v = before.end - before.start, after.end - after.start
    across = (u.conjugate() * v).imag
    if not before.bulge and not after.bulge and abs(across) > 1e-9 * abs(u) * abs(v):
        corner = before.start + u * ((after.start - before.start).conjugate() * v).imag / across
        places = [middle + share * (corner - middle) for share in MEETING_SHARES]
    out = []
    for place in places:
        ends = [(before.start, place, before), (place, after.end, after)]
        if any(a == b for a, b, _ in ends):
            continue
        near = np.argmin(np.abs(short.trace[:, 0] + 1j * short.trace[:, 1] - place))
        traces = [
            np.vstack([before.trace, short.trace[: near + 1]]),
            np.vstack([short.trace[near:], after.trace]),
        ]
        bulges = [_bulge_through(a, complex(*p.sample(3)[1]), b) if p.bulge else 0.0 for a, b, p in ends]
        out.append([Piece(a, b, k, t) for (a, b, _), k, t in zip(ends, bulges, traces, strict=True)])
    return out


def _nearest(order: list[Piece], options: list[tuple[int, int, list[Piece]]]) -> tuple[int, int, list[Piece]]:
    """Return the option that moves the path least, the first of equal ones.

    That is the two-way distance between new pieces and all that the old ones stand for.
    """
    best, least = options[0], math.inf
    for option in options:
        traces = np.vstack([p.trace for p in order[option[0] : option[1]]])
        kept = np.vstack([p.sample(SAMPLES) for p in option[2]])
        moved = _farthest(kept, traces)
        if moved < least:  # the way back is dearer, and can only add
            moved = max(moved, _farthest(_densify(traces), kept))
        if moved < least:
            best, least = option, moved
    return best


def _densify(points: Array) -> Array:
    share = np.linspace(0, 1, 9)[:-1, None, None]
    return np.vstack([(points[:-1] + share * (points[1:] - points[:-1])).reshape(-1, 2), points[-1:]])


def _farthest(points: Array, line: Array) -> float:
    """Return the greatest distance of ``(n, 2)`` points from a polyline ``(m, 2)``."""
    along_x, along_y = np.diff(line, axis=0).T
    away_x, away_y = points[:, :1] - line[:-1, 0], points[:, 1:] - line[:-1, 1]
    at = (away_x * along_x + away_y * along_y) / np.maximum(along_x**2 + along_y**2, 1e-300)
    np.clip(at, 0, 1, out=at)
    away_x -= at * along_x
    away_y -= at * along_y
    squares = away_x**2 + away_y**2
    return math.sqrt(squares.min(axis=1).max())
