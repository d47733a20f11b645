"""How sheets are held together where they meet: plain edges, tabs in slots, or flaps that are glued.

Terms
-----
runs on
    The sheet that goes on beneath the other's edge: with a flap folded up behind it, or with slots for its tabs.
ends
    The other sheet, whose edge stands flat on the visible face of the one that runs on, along the visible line.
folded
    Both are one piece of card, folded along the visible line.

Of two sheets the back wall runs on, before it the floor, then the ceiling: behind and below there is room for flaps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["plain", "tabs", "flaps"]
Role = Literal["", "runs on", "ends", "folded"]

FIRST = {"back-wall": 0, "floor": 1, "ceiling": 2}
OTHERS = 3
"""Rank of what runs on under what; the lower runs on."""

FOLDS_DEG = (20.0, 170.0)
"""Room-side angles that a flap is folded behind: sharper ones leave it no room, straighter ones no hold."""

SLOTS_DEG = (70.0, 110.0)
"""Room-side angles of tabs: beyond, so much of a tab cut square would have to be eased that little of it holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corners:
    """What holds the corners of a scene.

    Attributes
    ----------
    kinds
        By part id; parts left out have plain edges.
    folded
        Pairs of parts that stay in one piece.
    apart
        Pairs whose edges are plain, whatever their sheets are.
    under
        (part, other): the part runs on beneath the other along all of their seam; else only where flaps or lugs do.
    """

    kinds: Mapping[str, Kind] = field(default_factory=dict)
    folded: frozenset[frozenset[str]] = frozenset()
    apart: frozenset[frozenset[str]] = frozenset()
    under: frozenset[tuple[str, str]] = frozenset()

    def kind(self, part: str, against: str, angle_rad: float) -> Kind:
        """Return what holds a corner of two parts, if it can."""
        kind = self.kinds.get(part, "plain")
        if kind == "plain" or frozenset((part, against)) in self.apart or self.kinds.get(against, "plain") != kind:
            return "plain"
        low, high = FOLDS_DEG if kind == "flaps" else SLOTS_DEG
        return kind if low <= math.degrees(angle_rad) <= high else "plain"

    def role(self, part: str, against: str, angle_rad: float) -> Role:
        """Return what a part does where it meets another."""
        if frozenset((part, against)) in self.folded:
            return "folded"
        if self.kind(part, against, angle_rad) == "plain":
            return ""
        return "runs on" if rank(part) < rank(against) else "ends"


PLAIN = Corners()
"""All edges plain."""


def rank(part: str) -> tuple[int, str]:
    """Return what decides which of two parts runs on."""
    return FIRST.get(part, OTHERS), part
