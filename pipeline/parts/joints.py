"""Where two sheets meet: angles, mitres, and how each of the two is cut.

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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve

Array = NDArray[np.float64]

STRAIGHT_DEG = 0.5
"""Joints within this of 180 degrees are cut square: their mitre runs off to infinity."""

SLOPE_SAMPLES = 65
"""Places along an edge at which the slope of a sweep is told."""

RIGHT = 1e-9
"""Radians; what rounding makes of a right angle."""


@dataclass(frozen=True, slots=True, eq=False)
class FlatSweep:
    """A cut along straight lines through one point, flat mm: every depth shows the edge in another size or place.

    With the point (m; w) homogeneous, the line through p on the visible face is at depth d in

        q = (p + l m) / (1 + l w),    l = -d / (m_z + d w).

    Attributes
    ----------
    meeting
        ``(4,)`` where the lines meet.
    across
        ``(2, 4)`` where the lines meet along which the cut goes on to an edge beside it.
    """

    meeting: Array
    across: Array

    def at_depth(self, depth: float) -> Array:
        """Return the ``(3, 3)`` matrix from the visible face to ``depth`` mm behind it."""
        share = -depth / (self.meeting[2] + depth * self.meeting[3])
        size = 1 + share * self.meeting[3]
        out: Array = np.diag([1 / size, 1 / size, 1.0])
        out[:2, 2] = share * self.meeting[:2] / size
        return out

    def slopes(self, curve: Curve) -> Array:
        """Return mm of reach outward per mm of depth along an edge, ``(n,)``."""
        t = np.linspace(0.0, 1.0, SLOPE_SAMPLES)
        points, ways = curves.evaluate(curve, t), curves.tangents(curve, t)
        lines = self.meeting[:3] - self.meeting[3] * np.column_stack([points, np.zeros(len(points))])
        outward = np.column_stack([ways[:, 1], -ways[:, 0]]) / np.linalg.norm(ways, axis=1)[:, None]
        out: Array = -np.einsum("ij,ij->i", lines[:, :2], outward) / lines[:, 2]
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """One panel's side of a joint.

    Attributes
    ----------
    angle_rad
        Room-side angle.
    slope
        mm of reach per mm of depth: 0 for a square edge.
    back
        How far the whole edge stands back from the visible line, mm; below zero it runs on past it, out of sight.
    gap
        How far the sheets stand apart where the room sees them, mm.
    wedge_rad
        Angle by which two square edges part behind the visible line, out of sight.
    sweep
        Stands in the place of slope and back: how the edge is cut where its slope changes along it.
    """

    angle_rad: float
    slope: float
    back: float = 0.0
    gap: float = 0.0
    wedge_rad: float = 0.0
    sweep: FlatSweep | None = None

    @property
    def bevel_deg(self) -> float:
        """Angle between a plane cut and the sheet's normal; positive where the hidden face is the larger."""
        return math.degrees(math.atan(self.slope))

    def bevels_deg(self, curve: Curve) -> tuple[float, float]:
        """Return the least and greatest angle between the cut and the sheet's normal along an edge, flat mm."""
        if self.sweep is None:
            return self.bevel_deg, self.bevel_deg
        slopes = self.sweep.slopes(curve)
        return math.degrees(math.atan(slopes.min())), math.degrees(math.atan(slopes.max()))

    def reach(self, depth: float) -> float:
        """Return how far the sheet runs past the visible line ``depth`` mm behind the visible face."""
        return self.slope * depth - self.back

    def held_back(self, by: float, depth: float) -> Joint:
        """Return the joint held back by some mm at a depth: a mitre gapes by it, an edge that ran on does not."""
        if self.back < 0:
            return replace(self, back=min(self.back + by, 0.0))
        return self if self.slope == 0.0 else replace(self, slope=self.slope - by / depth, gap=self.gap + by)


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
    """Return a joint cut square to the visible face, on the visible line."""
    return Joint(angle_rad, 0.0)


def square_inward(angle_rad: float, mine: float, theirs: float, *, through: bool, butted: bool) -> Joint:
    """Return the square edge of a sheet in an inward corner, th <= 180; thicknesses in mm.

    Both edges lie on the visible line, and nothing overlaps: from 90 degrees on a wedge of 180 - th is left behind the
    joint, out of sight; below, the edges part even farther. ``butted``, the through sheet runs on beneath the other
    as far as its foot reaches, tB / sin th, and the other stands on it, back by tB |cot th|. Its visible face then
    ends tB |cos th| above the through one. Up to 90 degrees that gap is none, so they always should.
    """
    if not butted or abs(math.degrees(angle_rad) - 180) < STRAIGHT_DEG or angle_rad < math.radians(STRAIGHT_DEG):
        return Joint(angle_rad, 0.0, wedge_rad=math.pi - angle_rad)
    sin, over = math.sin(angle_rad), max(0.0, -math.cos(angle_rad))
    thick = theirs if through else mine
    if through:
        return Joint(angle_rad, 0.0, back=-thick / sin if over > 0 else -thick * sin, gap=thick * over)
    return Joint(angle_rad, 0.0, back=thick * over / sin, gap=thick * over)


def foot_back(angle_rad: float, thickness: float) -> float:
    """Return how far a square edge stands back from the visible line once its hidden arris touches the other's face.

    Over a room-side angle th the arris of a sheet t thick lies t cos th above the other's plane, and moves away from it
    by s sin th as the edge goes back by s: back = t max(0, -cot th).
    """
    return thickness * max(0.0, -1 / math.tan(angle_rad))


def square_outward(angle_rad: float, mine: float, theirs: float, *, through: bool) -> Joint:
    """Return the square edge of a sheet round an outward corner, th > 180; thicknesses in mm.

    With psi = 360 - th the through sheet A stands back by tA max(0, cot psi), so that its hidden corner does not show
    on the other's face. Up to 90 degrees the butting one B ends on A's hidden face, (tA + tB cos psi) / sin psi back.
    Above, A's hidden corner lies tA |cos psi| behind B's face, tA sin psi along it: that far back B's edge starts, and
    the corner closes the joint. A thinner B reaches A's edge with its hidden corner, back by tB |tan psi|. On A's
    hidden plane, back by tA / sin psi, it would leave a slit of tA cos^2 psi / sin psi to look through.

    The gap is what B's visible corner keeps from A: tB cos psi, or above 90 degrees the back's |cos psi|, the width of
    a groove with A's edge for its bottom.
    """
    psi = 2 * math.pi - angle_rad
    sin, cos = math.sin(psi), math.cos(psi)
    if sin < math.sin(math.radians(STRAIGHT_DEG)):
        return Joint(angle_rad, 0.0)
    a, b = (mine, theirs) if through else (theirs, mine)
    butting = (a + b * cos) / sin if cos >= 0 else min(a * sin, -b * sin / cos)
    gap = b * cos if cos >= 0 else -butting * cos
    return Joint(angle_rad, 0.0, back=a * max(0.0, cos / sin) if through else butting, gap=gap)


def square_behind(angle_rad: float, mine: float, frame: float) -> Joint:
    """Return the square edge of a sheet that starts on the hidden plane of a frame, th > 180; thicknesses in mm.

    Up to psi = 90 degrees as any butting sheet. Above, its edge passes the frame's hidden corner at a slit of
    tA cos^2 psi / sin psi, or more where it is too thin to pass it.
    """
    psi = 2 * math.pi - angle_rad
    sin, cos = math.sin(psi), math.cos(psi)
    if cos >= 0 or sin < math.sin(math.radians(STRAIGHT_DEG)):
        return replace(square_outward(angle_rad, mine, frame, through=False), back=0.0)
    along = min(mine, -frame * cos)
    return Joint(angle_rad, 0.0, gap=math.hypot(-frame * cos / sin - along * sin, along * cos))
