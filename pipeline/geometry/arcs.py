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
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.bulges import Bulges, bulge_area, bulge_length, bulge_points, off_arc
from pipeline.geometry.curves import Curve, Path, evaluate_evenly, piece
from pipeline.geometry.merging import (
    MIN_SEGMENT,
    SAME,
    SAMPLES,
    Piece,
    drop_points,
    merge_arcs,
    merge_lines,
    merge_short,
)

__all__ = ["MIN_SEGMENT", "SAME", "Bulges", "bulge_area", "bulge_length", "bulge_points", "fit_path"]

Array = NDArray[np.float64]

SAMPLE_MARGIN = 0.99
"""The share of the tolerance allowed at the compared points."""
MIN_WEIGHT = 0.05
"""A conic whose middle weight (ends 1) is smaller is halved first: its tangents meet too far out, or not at all."""

REMEMBERED = 256
"""Fits kept, since each drawing is written in several formats; curves are immutable and known by identity."""


def fit_path(path: Path, tolerance: float) -> Bulges:
    """Return the path as lines and arcs that stay within ``tolerance`` of it, both ways.

    Straight runs become one line, runs of one circle become equal arcs of under half a turn each, other conics
    biarcs. No segment is shorter than ``MIN_SEGMENT``: shorter ones are merged into their neighbours where it moves
    the path least. Only there, where the path itself has a smaller feature or bends too sharply for the tolerance, can
    the distance be greater; a loop smaller than ``MIN_SEGMENT`` as a whole keeps what it needs to stay a loop.

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
    return _fit(tuple(path), tolerance)


@lru_cache(maxsize=REMEMBERED)
def _fit(path: Path, tolerance: float) -> Bulges:
    closed = _check_path(path)
    pieces = [p for curve in path for p in _fit_curve(curve, tolerance)]
    pieces = merge_lines(drop_points(pieces, closed), closed)
    pieces = merge_short(merge_arcs(pieces, closed), closed)
    pieces = merge_lines(pieces, closed)
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


def _fit_curve(curve: Curve, tolerance: float) -> list[Piece]:
    """Return the pieces of one curve."""
    start, end = _complex(curve.start), _complex(curve.end)
    if curve.straight:
        return [Piece(start, end, 0.0, np.array([curve.start, curve.end]))]
    w0, w1, w2 = curve.points[:, -1]
    if w1 <= MIN_WEIGHT * math.sqrt(w0 * w2):
        return [p for t in ((0.0, 0.5), (0.5, 1.0)) for p in _fit_curve(piece(curve, *t), tolerance)]
    control = _complex(curve.points[1] / w1)
    trace = evaluate_evenly(curve, SAMPLES)
    for bulge in (0.0, _chord_bulge(start, control, end)):
        # Most curves are neither: their middle tells.
        for some in (trace[SAMPLES // 2, None], trace):
            if np.abs(off_arc(some, start, end, bulge)).max() > SAME / 10:
                break
        else:
            return [Piece(start, end, bulge, trace)]
    return _fit_conic(curve, tolerance)


def _chord_bulge(start: complex, control: complex, end: complex) -> float:
    """Return tan(phi / 2) of the angle phi from the chord to the start tangent: the bulge of a single arc."""
    u, v = control - start, end - start
    turned = u.conjugate() * v
    return turned.imag / (abs(turned) + turned.real) if turned.real > -abs(turned) else 0.0


def _fit_conic(curve: Curve, tolerance: float) -> list[Piece]:
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
    points = evaluate_evenly(curve, len(at))
    chords = np.diff(points[:, 0] + 1j * points[:, 1])
    steps = np.abs(chords)
    turns = np.angle(chords[1:] / chords[:-1])
    curvature = turns / (steps[1:] + steps[:-1]) * 2
    change = np.abs(np.gradient(curvature, np.cumsum(steps)[:-1]))
    effort = np.cbrt(change + 0.02 * change.max() + 1e-300)
    effort = np.concatenate([effort[:1], (effort[1:] + effort[:-1]) / 2, effort[-1:]]) * steps
    total = np.concatenate([[0.0], np.cumsum(effort)])
    return at, total / total[-1]


def _biarc(curve: Curve) -> tuple[list[Piece], float]:
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
    points = evaluate_evenly(curve, SAMPLES)
    tangent = (middle - start) / abs(middle - start) * cmath.exp(2j * math.atan(bulge_1))
    ahead = ((points[:, 0] + 1j * points[:, 1] - middle) * tangent.conjugate()).real
    split = int(np.searchsorted(ahead > 0, True))
    joint = np.array([[middle.real, middle.imag]])
    pieces = [
        Piece(start, middle, bulge_1, np.vstack([points[:split], joint])),
        Piece(middle, end, bulge_2, np.vstack([joint, points[split:]])),
    ]
    errors = [np.abs(off_arc(p.trace, p.start, p.end, p.bulge)).max() for p in pieces]
    return pieces, float(max(errors))
