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

from pipeline.elements.vault.rib_bodies import PLAY_ALONG, Ribs, arched, diagonal, transverse, wall
from pipeline.geometry.booleans import trim

Array = NDArray[np.float64]


def parting(ribs: Ribs) -> float:
    """Return the height over the springing, mm, above which the flanks of a pier's ribs stand apart.

    In plan all ribs of a pier are strips of one width 2 h that leave from one point. Two whose middles enclose the
    angle ``g`` part h / tan(g / 2) along either of them, where their flanks cross. What they share reaches up to the
    lower of their backs there, which is the one of the longer half span: rise p(1 - h / tan(g / 2) / half span).
    """
    shape, half = ribs.shape, ribs.half + PLAY_ALONG / 2
    slant = math.atan2(shape.length, shape.width)
    long = math.hypot(shape.width, shape.length) / 2
    pairs = (
        (slant, long),
        (math.pi / 2 - slant, long),
        (math.pi / 2, max(shape.width, shape.length) / 2),
    )
    shares = (max(0.0, 1 - half / math.tan(angle / 2) / span) for angle, span in pairs)
    return max(float(shape.share(share)) for share in shares) * shape.rise


def springer(ribs: Ribs, line: int, side: int, bed: float) -> Manifold:
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
    """
    shape = ribs.shape
    feet = [arched(ribs, transverse(shape, shape.lines[line]))]
    for bay, beyond in ((line - 1, -1), (line, 1)):
        if not 0 <= bay < len(shape.bays):
            continue
        span = shape.bays[bay]
        nearer = np.array([0, -beyond, 0, beyond * sum(span) / 2])
        feet += [
            trim(arched(ribs, track), nearer)
            for track in (diagonal(shape, span, -side * beyond), wall(shape, span, side))
        ]
    whole = Manifold.batch_boolean(feet, OpType.Add)
    return trim(trim(whole, np.array([side, 0, 0, 0])), np.array([0, 0, -1, bed]))
