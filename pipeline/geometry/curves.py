"""Exact plane and space curves: straight lines and conic arcs as rational Beziers.

Terms
-----
curve
    One piece: two control points (a line) or three (a conic arc), each homogeneous, weight last:
    ``(k, d + 1)`` with ``k`` in {2, 3} and ``d`` in {2, 3}.
path
    A tuple of curves, each starting where the one before ends. Closed when the last ends at the first's start.

A collineation acts on the control points alone, so a curve stays exact through it: multiply the homogeneous
points by the matrix (Piegl and Tiller, *The NURBS Book*, projective invariance of rational curves).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry.vectors import lengths, norm

Array = NDArray[np.float64]

FLATTENED = 4096
"""Arcs whose points are kept; curves are immutable and known by identity."""
FIRST_CHORDS = 16
"""Chords whose ends and middles are found at once; most arcs want no more."""
ROOT_MARGIN = 1e-12
"""Relative size under which a leading coefficient counts as zero; the equation is then one degree lower."""


@cache
def _gauss() -> tuple[Array, Array]:
    """Return 32 Gauss-Legendre nodes on [0, 1] and their weights, found when first asked for."""
    nodes, weights = np.polynomial.legendre.leggauss(32)
    return (nodes + 1) / 2, weights / 2


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A line or a conic arc.

    Attributes
    ----------
    points
        ``(2, d + 1)`` or ``(3, d + 1)`` homogeneous control points, weight last, all weights above zero.
    """

    points: Array

    def __post_init__(self) -> None:
        self.points.setflags(write=False)

    @property
    def straight(self) -> bool:
        """Whether the curve is a line."""
        return len(self.points) == 2

    @property
    def start(self) -> Array:
        """``(d,)`` first point."""
        point: Array = self.points[0, :-1] / self.points[0, -1]
        return point

    @property
    def end(self) -> Array:
        """``(d,)`` last point."""
        point: Array = self.points[-1, :-1] / self.points[-1, -1]
        return point


Path = tuple[Curve, ...]


def line(start: ArrayLike, end: ArrayLike) -> Curve:
    """Return the straight curve from ``start`` to ``end``, each ``(d,)``."""
    ends = np.array([start, end], dtype=np.float64)
    points = np.ones((2, ends.shape[1] + 1))
    points[:, :-1] = ends
    return Curve(points)


def polygon(points: ArrayLike) -> Path:
    """Return the closed path of straight curves through ``points`` ``(n, d)``."""
    corners = np.asarray(points, dtype=np.float64)
    return tuple(line(a, b) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True))


def polyline(points: ArrayLike) -> Path:
    """Return the open path of straight curves through ``points`` ``(n, d)``."""
    corners = np.asarray(points, dtype=np.float64)
    return tuple(line(a, b) for a, b in pairwise(corners))


def arc(centre: ArrayLike, radius: float, start_rad: float, end_rad: float) -> Path:
    """Return the circular arc as rational quadratics of at most 90 degrees each.

    The middle weight is the cosine of half the piece's angle (Piegl and Tiller).

    Parameters
    ----------
    centre
        ``(2,)`` point.
    radius
        Above zero, in the same unit.
    start_rad, end_rad
        Angles from the first axis; the arc runs counter-clockwise when ``end_rad`` is the larger.
    """
    middle = np.asarray(centre, dtype=np.float64)
    pieces = max(1, math.ceil(abs(end_rad - start_rad) / (math.pi / 2) - 1e-9))
    angles = np.linspace(start_rad, end_rad, pieces + 1)
    return tuple(_arc_piece(middle, radius, a, b) for a, b in pairwise(angles))


def _arc_piece(centre: Array, radius: float, start_rad: float, end_rad: float) -> Curve:
    half = (end_rad - start_rad) / 2
    weight = math.cos(half)
    mid = (start_rad + end_rad) / 2
    p0 = centre + radius * np.array([math.cos(start_rad), math.sin(start_rad)])
    p2 = centre + radius * np.array([math.cos(end_rad), math.sin(end_rad)])
    p1 = centre + radius / weight * np.array([math.cos(mid), math.sin(mid)])
    return Curve(np.array([[*p0, 1.0], [*(p1 * weight), weight], [*p2, 1.0]]))


def transform(curve: Curve, matrix: Array) -> Curve:
    """Return the curve's exact image under a homogeneous ``(e + 1, d + 1)`` matrix.

    Raises
    ------
    ValueError
        If the curve would pass through infinity: an end's weight does not stay above zero, or the middle one falls
        to -sqrt(w0 w2) or below.
    """
    points = curve.points @ np.asarray(matrix).T
    if points[0, -1] < 0:
        points = -points
    first, *middle, last = points[:, -1].tolist()
    far = bool(middle) and middle[0] < 0 and middle[0] * middle[0] >= first * last
    if far or not (first > 0 and last > 0):
        raise ValueError("the curve passes through infinity under this matrix")
    return Curve(points)


def transform_path(path: Iterable[Curve], matrix: Array) -> Path:
    """Return ``transform`` of each curve."""
    return tuple(transform(curve, matrix) for curve in path)


def evaluate(curve: Curve, t: ArrayLike) -> Array:
    """Return the points ``(n, d)`` at parameters ``t`` ``(n,)``."""
    homogeneous = _homogeneous(curve, np.atleast_1d(np.asarray(t, dtype=np.float64)))
    points: Array = homogeneous[:, :-1] / homogeneous[:, -1:]
    return points


def _homogeneous(curve: Curve, t: Array) -> Array:
    column = t[:, None]
    if curve.straight:
        out: Array = (1 - column) * curve.points[0] + column * curve.points[1]
        return out
    return _blended(curve, _shares(column))


def _shares(column: Array) -> tuple[Array, Array, Array]:
    """Return the three Bernstein polynomials of degree 2 at parameters ``(n, 1)``."""
    return (1 - column) ** 2, 2 * column * (1 - column), column**2


def _blended(curve: Curve, shares: tuple[Array, Array, Array]) -> Array:
    first, middle, last = shares
    out: Array = first * curve.points[0]
    out += middle * curve.points[1]
    out += last * curve.points[2]
    return out


@cache
def _even_shares(count: int) -> tuple[Array, Array, Array]:
    """Return the same at ``count`` even parameters from 0 to 1, found when first asked for."""
    return _shares(np.linspace(0, 1, count)[:, None])


def evaluate_evenly(curve: Curve, count: int) -> Array:
    """Return the points ``(count, d)`` at even parameters from 0 to 1."""
    if curve.straight:
        return evaluate(curve, np.linspace(0, 1, count))
    homogeneous = _blended(curve, _even_shares(count))
    points: Array = homogeneous[:, :-1] / homogeneous[:, -1:]
    return points


def evaluate_all_evenly(control: Array, count: int) -> Array:
    """Return the points ``(n, count, d)`` of conic arcs ``(n, 3, d + 1)`` at even parameters from 0 to 1."""
    first, middle, last = _even_shares(count)
    homogeneous = first * control[:, None, 0]
    homogeneous += middle * control[:, None, 1]
    homogeneous += last * control[:, None, 2]
    points: Array = homogeneous[..., :-1] / homogeneous[..., -1:]
    return points


def piece(curve: Curve, t0: float, t1: float) -> Curve:
    """Return the part of the curve between parameters ``t0`` and ``t1`` (blossoming; extends beyond 0 and 1)."""
    if t0 == 0.0 and t1 == 1.0:
        return curve
    p = curve.points
    if curve.straight:
        return Curve(np.array([(1 - t0) * p[0] + t0 * p[1], (1 - t1) * p[0] + t1 * p[1]]))
    return Curve(np.array([blossom(p, t0, t0), blossom(p, t0, t1), blossom(p, t1, t1)]))


def blossom(points: Array, a: Array | float, b: Array | float) -> Array:
    """Return the polar form of a conic arc's control points ``(3, d)``: its point at ``t`` where a = b = t."""
    value: Array = (1 - a) * (1 - b) * points[0] + ((1 - a) * b + a * (1 - b)) * points[1] + a * b * points[2]
    return value


def reverse(curve: Curve) -> Curve:
    """Return the curve run the other way."""
    return Curve(curve.points[::-1].copy())


def reverse_path(path: Sequence[Curve]) -> Path:
    """Return the path run the other way."""
    return tuple(reverse(curve) for curve in reversed(path))


def tangent(curve: Curve, t: float) -> Array:
    """Return the ``(d,)`` derivative's direction (not of unit length) at ``t``."""
    direction: Array = tangents(curve, np.array([t]))[0]
    return direction


def tangents(curve: Curve, t: Array) -> Array:
    """Return the derivatives ``(n, d)`` at parameters ``t`` ``(n,)``."""
    p, column = curve.points, t[:, None]
    value = _homogeneous(curve, t)
    if curve.straight:
        slope = np.broadcast_to(p[1] - p[0], value.shape)
    else:
        slope = 2 * ((1 - column) * (p[1] - p[0]) + column * (p[2] - p[1]))
    out: Array = (slope[:, :-1] * value[:, -1:] - value[:, :-1] * slope[:, -1:]) / value[:, -1:] ** 2
    return out


def length(curve: Curve) -> float:
    """Return the arc length (Gauss-Legendre on 32 nodes; exact for lines)."""
    if curve.straight:
        return norm(curve.end - curve.start)
    t, weights = _gauss()
    speeds = lengths(tangents(curve, t))
    return float(weights @ speeds)


def crossings(curve: Curve, normal: Array) -> list[float]:
    """Return the parameters in [0, 1) or [0, 1] where a plane curve meets the line ``normal . (x, y, 1) = 0``.

    A point on the line counts as lying on its positive side, so a path that passes a vertex on the line is
    counted once and one that only touches it not at all (or twice).
    """
    values = curve.points @ normal
    if curve.straight:
        if (values[0] >= 0) == (values[1] >= 0):
            return []
        return [float(values[0] / (values[0] - values[1]))]
    roots = [t for t in bezier_roots(values) if 0.0 <= t <= 1.0]
    if (values[0] >= 0) != (values[2] >= 0):
        if len(roots) == 1:
            return roots
        if not roots:
            return [0.0 if abs(values[0]) < abs(values[2]) else 1.0]
        inner = min(roots, key=lambda t: abs(t - 0.5))
        return [inner]
    return sorted(roots) if len(roots) == 2 and roots[0] != roots[1] else []


def bezier_roots(values: Array) -> list[float]:
    """Return the real roots, in any place, of a quadratic given by its Bernstein coefficients ``(3,)``."""
    c, middle, last = values.tolist()
    a = c - 2 * middle + last
    b = 2 * (middle - c)
    scale = max(abs(a), abs(b), abs(c))
    if scale == 0:
        return []
    if abs(a) < ROOT_MARGIN * scale:
        return [] if abs(b) < ROOT_MARGIN * scale else [-c / b]
    under = b * b - 4 * a * c
    if under < 0:
        return []
    q = -(b + math.copysign(math.sqrt(under), b)) / 2
    return [q / a] if q == 0 else [q / a, c / q]


def flatten(curve: Curve, tolerance: float) -> Array:
    """Return points ``(n, d)`` on the curve, ends included, whose chords stay within ``tolerance``.

    The parameter is halved until the middle of every chord is near enough; each step is exact on the curve.
    """
    if curve.straight:
        return np.array([curve.start, curve.end])
    return _flattened(curve, tolerance)


@lru_cache(maxsize=FLATTENED)
def _flattened(curve: Curve, tolerance: float) -> Array:
    """Return the points of a conic arc, read-only: each is flattened for paper, sheets, measures and pictures."""
    count, first = 2, evaluate_evenly(curve, 2 * FIRST_CHORDS + 1)
    while count < 4096:
        points = first[:: FIRST_CHORDS // count] if count <= FIRST_CHORDS else evaluate_evenly(curve, 2 * count + 1)
        chords = points[2::2] - points[:-2:2]
        spans = np.sqrt((chords * chords).sum(axis=1))
        away = points[1::2] - points[:-2:2]
        along = (away * chords).sum(axis=1) / np.maximum(spans, 1e-300) ** 2
        away -= along[:, None] * chords
        if math.sqrt((away * away).sum(axis=1).max()) <= tolerance:
            found = points[::2].copy()
            found.setflags(write=False)
            return found
        count *= 2
    raise ValueError("a curve does not flatten within the tolerance; is a length infinite?")


def flatten_path(path: Sequence[Curve], tolerance: float) -> Array:
    """Return the polygon or polyline ``(n, d)`` of a path; a closed path's last point is not repeated."""
    starts = np.array([curve.points[0] for curve in path])
    starts = starts[:, :-1] / starts[:, -1:]
    if not any(len(curve.points) == 3 for curve in path):
        points = np.concatenate([starts, path[-1].end[None]])
    else:
        parts = [
            starts[k : k + 1] if curve.straight else _flattened(curve, tolerance)[:-1] for k, curve in enumerate(path)
        ]
        points = np.concatenate([*parts, flatten(path[-1], tolerance)[-1:]])
    if len(points) > 2 and norm(points[0] - points[-1]) < 1e-9 * (1 + np.abs(points).max()):
        points = points[:-1]
    return points


def bounds(path: Iterable[Curve]) -> Array:
    """Return the exact ``(2, d)`` least and greatest coordinates of a path."""
    whole = list(path)
    control = np.array([curve.points[k] for curve in whole for k in (0, -1)])
    points = [control[:, :-1] / control[:, -1:]]
    bent = [curve for curve in whole if not curve.straight]
    if bent:
        # A curve lies within its control points, where no weight is below zero: only where the middle one stands out
        # are there extremes inside.
        control = np.array([curve.points for curve in bent])
        start, middle, end = np.moveaxis(control[..., :-1] / control[..., -1:], 1, 0)
        out = ((middle - start) * (middle - end) > 0) | (control[:, 1, -1:] <= 0)
        for which, axis in np.argwhere(out).tolist():
            points += [evaluate(bent[which], t) for t in _extremes(bent[which], axis)]
    stack = np.concatenate(points)
    return np.array([stack.min(axis=0), stack.max(axis=0)])


def _extremes(curve: Curve, axis: int) -> list[float]:
    # (N/D)' = 0 with N, D quadratic Beziers: the numerator N'D - ND' is again quadratic in Bernstein form.
    n, d = curve.points[:, axis], curve.points[:, -1]
    coefficients = np.array([n[1] * d[0] - n[0] * d[1], (n[2] * d[0] - n[0] * d[2]) / 2, n[2] * d[1] - n[1] * d[2]])
    return [t for t in bezier_roots(coefficients) if 0.0 < t < 1.0]


def signed_area(path: Sequence[Curve]) -> float:
    """Return the area inside a closed plane path, positive when it runs counter-clockwise.

    Green's theorem with Gauss-Legendre nodes on each curve; exact for lines.
    """
    t, weights = _gauss()
    total = 0.0
    for curve in path:
        if curve.straight:
            (x0, y0), (x1, y1) = curve.start, curve.end
            total += (x0 * y1 - x1 * y0) / 2
        else:
            at = evaluate(curve, t)
            slope = tangents(curve, t)
            total += float(weights @ (at[:, 0] * slope[:, 1] - at[:, 1] * slope[:, 0])) / 2
    return total


def normalised_weights(curve: Curve) -> tuple[Array, Array]:
    """Return cartesian control points ``(k, d)`` and weights ``(k,)`` with both end weights 1.

    w1n = w1 / sqrt(w0 w2) (Piegl and Tiller; the curve is the same, its parameter is not).
    """
    weights = curve.points[:, -1].copy()
    control = curve.points[:, :-1] / weights[:, None]
    if curve.straight:
        return control, np.ones(2)
    return control, np.array([1.0, weights[1] / math.sqrt(weights[0] * weights[2]), 1.0])
