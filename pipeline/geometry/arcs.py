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
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.bulges import Bulges, bulge_area, bulge_length, bulge_points, off_arc, point_off_arc
from pipeline.geometry.curves import Curve, Path, blossom, evaluate_all_evenly, evaluate_evenly, piece
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
from pipeline.keeping.kept import around

__all__ = ["MIN_SEGMENT", "SAME", "Bulges", "bulge_area", "bulge_length", "bulge_points", "fit_path"]

Array = NDArray[np.float64]

SAMPLE_MARGIN = 0.99
"""The share of the tolerance allowed at the compared points."""
MIN_WEIGHT = 0.05
"""A conic whose middle weight (ends 1) is smaller is halved first: its tangents meet too far out, or not at all."""

REMEMBERED, REMEMBERED_CURVES = 256, 2048
"""Fits kept of paths and of curves, since each drawing is written in several formats and an edge of a hole on several
paths; curves are immutable and known by identity."""


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
    return around().here(fit_anew, path, tolerance)  # a path that is made anew is mostly the same as before


def fit_anew(path: Path, tolerance: float) -> Bulges:
    """Return what `fit_path` does."""
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
    if not np.isfinite(np.concatenate([curve.points for curve in path])).all():
        raise ValueError("a path with a number that is not finite")
    ends = np.array([curve.points[k] for curve in path for k in (0, -1)])
    starts, ends = (ends[:, :2] / ends[:, 2:]).reshape(-1, 2, 2).transpose(1, 0, 2)
    gaps = np.abs(ends - np.roll(starts, -1, axis=0)).max(axis=1)
    if (gaps[:-1] > SAME).any():
        raise ValueError("a path with a gap")
    return bool(gaps[-1] <= SAME) and len(path) > 1


def _complex(point: Array) -> complex:
    return complex(float(point[0]), float(point[1]))


@lru_cache(maxsize=REMEMBERED_CURVES)
def _fit_curve(curve: Curve, tolerance: float) -> tuple[Piece, ...]:
    """Return the pieces of one curve."""
    start, end = _complex(curve.start), _complex(curve.end)
    if curve.straight:
        return (Piece(start, end, 0.0, np.array([curve.start, curve.end])),)
    w0, w1, w2 = curve.points[:, -1]
    if w1 <= MIN_WEIGHT * math.sqrt(w0 * w2):
        return tuple(p for t in ((0.0, 0.5), (0.5, 1.0)) for p in _fit_curve(piece(curve, *t), tolerance))
    control = _complex(curve.points[1] / w1)
    trace = evaluate_evenly(curve, SAMPLES)
    middle = _complex(trace[SAMPLES // 2])
    for bulge in (0.0, _chord_bulge(start, control, end)):
        if abs(point_off_arc(middle, start, end, bulge)) > SAME / 10:
            continue  # most curves are neither: their middle tells
        if np.abs(off_arc(trace, start, end, bulge)).max() <= SAME / 10:
            return (Piece(start, end, bulge, trace),)
    return _fit_conic(curve, tolerance)


def _chord_bulge(start: complex, control: complex, end: complex) -> float:
    """Return tan(phi / 2) of the angle phi from the chord to the start tangent: the bulge of a single arc."""
    u, v = control - start, end - start
    turned = u.conjugate() * v
    return turned.imag / (abs(turned) + turned.real) if turned.real > -abs(turned) else 0.0


def _fit_conic(curve: Curve, tolerance: float) -> tuple[Piece, ...]:
    """Return biarcs of a conic: few, and balanced so that they err alike.

    The number grows until the tolerance is met, or until a segment would fall below ``MIN_SEGMENT``.
    """
    count, best = 1, _Biarcs.of(curve.points[None])
    if best.error <= SAMPLE_MARGIN * tolerance:
        return best.pieces()  # as most are
    at, share = _spread(curve)
    while best.error > SAMPLE_MARGIN * tolerance:
        count = max(count + 1, min(4 * count, math.floor(0.9 * count * (best.error / tolerance) ** (1 / 3))))
        found = _Biarcs.of(_parts(curve, np.interp(np.arange(count + 1) / count, share, at)))
        if found.least < MIN_SEGMENT:
            break
        best = found
    return best.pieces()


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


def _parts(curve: Curve, places: Array) -> Array:
    """Return the control points ``(n, 3, 3)`` of a conic's pieces between ``n + 1`` parameters (`curves.piece`)."""
    p, a, b = curve.points, places[:-1, None], places[1:, None]
    return np.stack([blossom(p, a, a), blossom(p, a, b), blossom(p, b, b)], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class _Biarcs:
    """Biarcs of a conic's pieces, one for each.

    Curve and arcs share end points and tangents and turn one way only, so every ray from an arc's centre in its
    sector meets both once: the greatest radial difference is the two-way distance.
    """

    corners: tuple[tuple[complex, complex, complex], ...]
    """Where each starts, where its arcs meet, where it ends."""
    bulges: tuple[tuple[float, float], ...]
    points: Array
    """``(n, SAMPLES)`` on the pieces, complex."""
    first: NDArray[np.bool_]
    """Which of them its first arc stands for."""
    error: float
    """The greatest distance of an arc from its piece."""

    @classmethod
    def of(cls, control: Array) -> _Biarcs:
        """Return the biarcs of pieces with control points ``(n, 3, 3)``."""
        corners, bulges, tangents = [], [], []
        rows = control[:, :, :2] / control[:, :, 2:]
        for start, tip, end in (rows[..., 0] + 1j * rows[..., 1]).tolist():
            first, last, base = abs(tip - start), abs(end - tip), abs(end - start)
            middle = (last * start + base * tip + first * end) / (first + last + base)
            bulge = _chord_bulge(start, tip, middle)
            corners.append((start, middle, end))
            bulges.append((bulge, -_chord_bulge(end, tip, middle)))
            tangents.append((middle - start) / abs(middle - start) * cmath.exp(2j * math.atan(bulge)))
        flat = evaluate_all_evenly(control, SAMPLES)
        points = flat[..., 0] + 1j * flat[..., 1]
        middles = np.array([middle for _, middle, _ in corners])[:, None]
        beyond = ((points - middles) * np.array(tangents).conj()[:, None]).real > 0
        first_arc = np.arange(SAMPLES) < np.where(beyond.any(axis=1), beyond.argmax(axis=1), SAMPLES)[:, None]
        away = [
            np.abs(_off_arcs(points, [pair[k : k + 2] for pair in corners], [pair[k] for pair in bulges]))
            for k in (0, 1)
        ]
        error = float(np.where(first_arc, *away).max())
        return cls(tuple(corners), tuple(bulges), points, first_arc, error)

    @property
    def least(self) -> float:
        """The shortest chord of all arcs."""
        return min(min(abs(middle - start), abs(end - middle)) for start, middle, end in self.corners)

    def pieces(self) -> tuple[Piece, ...]:
        """Return the arcs, two for each biarc."""
        out = []
        for k, ((start, middle, end), (before, after)) in enumerate(zip(self.corners, self.bulges, strict=True)):
            split = int(self.first[k].sum())
            traces = np.insert(self.points[k], split, middle)
            trace = np.column_stack([traces.real, traces.imag])
            out.append(Piece(start, middle, before, trace[: split + 1]))
            out.append(Piece(middle, end, after, trace[split:]))
        return tuple(out)


def _off_arcs(points: NDArray[np.complex128], ends: Sequence[tuple[complex, ...]], bulges: Sequence[float]) -> Array:
    """Return `off_arc` of points ``(n, k)``, each row to the arc of its own."""
    start, end = np.array(ends).T[:, :, None]
    bulge, chord = np.array(bulges)[:, None], end - start
    kappa = 4 * bulge / ((1 + bulge * bulge) * np.abs(chord))
    normal = 1j * chord / np.abs(chord) * np.exp(-2j * np.arctan(bulge))
    away = points - start
    inner = kappa * np.abs(away) ** 2 - 2 * (away * normal.conj()).real
    out: Array = inner / (1 + np.sqrt(np.maximum(1 + kappa * inner, 0.0)))
    return out
