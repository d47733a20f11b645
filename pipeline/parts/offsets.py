"""The outline of a sheet behind its visible face: every edge moved by what its joint asks there, corners found anew."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve
from pipeline.geometry.regions import Edge, Loop
from pipeline.geometry.vectors import norm
from pipeline.parts.joints import FlatSweep

Array = NDArray[np.float64]

STEP = "step"
"""What stands against an edge that joins a mitred edge to a bent one."""

SAME = 1e-12
"""mm; ends nearer than this are one point."""

FARTHEST = 3.0
"""Times the gap between their ends; a mitred and a bent edge that meet no nearer are taken not to meet."""

TOGETHER = 1e-7
"""mm; a swept edge and a straight one beside it that are cut to the same plane end this near to one another."""

PARALLEL = 1e-9
"""Sine under which two neighbouring edges count as one line; their corner is then taken from the ends."""


def offset_loop(
    loop: Loop,
    reaches: list[float],
    depth: float,
    breaks: list[tuple[Array, Array] | None],
    sweeps: list[FlatSweep | None] | None = None,
) -> Loop:
    """Return a loop as it lies ``depth`` behind the visible face.

    Parameters
    ----------
    loop
        Closed, material on its left; flat mm.
    reaches
        For each edge, how far it is moved outward there, mm; bent edges must have 0.
    depth
        mm behind the visible face, for swept edges.
    breaks
        For each edge, the fold line (point, direction) on which it ends and the next one starts, or nothing. There
        the edges need not meet; the gap along the fold becomes an edge of its own.
    sweeps
        For each edge, the sweep it is cut along in place of its slope, or nothing.

    Where a mitred edge runs on into a bent one, which is cut square, there is a step between the two, an edge against
    ``STEP``. A swept edge goes on to a mitred one in such a step too, along the sweep's own lines.
    """
    count = len(loop)
    along = sweeps if sweeps is not None else [None] * count
    moved = [
        _shift(edge.curve, reach) if sweep is None else curves.transform(edge.curve, sweep.at_depth(depth))
        for edge, reach, sweep in zip(loop, reaches, along, strict=True)
    ]
    starts: list[Array] = [np.empty(0)] * count
    ends: list[Array] = [np.empty(0)] * count
    for i in range(count):
        j = (i + 1) % count
        fold = breaks[i]
        straight = moved[i].straight and moved[j].straight
        if along[i] is not None and along[j] is not None:
            ends[i] = starts[j] = moved[i].end
        elif (along[i] is not None or along[j] is not None) and not straight:
            ends[i], starts[j] = _swept_corner(moved[i], moved[j], along[i], along[j], loop[j].curve.start)
        elif fold is None:
            undercut = min(reaches[i], reaches[j]) < 0
            ends[i], starts[j] = _corners(moved[i], moved[j], undercut=undercut)
        else:
            ends[i], starts[j] = _meet_line(moved[i], *fold), _meet_line(moved[j], *fold)
    out: list[Edge] = []
    for i, edge in enumerate(loop):
        out.append(Edge(_between(moved[i], starts[i], ends[i]), edge.against))
        j = (i + 1) % count
        if norm(ends[i] - starts[j]) > 1e-9:
            out.append(Edge(curves.line(ends[i], starts[j]), STEP if breaks[i] is None else "fold"))
    return tuple(out)


def _shift(curve: Curve, outward: float) -> Curve:
    if outward == 0.0:
        return curve
    if not curve.straight:
        raise ValueError("a bent edge is cut square")
    way = curve.end - curve.start
    normal = np.array([way[1], -way[0]]) / norm(way)
    return curves.line(curve.start + outward * normal, curve.end + outward * normal)


def _swept_corner(
    before: Curve, after: Curve, sweep: FlatSweep | None, following: FlatSweep | None, corner: Array
) -> tuple[Array, Array]:
    """Return where an edge ends and the next one starts, one of them swept; ``corner`` is where they meet, visible.

    A straight edge ends where the sweep's level or upright line, whichever rather crosses it, meets it.
    """
    swept, other = (before.end, after) if following is None else (after.start, before)
    lines = sweep if following is None else following
    if lines is None or not other.straight:
        return before.end, after.start
    ways = lines.across[:, :2] - lines.across[:, 3:] * corner
    ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
    run = (other.end - other.start) / norm(other.end - other.start)
    crossing = np.abs(ways[:, 0] * run[1] - ways[:, 1] * run[0])
    met = _meet_line(other, swept, ways[crossing.argmax()])
    if norm(met - swept) < TOGETHER:
        met = swept
    return (swept, met) if following is None else (met, swept)


def _corners(before: Curve, after: Curve, *, undercut: bool) -> tuple[Array, Array]:
    """Return where an edge ends and where the next one starts: one point, but for a step.

    An undercut edge takes away what of a bent neighbour lies beyond it, however far that reaches.
    """
    if undercut and before.straight != after.straight:
        met = _crossings(*((before, after) if before.straight else (after, before)), beyond=False)
        if len(met):
            near = met[np.argmin(np.linalg.norm(met - (before.end + after.start) / 2, axis=1))]
            return near, near
    corner = _corner(before, after)
    gap = norm(after.start - before.end)
    away = norm(corner - (before.end + after.start) / 2)
    meets = before.straight == after.straight or (away > 0 and away <= FARTHEST * gap)
    return (corner, corner) if gap < SAME or meets else (before.end, after.start)


def _corner(before: Curve, after: Curve) -> Array:
    """Return where two neighbouring carriers meet, nearest to where the edges end."""
    end, start = before.end, after.start
    if norm(end - start) < 1e-12:
        return end
    near = (end + start) / 2
    if before.straight and after.straight:
        return _meet_line(before, start, after.end - start)
    straight, bent = (before, after) if before.straight else (after, before)
    if not straight.straight:
        return near
    points = _crossings(straight, bent, beyond=True)
    if not len(points):
        return near
    found: Array = points[np.argmin(np.linalg.norm(points - near, axis=1))]
    return found


def _crossings(straight: Curve, bent: Curve, *, beyond: bool) -> Array:
    """Return the points ``(n, 2)`` where a line meets a bent edge, or that and what the edge's conic goes on to."""
    way = straight.end - straight.start
    normal = np.array([-way[1], way[0]])
    roots = curves.bezier_roots(bent.points @ np.array([*normal, -normal @ straight.start]))
    return curves.evaluate(bent, np.array([t for t in roots if beyond or 0.0 <= t <= 1.0]))


def _meet_line(curve: Curve, point: Array, direction: Array) -> Array:
    """Return where a straight curve's carrier meets a line; its own end nearest the line if they are parallel."""
    way = curve.end - curve.start
    across = way[0] * direction[1] - way[1] * direction[0]
    if abs(across) < PARALLEL * norm(way) * norm(direction):
        return (curve.end + point) / 2
    away = point - curve.start
    t = (away[0] * direction[1] - away[1] * direction[0]) / across
    met: Array = curve.start + t * way
    return met


def _between(curve: Curve, start: Array, end: Array) -> Curve:
    if curve.straight:
        return curves.line(start, end)
    a = 0.0 if norm(start - curve.start) < 1e-9 else _parameter(curve, start, 0.0)
    b = 1.0 if norm(end - curve.end) < 1e-9 else _parameter(curve, end, 1.0)
    return curves.piece(curve, a, b)


def _parameter(curve: Curve, point: Array, guess: float) -> float:
    """Return the parameter of a point on a conic, near a guess (Newton on the projection along the tangent)."""
    t = guess
    for _ in range(30):
        slope = curves.tangent(curve, t)
        step = float((point - curves.evaluate(curve, t)[0]) @ slope / (slope @ slope))
        t += step
        if abs(step) < 1e-14:
            break
    return t
