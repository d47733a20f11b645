"""Developable strips between two conics, laid flat without stretch.

Terms
-----
strip
    The surface swept by straight lines, the rulings, that join points of equal parameter of two curves, *near* and
    *far*, and all pass through one point, the *meeting* (for a cylinder at infinity). A cone or a cylinder, so exactly
    developable.
layer
    The surface a constant depth behind a strip. It has the same rulings and unrolls with them; what a sheet keeps
    when it bends is the length of its neutral layer.

With N(t) on the near curve, g = V - v N the way to the meeting (V; v), r = g / |g|, n the unit normal toward the
viewer, b = n x r, the layer's border M = N - depth n unrolls to P with

    theta' = r' . b,    P' = (M' . r) (cos theta, sin theta) + (M' . b) (-sin theta, cos theta),

since the geodesic curvature of a curve is kept (do Carmo, *Differential Geometry of Curves and Surfaces*, 4-4). As g'
is parallel to N', n' follows from (g x N')' = g x N''. Integrals are Simpson's, on STEPS panels.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Curve, Path, line
from pipeline.geometry.vectors import cross, lengths

Array = NDArray[np.float64]

STEPS = 2048
"""Panels of every integral; Simpson's error falls with their fourth power and is far below a nanometre here."""

STRAIGHT = 1e-9
"""Sine under which the two end tangents of a piece count as parallel."""


LIGHTEST = 0.25
"""Middle weight of a fitted piece, and its inverse the most: lighter or heavier ones turn all in one spot."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unrolled:
    """A strip and its layer, sampled at ``m`` parameters; mm.

    Attributes
    ----------
    t
        ``(m,)`` parameters from 0 to 1.
    near_flat, far_flat
        ``(m, 2)`` borders of the layer, laid flat as seen from the visible side.
    near_ways, far_ways
        ``(m, 2)`` their derivatives.
    turn
        ``(m,)`` direction of the rulings in the plane, radians.
    near, rulings, normals
        ``(m, 3)`` points of the near curve, unit rulings, unit normals toward the viewer.
    lengths
        ``(m,)`` of the rulings.
    bends
        ``(m,)`` largest curvature along each ruling, 1/mm.
    tightness
        ``(m,)`` root of the curvature times speed across the rulings: chords over equal integrals of it stray equally.
    area
        Of the strip itself, mm^2.
    """

    t: Array
    near_flat: Array
    far_flat: Array
    near_ways: Array
    far_ways: Array
    turn: Array
    near: Array
    rulings: Array
    normals: Array
    lengths: Array
    bends: Array
    tightness: Array
    area: float


def unroll(
    near: Curve, far: Curve, meeting: Array, *, viewer: Array, depth: float, start: Array, start_turn: float
) -> Unrolled:
    """Return a strip laid flat.

    Parameters
    ----------
    near, far
        Space curves of equal parameter; every ruling runs from the near one toward the meeting.
    meeting
        ``(4,)`` homogeneous.
    viewer
        ``(3,)`` a point on the visible side.
    depth
        Of the layer behind the strip.
    start, start_turn
        Where the near border starts in the plane ``(2,)``, and the direction of the first ruling, radians.
    """
    t = np.linspace(0.0, 1.0, 2 * STEPS + 1)
    (n0, n1, n2), (f0, f1, f2) = derivatives(near, t), derivatives(far, t)
    way = meeting[:3] - meeting[3] * n0
    reach = lengths(way)[:, None]
    r = way / reach
    raw = cross(way, n1)
    size = lengths(raw)[:, None]
    middle = len(t) // 2
    side = np.sign(raw[middle] @ (viewer - n0[middle]))
    n = side * raw / size
    raw_change = side * cross(way, n2)
    n_change = (raw_change - n * _dot(n, raw_change)[:, None]) / size
    b = cross(n, r)
    border = n1 - depth * n_change
    turning = -meeting[3] * _dot(n1, b) / reach[:, 0]
    turn = start_turn + cumulate(turning, t)
    e1 = np.column_stack([np.cos(turn), np.sin(turn)])
    e2 = np.column_stack([-e1[:, 1], e1[:, 0]])
    near_ways = _dot(border, r)[:, None] * e1 + _dot(border, b)[:, None] * e2
    near_flat = start + cumulate(near_ways, t)
    wide = _dot(f0 - n0, r)
    growing = _dot(f1 - n1, r)
    near_speed, far_speed = _dot(n1, b), _dot(f1, b)
    near_bend, far_bend = _dot(n2, n) / near_speed**2, _dot(f2, n) / far_speed**2
    return Unrolled(
        t=t,
        near_flat=near_flat,
        far_flat=near_flat + wide[:, None] * e1,
        near_ways=near_ways,
        far_ways=near_ways + growing[:, None] * e1 + (wide * turning)[:, None] * e2,
        turn=turn,
        near=n0,
        rulings=r,
        normals=n,
        lengths=wide,
        bends=np.maximum(np.abs(near_bend), np.abs(far_bend)),
        tightness=np.maximum(
            np.sqrt(np.abs(near_bend)) * np.abs(near_speed), np.sqrt(np.abs(far_bend)) * np.abs(far_speed)
        ),
        area=float(cumulate(wide * np.abs(near_speed + far_speed) / 2, t)[-1]),
    )


def derivatives(curve: Curve, t: Array) -> tuple[Array, Array, Array]:
    """Return points and first and second derivatives, each ``(n, d)``, at parameters ``t`` ``(n,)``."""
    p = curve.points
    if curve.straight:
        p = np.array([p[0], (p[0] + p[1]) / 2, p[1]])
    # A coordinate a row: numpy is slow along rows of three.
    p, r = p[..., None], 1 - t
    value = r**2 * p[0] + 2 * t * r * p[1] + t**2 * p[2]
    slope = 2 * (r * (p[1] - p[0]) + t * (p[2] - p[1]))
    second = 2 * (p[0] - 2 * p[1] + p[2])
    w, w1, w2 = value[-1], slope[-1], second[-1]
    point = value[:-1] / w
    first = (slope[:-1] - point * w1) / w
    change = (second[:-1] - 2 * first * w1 - point * w2) / w
    return np.ascontiguousarray(point.T), np.ascontiguousarray(first.T), np.ascontiguousarray(change.T)


def cumulate(values: Array, t: Array) -> Array:
    """Return the running integral from the first parameter of values ``(m, ...)`` at an odd number of even steps.

    Simpson's rule over whole panels, and the same parabola up to their middles.
    """
    step = t[2] - t[0]
    a, b, c = values[:-2:2], values[1:-1:2], values[2::2]
    whole = np.cumsum(step / 6 * (a + 4 * b + c), axis=0)
    out = np.zeros_like(values)
    out[2::2] = whole
    out[1::2] = step / 24 * (5 * a + 8 * b - c)
    out[3::2] += whole[:-1]
    return out


def fit_conics(points: Array, ways: Array, tolerance: float) -> Path:
    """Return few conic arcs and lines through a dense plane curve.

    A piece has the curve's ends and end tangents and passes through the sample at its middle; it is halved until no
    sample strays more than the tolerance.

    Parameters
    ----------
    points, ways
        ``(m, 2)`` samples and derivatives.
    tolerance
        mm.
    """
    out: list[Curve] = []
    pending = [(0, len(points) - 1)]
    while pending:
        first, last = pending.pop()
        fitted = _fit(points[first : last + 1], ways[first], ways[last], tolerance)
        if fitted is not None:
            out.append(fitted)
        else:
            middle = (first + last) // 2
            pending += [(middle, last), (first, middle)]
    return tuple(out)


def _fit(points: Array, way_start: Array, way_end: Array, tolerance: float) -> Curve | None:
    # Written out by components: for a few samples numpy's solvers take longer than all they solve.
    (x0, y0), (x1, y1) = points[0].tolist(), points[-1].tolist()
    cx, cy = x1 - x0, y1 - y0
    span = math.hypot(cx, cy)
    away_x, away_y = points[:, 0] - x0, points[:, 1] - y0
    beside = away_x * cy - away_y * cx
    if len(points) < 4 or np.abs(beside).max() <= span * tolerance / 100:
        return line((x0, y0), (x1, y1))
    (sx, sy), (ex, ey) = way_start.tolist(), way_end.tolist()
    crossed = sx * ey - sy * ex
    if abs(crossed) < STRAIGHT * math.hypot(sx, sy) * math.hypot(ex, ey):
        return None
    ahead, back = (cx * ey - cy * ex) / crossed, (sx * cy - sy * cx) / crossed
    if ahead <= 0 or back <= 0:
        return None
    arm_x, arm_y = ahead * sx, ahead * sy
    # Barycentric coordinates over (start, shoulder, end): the conic is b1^2 = 4 w^2 b0 b2.
    turned = arm_x * cy - arm_y * cx
    b1, b2 = beside / turned, (away_y * arm_x - away_x * arm_y) / turned
    b0 = 1 - b1 - b2
    middle = len(points) // 2
    if b0[middle] <= 0 or b2[middle] <= 0 or b1[middle] <= 0:
        return None
    square = float(b1[middle] ** 2 / (4 * b0[middle] * b2[middle]))
    weight = math.sqrt(square)
    if not LIGHTEST <= weight <= 1 / LIGHTEST:
        return None
    error = b1 * b1 - 4 * square * b0 * b2
    # Its gradient over x and y, from those of b1 and b2.
    of_b1, of_b2 = 2 * b1 + 4 * square * b2, 4 * square * (b2 - b0)
    slope_x, slope_y = (of_b1 * cy - of_b2 * arm_y) / turned, (of_b2 * arm_x - of_b1 * cx) / turned
    steep = np.sqrt(slope_x * slope_x + slope_y * slope_y)[1:-1]
    if not (steep > 0).all() or (np.abs(error[1:-1]) > tolerance * steep).any():
        return None
    return Curve(np.array([[x0, y0, 1.0], [(x0 + arm_x) * weight, (y0 + arm_y) * weight, weight], [x1, y1, 1.0]]))


def _dot(a: Array, b: Array) -> Array:
    out: Array = np.einsum("ij,ij->i", a, b)
    return out
