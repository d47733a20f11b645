"""Heads of openings and arches as exact curves.

Terms
-----
springing
    The level the curve starts from, z = 0 here; its ends lie half the span left and right of the middle.
rise
    Height of the apex over the springing.
intrados, extrados
    The inner curve of a ring, and its outer curve.

Every head runs from the right springing over the apex to the left one: counter-clockwise as the viewer sees it,
x right, z up. With s the span, a = s / 2 and h the rise:

==========  ============================================================================  =====================
head        construction                                                                  source
==========  ============================================================================  =====================
flat        one straight line
round       semicircle; with any other rise the semi-ellipse, its affine image
segmental   R = s^2 / (8 h) + h / 2, centre below the springing                           BIA Technical Note 31
pointed     R = h^2 / s + s / 4, both centres level with the springing                    BIA Technical Note 31
basket      three centres, R = (a^2 + h^2 - 2 a r) / (2 (h - r)) with side radius r       tangency at the joints
ogee        two centres inside, level with the springing (radius r), two outside,         tangency at the joints
            level with the apex (radius q): r + q = (a^2 + h^2) / (2 a)
==========  ============================================================================  =====================
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from pipeline.geometry.curves import Path, arc, line, polyline, reverse_path, transform_path

Head = Literal["flat", "round", "segmental", "pointed", "ogee", "basket"]

RISE_PLAY = 1e-9
"""Share of the span by which a rise may pass its limit: lengths turned from metres carry rounding."""


def default_rise(head: Head, span: float) -> float:
    """Return the rise a head has when none is given.

    Round: half the span. Pointed: equilateral, sqrt(3)/2 of the span. Ogee: the same, which makes all four radii half
    the span. Segmental: a sixth. Basket: a third. Flat: 0.
    """
    shares = {"flat": 0.0, "round": 0.5, "segmental": 1 / 6, "pointed": math.sqrt(3) / 2, "basket": 1 / 3}
    return span * shares.get(head, math.sqrt(3) / 2)


def rise_limits(head: Head, span: float) -> tuple[float, float]:
    """Return the least and greatest rise of a head over a span; least 0 means: above 0 (flat: exactly 0).

    Pointed and ogee heads rise at least half the span, segmental and basket heads at most half of it; an ogee's lower
    centres stay between the springings up to a rise of sqrt(7)/2 spans.
    """
    half = span / 2
    return {
        "flat": (0.0, 0.0),
        "round": (0.0, math.inf),
        "segmental": (0.0, half),
        "pointed": (half, math.inf),
        "ogee": (half, half * math.sqrt(7)),
        "basket": (0.0, half),
    }[head]


def check_rise(head: Head, span: float, rise: float) -> None:
    """Refuse a rise the head cannot have.

    Raises
    ------
    ValueError
        In plain words: what the head needs. Lengths are left in shares of the span, which hold in any unit.
    """
    if not (math.isfinite(span) and span > 0):
        raise ValueError("the span must be above zero")
    least, most = rise_limits(head, span)
    if head == "flat":
        if rise != 0:
            raise ValueError("a flat head has no rise")
        return
    if not (math.isfinite(rise) and rise > 0):
        raise ValueError(f"a {head} head needs a rise above zero")
    if rise < least - RISE_PLAY * span:
        raise ValueError(f"a {head} head rises at least half its span")
    if rise > most + RISE_PLAY * span:
        share = "half" if head in ("segmental", "basket") else "1.32 times"
        raise ValueError(f"a {head} head rises at most {share} its span")


def head_path(head: Head, span: float, rise: float) -> Path:
    """Return the intrados from (span/2, 0) over (0, rise) to (-span/2, 0), exact.

    Raises
    ------
    ValueError
        From `check_rise`.
    """
    return parallel_head(head, span, rise, 0.0)


def parallel_head(head: Head, span: float, rise: float, ring: float) -> Path:
    """Return the extrados of a ring ``ring`` thick over a head, from ``span / 2 + ring`` to its mirror image, exact.

    Circular arcs keep their centres, so the two curves are parallel; a pointed head's arcs are drawn on until they
    meet over the apex. Where no parallel of the family exists:

    - the semi-ellipse becomes the one over ``span + 2 ring`` and ``rise + ring``; the ring is a little thinner than
      ``ring`` between springing and apex;
    - the ogee's upper arcs part at the apex and carry a block ``2 ring`` wide and ``ring`` high, the finial's seat;
    - a segmental head's arc, oblique at the springing, starts ``span / 2 + ring`` from the middle, a little above it;
    - a flat head's line lies ``ring`` higher.

    Raises
    ------
    ValueError
        From `check_rise`, and when an ogee's upper radius leaves no room for the ring.
    """
    check_rise(head, span, rise)
    half = span / 2
    if head == "flat":
        return (line((half + ring, ring), (-half - ring, ring)) if ring else line((half, 0.0), (-half, 0.0)),)
    if head == "round":
        return _round(half + ring, rise + ring)
    if head == "segmental":
        return _segmental(half, rise, ring)
    if head == "pointed":
        return _pointed(half, rise, ring)
    return _ogee(half, rise, ring) if head == "ogee" else _basket(half, rise, ring)


def segmental_radius(span: float, rise: float) -> float:
    """Return R = s^2 / (8 h) + h / 2 (BIA Technical Note 31)."""
    return span**2 / (8 * rise) + rise / 2


def pointed_radius(span: float, rise: float) -> float:
    """Return R = h^2 / s + s / 4 (BIA Technical Note 31)."""
    return rise**2 / span + span / 4


def basket_radii(span: float, rise: float) -> tuple[float, float]:
    """Return side and crown radius of the three-centred head.

    The side radius is Bossut's: on the line from springing to crown, take away ``a - h`` from the crown's end; the
    perpendicular bisector of what is left passes through the centres. With c^2 = a^2 + h^2:

        r = c (c - (a - h)) / (2 a),    R = (a^2 + h^2 - 2 a r) / (2 (h - r))

    Of all three-centred heads of that span and rise it has the least ratio R / r.
    """
    half = span / 2
    chord = math.hypot(half, rise)
    side = chord * (chord - (half - rise)) / (2 * half)
    if rise >= half * (1 - 1e-6):
        return half, half
    return side, (half**2 + rise**2 - 2 * half * side) / (2 * (rise - side))


def ogee_radii(span: float, rise: float) -> tuple[float, float]:
    """Return the lower and upper radius of the ogee: equal, (a^2 + h^2) / (4 a).

    The arcs touch when their centres, (a - r, 0) and (q, h), are r + q apart, so r + q = (a^2 + h^2) / (2 a).
    """
    half = span / 2
    radius = (half**2 + rise**2) / (4 * half)
    return radius, radius


def _round(half: float, rise: float) -> Path:
    circle = arc((0.0, 0.0), half, 0.0, math.pi)
    return circle if rise == half else transform_path(circle, np.diag([1.0, rise / half, 1.0]))


def _segmental(half: float, rise: float, ring: float) -> Path:
    radius = segmental_radius(2 * half, rise)
    drop = radius - rise
    start = math.acos(min(1.0, (half + ring) / (radius + ring)))
    return arc((0.0, -drop), radius + ring, start, math.pi - start)


def _pointed(half: float, rise: float, ring: float) -> Path:
    radius = pointed_radius(2 * half, rise)
    centre = half - radius
    apex = math.acos(min(1.0, max(-1.0, -centre / (radius + ring))))
    right = arc((centre, 0.0), radius + ring, 0.0, apex)
    return right + _mirrored(right)


def _ogee(half: float, rise: float, ring: float) -> Path:
    lower, upper = ogee_radii(2 * half, rise)
    if ring >= upper:
        raise ValueError("the ring of an ogee must be thinner than its upper radius, (a^2 + h^2) / (4 a)")
    turn = math.atan2(rise, upper - (half - lower))
    right = arc((half - lower, 0.0), lower + ring, 0.0, turn)
    right += arc((upper, rise), upper - ring, turn + math.pi, math.pi)
    if ring == 0:
        return right + _mirrored(right)
    seat = polyline([(ring, rise), (ring, rise + ring), (-ring, rise + ring), (-ring, rise)])
    return right + seat + _mirrored(right)


def _basket(half: float, rise: float, ring: float) -> Path:
    side, crown = basket_radii(2 * half, rise)
    if side == crown:
        return _round(half + ring, rise + ring)
    turn = math.atan2(crown - rise, half - side)
    right = arc((half - side, 0.0), side + ring, 0.0, turn)
    return right + arc((0.0, rise - crown), crown + ring, turn, math.pi - turn) + _mirrored(right)


def _mirrored(right: Path) -> Path:
    return transform_path(reverse_path(right), np.diag([-1.0, 1.0, 1.0]))
