"""Where two sheets meet: angles, mitres and the outline of a sheet's other faces.

Terms
-----
room-side angle (th)
    Between the two visible faces, measured through the room.
reach
    How far a sheet's face, ``depth`` behind the visible one, runs past the visible line; negative undercuts it.

Mitre of two sheets tA, tB (derived from the plane through the visible line and the line where the hidden faces meet):

    e_A = (tB + tA cos th) / sin th,   bevel = atan(e_A / tA)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve
from pipeline.geometry.regions import Edge, Loop

Array = NDArray[np.float64]

STRAIGHT_DEG = 0.5
"""Joints within this of 180 degrees are cut square: their mitre runs off to infinity."""

STEP = "step"
"""What stands against an edge that joins a mitred edge to a bent one."""

SAME = 1e-12
"""mm; ends nearer than this are one point."""

FARTHEST = 3.0
"""Times the gap between their ends; a mitred and a bent edge that meet no nearer are taken not to meet."""

PARALLEL = 1e-9
"""Sine under which two neighbouring edges count as one line; their corner is then taken from the ends."""


@dataclass(frozen=True, slots=True)
class Joint:
    """One panel's side of a joint: room-side angle, slope and slope held back (mm of reach per mm of depth)."""

    angle_rad: float
    slope: float
    held_back: float = 0.0

    @property
    def bevel_deg(self) -> float:
        """Angle between the cut and the sheet's normal; positive where the hidden face is the larger."""
        return math.degrees(math.atan(self.slope))


def room_angle(normal_a: Array, normal_b: Array, *, turned_away: bool = False) -> float:
    """Return th in radians from two unit normals (3,) into the room.

    ``turned_away`` tells that each face lies behind the other's plane: round a corner th is above 180 degrees.
    """
    angle = math.acos(float(np.clip(-(normal_a @ normal_b), -1.0, 1.0)))
    return 2 * math.pi - angle if turned_away else angle


def mitre(angle_rad: float, thickness: float, other: float) -> Joint:
    """Return the joint of a sheet against another; thicknesses in mm include what lies on the sheet."""
    if thickness <= 0 or abs(math.degrees(angle_rad) - 180) < STRAIGHT_DEG or angle_rad < math.radians(STRAIGHT_DEG):
        return Joint(angle_rad, 0.0)
    reach = (other + thickness * math.cos(angle_rad)) / math.sin(angle_rad)
    return Joint(angle_rad, reach / thickness)


def butt(angle_rad: float) -> Joint:
    """Return the joint of a sheet that ends flat against the back of another: e_A / tA = -cot th.

    Cut square instead, it would leave a wedge behind the other's edge through which the bare box is seen.
    """
    return Joint(angle_rad, -1 / math.tan(angle_rad))


def abut(angle_rad: float) -> Joint:
    """Return the joint of a sheet that ends flat against the visible face of another, which runs on: e_A / tA = cot th.

    The other's plane goes on behind the corner, and at a depth t it has moved away by t cot th.
    """
    return Joint(angle_rad, 1 / math.tan(angle_rad))


def square(angle_rad: float) -> Joint:
    """Return a joint cut square to the visible face."""
    return Joint(angle_rad, 0.0)


def offset_loop(loop: Loop, slopes: list[float], depth: float, breaks: list[tuple[Array, Array] | None]) -> Loop:
    """Return a loop as it lies ``depth`` behind the visible face.

    Parameters
    ----------
    loop
        Closed, material on its left; flat mm.
    slopes
        For each edge, mm of reach outward per mm of depth; bent edges must have 0.
    depth
        mm behind the visible face.
    breaks
        For each edge, the fold line (point, direction) on which it ends and the next one starts, or nothing. There
        the edges need not meet; the gap along the fold becomes an edge of its own.

    Where a mitred edge runs on into a bent one, which is cut square, there is a step between the two, an edge against
    ``STEP``.
    """
    moved = [_shift(edge.curve, slope * depth) for edge, slope in zip(loop, slopes, strict=True)]
    count = len(loop)
    starts: list[Array] = [np.empty(0)] * count
    ends: list[Array] = [np.empty(0)] * count
    for i in range(count):
        j = (i + 1) % count
        fold = breaks[i]
        if fold is None:
            undercut = min(slopes[i], slopes[j]) < 0
            ends[i], starts[j] = _corners(moved[i], moved[j], undercut=undercut)
        else:
            ends[i], starts[j] = _meet_line(moved[i], *fold), _meet_line(moved[j], *fold)
    out: list[Edge] = []
    for i, edge in enumerate(loop):
        out.append(Edge(_between(moved[i], starts[i], ends[i]), edge.against))
        j = (i + 1) % count
        if np.linalg.norm(ends[i] - starts[j]) > 1e-9:
            out.append(Edge(curves.line(ends[i], starts[j]), STEP if breaks[i] is None else "fold"))
    return tuple(out)


def _shift(curve: Curve, outward: float) -> Curve:
    if outward == 0.0:
        return curve
    if not curve.straight:
        raise ValueError("a bent edge is cut square")
    way = curve.end - curve.start
    normal = np.array([way[1], -way[0]]) / np.linalg.norm(way)
    return curves.line(curve.start + outward * normal, curve.end + outward * normal)


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
    gap = float(np.linalg.norm(after.start - before.end))
    away = float(np.linalg.norm(corner - (before.end + after.start) / 2))
    meets = before.straight == after.straight or (away > 0 and away <= FARTHEST * gap)
    return (corner, corner) if gap < SAME or meets else (before.end, after.start)


def _corner(before: Curve, after: Curve) -> Array:
    """Return where two neighbouring carriers meet, nearest to where the edges end."""
    end, start = before.end, after.start
    if np.linalg.norm(end - start) < 1e-12:
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
    if abs(across) < PARALLEL * np.linalg.norm(way) * np.linalg.norm(direction):
        return (curve.end + point) / 2
    away = point - curve.start
    t = (away[0] * direction[1] - away[1] * direction[0]) / across
    met: Array = curve.start + t * way
    return met


def _between(curve: Curve, start: Array, end: Array) -> Curve:
    if curve.straight:
        return curves.line(start, end)
    a = 0.0 if np.linalg.norm(start - curve.start) < 1e-9 else _parameter(curve, start, 0.0)
    b = 1.0 if np.linalg.norm(end - curve.end) < 1e-9 else _parameter(curve, end, 1.0)
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
