"""Imagined ribs that are laminated from slices of sheet.

Terms
-----
track
    The upright plane through the middle of a rib; its frame: s along the rib, z up, w to its right side.
profile
    What a rib shows from the side: the same at every w.
flank
    One of the two planes w = const that bound it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.problems import KeyPath
from pipeline.geometry import curves
from pipeline.geometry.curves import Path

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lamination:
    """A rib, imagined mm.

    Attributes
    ----------
    id
        What the ids of its slices begin with.
    imagined_from_track
        ``(4, 4)`` rigid, from (s, z, w).
    flanks
        The w between which it lies.
    unit
        Its arch over the half span 1 and the rise 1, from the right springing to the left one; none for a straight rib.
    half_span, rise, springing
        Of the vault over it: half the length it runs over, and the heights between which it rises.
    depth, play, nearest
        How far its soffit hangs below the vault, how far its back at least, and how near to the vault what sheet cannot
        follow of that may come.
    stops
        Planes ``(4,)`` that it ends at, itself on their positive side, by name.
    yields
        Ids of ribs that run through where they meet it.
    wall
        The host that its hidden flank lies against, or nothing.
    sheet
        What its slices are cut from.
    path
        Where the scene file speaks of it.
    """

    id: str
    imagined_from_track: Array
    flanks: tuple[float, float]
    unit: Path
    half_span: float
    rise: float
    springing: float
    depth: float
    play: float
    nearest: float
    stops: dict[str, Array] = field(default_factory=dict)
    yields: tuple[str, ...] = ()
    wall: str = ""
    sheet: SurfaceSheet
    path: KeyPath

    def curve(self, drop: float) -> Path:
        """Return the profile's curve that lies ``drop`` below the vault, (s, z), from the right end to the left one."""
        if not self.unit:
            level = self.springing + self.rise - drop
            return (curves.line((self.half_span, level), (-self.half_span, level)),)
        return curves.transform_path(self.unit, self.scaled(drop))

    def scaled(self, drop: float) -> Array:
        """Return the ``(3, 3)`` matrix from the unit arch to the curve that lies ``drop`` below the vault."""
        across, up = self.half_span - drop, self.rise - drop
        return np.array([[across, 0.0, 0.0], [0.0, up, self.springing], [0.0, 0.0, 1.0]])

    def outline(self, drop: float, foot: float) -> Path:
        """Return the closed profile, counter-clockwise: its back ``drop`` below the vault, its feet ``foot`` above."""
        back, soffit = self.curve(drop), curves.reverse_path(self.curve(self.depth))
        ends = (curves.line(back[-1].end, soffit[0].start), curves.line(soffit[-1].end, back[0].start))
        whole = (*back, ends[0], *soffit, ends[1])
        return whole if not self.unit or foot == 0 else above(whole, self.springing + foot)


def above(path: Path, level: float) -> Path:
    """Return a closed arched path with what lies below a level cut off both its legs."""
    kept: list[curves.Curve] = []
    line = np.array([0.0, 1.0, -level])
    for curve in path:
        marks = [0.0, *curves.crossings(curve, line), 1.0]
        for a, b in pairwise(marks):
            if b > a and curves.evaluate(curve, (a + b) / 2)[0, 1] > level:
                part = curves.piece(curve, a, b)
                if kept and np.linalg.norm(part.start - kept[-1].end) > 0:
                    kept.append(curves.line(kept[-1].end, part.start))
                kept.append(part)
    kept.append(curves.line(kept[-1].end, kept[0].start))
    return tuple(kept)
