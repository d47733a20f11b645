"""Exact curves fitted by straight lines and circular arcs.

Terms
-----
bulge
    tan(theta / 4) of an arc that turns by theta from one vertex to the next, positive counter-clockwise, 0 for a line
    (DXF reference, LWPOLYLINE group 42).
biarc
    Two arcs that meet with a common tangent and share the tangents of the curve they stand for at its ends.
piece
    One line or arc of the fit.
trace
    Points of the exact path that a piece stands for.

The biarc of a conic arc meets at the incentre of its control triangle: the chords to the incentre halve the angles
between chord and end tangents, so the arcs turn by just these angles, alpha and beta, and their tangents agree there.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Curve, Path, evaluate, piece

Array = NDArray[np.float64]

MIN_SEGMENT = 0.1
"""mm; shorter segments make cutters stutter."""
SAME = 1e-6
"""mm; points nearer than this are one, and pieces that agree so far lie on one line or circle."""
MAX_TURN_RAD = math.radians(179)
"""Greatest turn of one arc; at half a turn the bulge reaches 1 and readers begin to differ."""
SAMPLES = 65
"""Points a conic piece is compared at; between them the distance grows by less than 1 %."""
SAMPLE_MARGIN = 0.99
"""The share of the tolerance allowed at the compared points."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bulges:
    """A path of lines and arcs.

    Attributes
    ----------
    points
        ``(n, 3)`` x, y of each vertex and the bulge of the segment that starts there, mm; an open path's last is 0.
    closed
        Whether the last vertex runs on to the first.
    """

    points: Array
    closed: bool

    def __post_init__(self) -> None:
        self.points.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """One line or arc; plane points as complex numbers; ``trace`` ``(k, 2)``, ends included."""

    start: complex
    end: complex
    bulge: float
    trace: Array

    @property
    def size(self) -> float:
        return abs(self.end - self.start)

    @property
    def turn(self) -> float:
        return 4 * math.atan(self.bulge)

    def sample(self, count: int) -> Array:
        """Return ``(count, 2)`` points on the piece."""
        return _arc_samples(self.start, self.end, self.bulge, count)


def fit_path(path: Path, tolerance: float) -> Bulges:
    """Return the path as lines and arcs that stay within ``tolerance`` of it, both ways.

    Straight runs become one line, runs of one circle become equal arcs of under half a turn each, other conics
    biarcs. No segment is shorter than ``MIN_SEGMENT``: shorter ones are merged into their neighbours where it moves
    the path least, and only where the path itself has so small a feature can that be more than ``tolerance``.

    Parameters
    ----------
    path
        Plane curves, open or closed, mm.
    tolerance
        Above zero, mm.

    Raises
    ------
    ValueError
        If the path is empty, not plane, not finite or has a gap, or the tolerance is not above zero.
    """
    if not tolerance > 0:
        raise ValueError("a tolerance above zero is needed")
    closed = _check_path(path)
    pieces = [p for curve in path for p in _fit_curve(curve, tolerance)]
    pieces = _merge_lines(_drop_points(pieces, closed), closed)
    pieces = _merge_short(_merge_arcs(pieces, closed), closed)
    pieces = _merge_lines(pieces, closed)
    rows = [(p.start.real, p.start.imag, p.bulge) for p in pieces]
    if not closed:
        rows.append((pieces[-1].end.real, pieces[-1].end.imag, 0.0))
    return Bulges(points=np.array(rows), closed=closed)


def _check_path(path: Path) -> bool:
    if not path:
        raise ValueError("an empty path")
    if any(curve.points.shape[1] != 3 for curve in path):
        raise ValueError("arcs are fitted to plane curves only")
    if not all(np.isfinite(curve.points).all() for curve in path):
        raise ValueError("a path with a number that is not finite")
    if any(np.abs(a.end - b.start).max() > SAME for a, b in pairwise(path)):
        raise ValueError("a path with a gap")
    return bool(np.abs(path[-1].end - path[0].start).max() <= SAME) and len(path) > 1


def _complex(point: Array) -> complex:
    return complex(float(point[0]), float(point[1]))


def _fit_curve(curve: Curve, tolerance: float) -> list[_Piece]:
    """Return the pieces of one curve."""
    start, end = _complex(curve.start), _complex(curve.end)
    if curve.straight:
        return [_Piece(start, end, 0.0, np.array([curve.start, curve.end]))]
    w0, w1, w2 = curve.points[:, -1]
    if w1 <= 0.05 * math.sqrt(w0 * w2):
        return [p for t in ((0.0, 0.5), (0.5, 1.0)) for p in _fit_curve(piece(curve, *t), tolerance)]
    control = _complex(curve.points[1] / w1)
    trace = evaluate(curve, np.linspace(0, 1, SAMPLES))
    for bulge in (0.0, _chord_bulge(start, control, end)):
        if np.abs(_off_arc(trace, start, end, bulge)).max() <= SAME / 10:
            return [_Piece(start, end, bulge, trace)]
    return _fit_conic(curve, tolerance)


def _chord_bulge(start: complex, control: complex, end: complex) -> float:
    """Return tan(phi / 2) of the angle phi from the chord to the start tangent: the bulge of a single arc."""
    u, v = control - start, end - start
    turned = u.conjugate() * v
    return turned.imag / (abs(turned) + turned.real) if turned.real > -abs(turned) else 0.0


def _off_arc(points: Array, start: complex, end: complex, bulge: float) -> Array:
    """Return signed distances ``(k,)`` of points to the circle (or line) of an arc, well behaved for any radius.

    With d = p - start, N the left normal of the arc there and kappa its curvature:
    (kappa d^2 - 2 d.N) / (1 + sqrt(1 + kappa (kappa d^2 - 2 d.N))).
    """
    chord = end - start
    if chord == 0:
        return np.abs(points[:, 0] + 1j * points[:, 1] - start)
    kappa = 4 * bulge / ((1 + bulge * bulge) * abs(chord))
    normal = 1j * chord / abs(chord) * cmath.exp(-2j * math.atan(bulge))
    away = points[:, 0] + 1j * points[:, 1] - start
    inner = kappa * np.abs(away) ** 2 - 2 * (away * normal.conjugate()).real
    out: Array = inner / (1 + np.sqrt(np.maximum(1 + kappa * inner, 0.0)))
    return out


def _fit_conic(curve: Curve, tolerance: float) -> list[_Piece]:
    """Return biarcs of a conic: few, and balanced so that they err alike.

    The number grows until the tolerance is met, or until a segment would fall below ``MIN_SEGMENT``.
    """
    at, share = _spread(curve)
    count, best = 1, _biarc(curve)
    while best[1] > SAMPLE_MARGIN * tolerance:
        count = max(count + 1, min(4 * count, math.floor(0.9 * count * (best[1] / tolerance) ** (1 / 3))))
        places = np.interp(np.arange(count + 1) / count, share, at).tolist()
        biarcs = [_biarc(piece(curve, a, b)) for a, b in pairwise(places)]
        pieces = [p for pair, _ in biarcs for p in pair]
        if min(p.size for p in pieces) < MIN_SEGMENT:
            break
        best = (pieces, max(error for _, error in biarcs))
    return best[0]


def _spread(curve: Curve) -> tuple[Array, Array]:
    """Return parameters and the share of the fitting effort before each, both rising from 0 to 1.

    A biarc of a short piece of length h errs by |dkappa/ds| h^3 / 324, so even errors ask for even shares of the
    integral of the cube root of |dkappa/ds|.
    """
    at = np.linspace(0, 1, 4 * SAMPLES)
    points = evaluate(curve, at)
    chords = np.diff(points[:, 0] + 1j * points[:, 1])
    steps = np.abs(chords)
    turns = np.angle(chords[1:] / chords[:-1])
    curvature = turns / (steps[1:] + steps[:-1]) * 2
    change = np.abs(np.gradient(curvature, np.cumsum(steps)[:-1]))
    effort = np.cbrt(change + 0.02 * change.max() + 1e-300)
    effort = np.concatenate([effort[:1], (effort[1:] + effort[:-1]) / 2, effort[-1:]]) * steps
    total = np.concatenate([[0.0], np.cumsum(effort)])
    return at, total / total[-1]


def _biarc(curve: Curve) -> tuple[list[_Piece], float]:
    """Return the two arcs of a conic and their greatest distance from it.

    Curve and arcs share end points and tangents and turn one way only, so every ray from an arc's centre in its
    sector meets both once: the greatest radial difference is the two-way distance.
    """
    start, end = _complex(curve.start), _complex(curve.end)
    control = _complex(curve.points[1] / curve.points[1, 2])
    first, last, base = abs(control - start), abs(end - control), abs(end - start)
    middle = (last * start + base * control + first * end) / (first + last + base)
    bulge_1 = _chord_bulge(start, control, middle)
    bulge_2 = -_chord_bulge(end, control, middle)
    points = evaluate(curve, np.linspace(0, 1, SAMPLES))
    tangent = (middle - start) / abs(middle - start) * cmath.exp(2j * math.atan(bulge_1))
    ahead = ((points[:, 0] + 1j * points[:, 1] - middle) * tangent.conjugate()).real
    split = int(np.searchsorted(ahead > 0, True))
    joint = np.array([[middle.real, middle.imag]])
    pieces = [
        _Piece(start, middle, bulge_1, np.vstack([points[:split], joint])),
        _Piece(middle, end, bulge_2, np.vstack([joint, points[split:]])),
    ]
    errors = [np.abs(_off_arc(p.trace, p.start, p.end, p.bulge)).max() for p in pieces]
    return pieces, float(max(errors))


def _drop_points(pieces: list[_Piece], closed: bool) -> list[_Piece]:
    """Return the pieces without those of no length; the next starts where the one before ended."""
    kept = [p for p in pieces if p.size > SAME]
    if not kept:
        raise ValueError("a path of no length")
    ends = [q.start for q in kept[1:]] + [kept[0].start if closed else kept[-1].end]
    return [replace(p, end=end) for p, end in zip(kept, ends, strict=True)]


def _merge_lines(pieces: list[_Piece], closed: bool) -> list[_Piece]:
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


def _joined_line(first: _Piece, second: _Piece) -> _Piece | None:
    if first.bulge or second.bulge:
        return None
    along = (first.end - first.start).conjugate() * (second.end - second.start)
    if along.real <= 0 or abs(along.imag) > 2 * SAME * (first.size + second.size):
        return None
    trace = np.vstack([first.trace, second.trace[1:]])
    if np.abs(_off_arc(trace, first.start, second.end, 0.0)).max() > SAME:
        return None
    return _Piece(first.start, second.end, 0.0, trace)


def _merge_arcs(pieces: list[_Piece], closed: bool) -> list[_Piece]:
    """Return the pieces with runs of one circle shared out evenly among as few arcs as ``MAX_TURN_RAD`` allows."""
    first = 0
    if closed:
        breaks = [i for i in range(len(pieces)) if not _one_circle(pieces[i - 1], pieces[i])]
        first = breaks[0] if breaks else 0
    turned = pieces[first:] + pieces[:first]
    runs: list[list[_Piece]] = []
    for p in turned:
        if runs and _one_circle(runs[-1][-1], p) and _one_circle(runs[-1][0], p):
            runs[-1].append(p)
        else:
            runs.append([p])
    return [p for run in runs for p in _share_run(run)]


def _one_circle(first: _Piece, second: _Piece) -> bool:
    if not first.bulge * second.bulge > 0:
        return False
    far = [_off_arc(b.sample(3), a.start, a.end, a.bulge) for a, b in ((first, second), (second, first))]
    return bool(np.abs(far).max() <= SAME)


def _share_run(run: list[_Piece]) -> list[_Piece]:
    turn = sum(p.turn for p in run)
    count = math.ceil(abs(turn) / MAX_TURN_RAD)
    if len(run) == 1 or count >= len(run):
        return run
    start, centre = run[0].start, _centre(run[0])
    places = [centre + (start - centre) * cmath.exp(1j * turn * k / count) for k in range(count)] + [run[-1].end]
    bulge = math.tan(turn / count / 4)
    return [_Piece(a, b, bulge, _arc_samples(a, b, bulge, SAMPLES)) for a, b in pairwise(places)]


def _centre(p: _Piece) -> complex:
    return (p.start + p.end) / 2 + (p.end - p.start) * 1j * (1 - p.bulge**2) / (4 * p.bulge)


def _merge_short(pieces: list[_Piece], closed: bool) -> list[_Piece]:
    """Return the pieces with those under ``MIN_SEGMENT`` merged away, the one that moves the path least first."""
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
        lo, hi, new = min(options, key=lambda option: _moved(order[option[0] : option[1]], option[2]))
        pieces = order[:lo] + new + order[hi:]
    return pieces


def _collapsed(order: list[_Piece], lo: int, hi: int, new: list[_Piece]) -> bool:
    """Whether too little would be left: two lines enclose nothing."""
    rest = order[:lo] + new + order[hi:]
    return any(p.size <= SAME for p in new) or (len(rest) < 3 and not any(p.bulge for p in rest))


def _without(order: list[_Piece], here: int) -> list[tuple[int, int, list[_Piece]]]:
    """Return ways to do without a short piece: (from, to, what takes the place of ``order[from:to]``)."""
    out: list[tuple[int, int, list[_Piece]]] = []
    before = order[here - 1] if here > 0 else None
    after = order[here + 1] if here + 1 < len(order) else None
    if before is not None:
        out += [(here - 1, here + 1, [p]) for p in _as_one(before, order[here])]
    if after is not None:
        out += [(here, here + 2, [p]) for p in _as_one(order[here], after)]
    if before is not None and after is not None:
        out += [(here - 1, here + 2, new) for new in _met(before, order[here], after)]
    return out


def _as_one(first: _Piece, second: _Piece) -> list[_Piece]:
    trace = np.vstack([first.trace, second.trace[1:]])
    start, end = first.start, second.end
    straight = _Piece(start, end, 0.0, trace)
    if start == end or not (first.bulge or second.bulge):
        return [straight]
    return [straight, _Piece(start, end, _bulge_through(start, first.end, end), trace)]


def _bulge_through(start: complex, middle: complex, end: complex) -> float:
    """Return the bulge of the arc by three points: the angle at the middle is pi - theta / 2."""
    half = cmath.phase((end - middle) * (middle - start).conjugate())
    return math.tan(half / 2) if abs(half) < MAX_TURN_RAD / 2 else 0.0


def _met(before: _Piece, short: _Piece, after: _Piece) -> list[list[_Piece]]:
    """Return the neighbours brought together where they meet, and at the middle of the short piece."""
    places = [(short.start + short.end) / 2]
    u, v = before.end - before.start, after.end - after.start
    across = (u.conjugate() * v).imag
    if not before.bulge and not after.bulge and abs(across) > 1e-9 * abs(u) * abs(v):
        places.append(before.start + u * ((after.start - before.start).conjugate() * v).imag / across)
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
        bulges = [_bulge_through(a, _complex(p.sample(3)[1]), b) if p.bulge else 0.0 for a, b, p in ends]
        out.append([_Piece(a, b, k, t) for (a, b, _), k, t in zip(ends, bulges, traces, strict=True)])
    return out


def _moved(old: list[_Piece], new: list[_Piece]) -> float:
    """Return the two-way distance between new pieces and all that the old ones stand for."""
    traces = np.vstack([p.trace for p in old])
    kept = np.vstack([p.sample(SAMPLES) for p in new])
    return max(_farthest(_densify(traces), kept), _farthest(kept, traces))


def _densify(points: Array) -> Array:
    share = np.linspace(0, 1, 9)[:-1, None, None]
    return np.vstack([(points[:-1] + share * (points[1:] - points[:-1])).reshape(-1, 2), points[-1:]])


def _farthest(points: Array, line: Array) -> float:
    """Return the greatest distance of ``(n, 2)`` points from a polyline ``(m, 2)``."""
    start, along = line[:-1], np.diff(line, axis=0)
    away = points[:, None] - start
    at = np.clip((away * along).sum(-1) / np.maximum((along**2).sum(-1), 1e-300), 0, 1)
    gaps = np.linalg.norm(away - at[..., None] * along, axis=-1)
    return float(gaps.min(axis=1).max())


def _arc_samples(start: complex, end: complex, bulge: float, count: int) -> Array:
    """Return ``(count, 2)`` points from start to end.

    At the share s the chord from the start makes the angle theta (1 - s) / 2 with the whole chord and is shorter by
    sin(theta s / 2) / sin(theta / 2).
    """
    half = 2 * math.atan(bulge)
    share = np.linspace(0, 1, count)
    ratio = share if abs(half) < 1e-9 else np.sin(half * share) / math.sin(half)
    points = start + (end - start) * ratio * np.exp(-1j * half * (1 - share))
    points[-1] = end
    return np.column_stack([points.real, points.imag])


def _segments(bulges: Bulges) -> list[tuple[complex, complex, float]]:
    rows = bulges.points.tolist()
    following = rows[1:] + rows[:1] if bulges.closed else rows[1:]
    return [(complex(x, y), complex(u, v), b) for (x, y, b), (u, v, _) in zip(rows, following, strict=False)]


def bulge_points(bulges: Bulges, tolerance: float) -> Array:
    """Return ``(n, 2)`` points whose chords stay within ``tolerance``; a closed path's first is not repeated."""
    parts = []
    for start, end, bulge in _segments(bulges):
        half = 2 * abs(math.atan(bulge))
        radius = abs(end - start) / (2 * math.sin(half)) if half else 0.0
        step = 2 * math.acos(max(0.0, 1 - tolerance / radius)) if radius > 0 else math.inf
        parts.append(_arc_samples(start, end, bulge, 1 + max(1, math.ceil(2 * half / step)))[:-1])
    if not bulges.closed:
        parts.append(bulges.points[-1:, :2])
    return np.vstack(parts)


def bulge_length(bulges: Bulges) -> float:
    """Return the exact length: chord times half / sin(half) with half = theta / 2 = 2 atan(bulge)."""
    total = 0.0
    for start, end, bulge in _segments(bulges):
        half = 2 * math.atan(bulge)
        total += abs(end - start) * (half / math.sin(half) if half else 1.0)
    return total


def bulge_area(bulges: Bulges) -> float:
    """Return the exact area inside a closed path, positive when it runs counter-clockwise.

    The polygon's area and, for each arc, that between it and its chord c: c^2 (theta - sin theta) / (8 sin^2(theta/2)).
    """
    total = 0.0
    for start, end, bulge in _segments(bulges):
        total += (start.conjugate() * end).imag / 2
        theta = 4 * math.atan(bulge)
        # Under 1e-3 the difference loses digits; the segment is then a parabola's, 2/3 chord times height.
        share = bulge / 3 if abs(bulge) < 1e-3 else (theta - math.sin(theta)) / (8 * math.sin(theta / 2) ** 2)
        total += abs(end - start) ** 2 * share
    return total
