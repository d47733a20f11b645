"""Where the ribs of a groin vault part, and the springer blocks that carry them up to there.

Terms
-----
bed
    The level of the springers' tops, and where every rib above begins.
"""

from __future__ import annotations

import math

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from pipeline.elements.vault.rib_bodies import (
    MOST_PLAY,
    PLAY_ALONG,
    Ribs,
    arched,
    behind_frame,
    diagonal,
    transverse,
    wall,
)
from pipeline.geometry.booleans import trim

Array = NDArray[np.float64]

ON_LINE = 1e-9
"""mm; what cutting along a bay line leaves beside it by rounding."""


def parting(ribs: Ribs) -> float:
    """Return the height over the springing, mm, above which the flanks of a pier's ribs stand apart.

    In plan all ribs of a pier are strips of one width 2 h that leave from one point. Two whose middles enclose the
    angle ``g`` part h / tan(g / 2) along either of them, where their flanks cross. What they share reaches up to the
    lower of their backs there, which is the one of the longer half span: rise p(1 - h / tan(g / 2) / half span).
    """
    shape = ribs.shape
    slant = math.atan2(shape.length, shape.width)
    across = _parted(ribs, math.pi / 2, max(shape.width, shape.length) / 2)
    return max(_parted(ribs, slant, _long(ribs)), across, wall_parting(ribs))


def wall_parting(ribs: Ribs) -> float:
    """Return the height over the springing, mm, above which a wall rib stands apart from the diagonal one."""
    return _parted(ribs, math.atan2(ribs.shape.width, ribs.shape.length), _long(ribs))


def _long(ribs: Ribs) -> float:
    return math.hypot(ribs.shape.width, ribs.shape.length) / 2


def _parted(ribs: Ribs, angle: float, half_span: float) -> float:
    along = (ribs.half + PLAY_ALONG / 2) / math.tan(angle / 2)
    return float(ribs.shape.share(max(0.0, 1 - along / half_span))) * ribs.shape.rise


def springer(ribs: Ribs, line: int, side: int, bed: float, front: float, *, alone: bool = False) -> Manifold:
    """Return the feet of all ribs of one pier as one body below the bed, kept in its half of the hall.

    Parameters
    ----------
    ribs
        What they share.
    line
        Index of the pier's bay line.
    side
        -1 on the left wall, 1 on the right one.
    bed
        z of its top.
    front
        y where the webs start: 0, or behind the front frame, which takes the room of the first wall ribs' feet.
    alone
        Whether the half rib along the bay line is too thin to print. Its foot then ends where it parts from the
        diagonal rib's: so far it is one with that, beyond it would be as thin.
    """
    shape = ribs.shape
    framed = line == 0 and front > 0
    at = shape.lines[line]
    across = arched(ribs, transverse(shape, at))
    feet = [trim(across, np.array([side, 0, 0, _foot(ribs) - shape.width / 2])) if alone else across]
    beside = [(bay, beyond) for bay, beyond in ((line - 1, -1), (line, 1)) if 0 <= bay < len(shape.bays)]
    for bay, beyond in beside[:1]:
        span = shape.bays[bay]
        nearer, own = np.array([0, -beyond, 0, beyond * sum(span) / 2]), np.array([0, beyond, 0, 0])
        for track in (diagonal(shape, span, -side * beyond), wall(shape, span, side))[: 1 if framed else 2]:
            foot = trim(trim(arched(ribs, track), nearer).translate((0, -at, 0)), own).warp_batch(_on_line)
            # The other bay's foot is its very mirror image: what only all but agrees would touch along edges.
            both = [foot, foot.mirror((0, 1, 0))][: len(beside)]
            feet += [half.translate((0, at, 0)) for half in both]
    whole = Manifold.batch_boolean(feet, OpType.Add)
    if framed:
        whole ^= behind_frame(ribs, front)
    return trim(trim(whole, np.array([side, 0, 0, 0])), np.array([0, 0, -1, bed]))


def _foot(ribs: Ribs) -> float:
    """Return how far from the wall the flanks of a bay line's rib and of the diagonal one cross in plan, mm."""
    return ribs.half / math.tan(math.atan2(ribs.shape.length, ribs.shape.width) / 2)


def _on_line(points: Array) -> Array:
    """Return points ``(n, 3)``, those all but on y = 0 on it."""
    y = points[:, 1]
    return np.column_stack([points[:, 0], np.where(np.abs(y) < ON_LINE, 0.0, y), points[:, 2]])


def framed_wall_rib(ribs: Ribs, side: int, bed: float, front: float) -> Manifold:
    """Return the first wall rib behind a front frame: its near leg begins where it is clear of the frame."""
    shape = ribs.shape
    track = wall(shape, shape.bays[0], side)
    body, middle = arched(ribs, track), track.middle[1]
    drop = min(track.play, MOST_PLAY * ribs.depth)
    clear = (middle - front - PLAY_ALONG) / (track.half_span - drop)
    begins = max(float(shape.share(clear)) * (shape.rise - drop), min(wall_parting(ribs), bed - shape.springing))
    far = trim(trim(body, np.array([0, 1, 0, -middle])), np.array([0, 0, 1, -bed - PLAY_ALONG]))
    near = trim(body, np.array([0, -1, 0, middle + PLAY_ALONG]))
    return far + trim(near, np.array([0, 0, 1, -shape.springing - begins]))
