"""Corners that edges and diagonals do not fix, by their distances from two others, as compasses set them out.

Terms
-----
base
    The longest straight edge of an outline; its two corners are drawn first.
place
    A corner, or the middle of a curved edge, by its straight distances from both corners of the base. Two arcs meet
    there, on the side that the sketch shows.

Of n corners 2 n - 3 lengths are needed: the base, and two for every other. Edges and diagonals of four corners are
six, one to spare; of more than four, and for holes, they are too few.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from string import ascii_lowercase

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve
from pipeline.geometry.regions import Loop
from pipeline.parts.model import Panel

Array = NDArray[np.float64]

ENOUGH = 4
"""Corners that edges and both diagonals fix."""

CHORD = 0.01
"""mm; curves are looked at within this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A point of a panel's drawing: what it is, where, flat mm, and how far from the corners of the base, mm."""

    name: str
    at: tuple[float, float]
    distances: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingOut:
    """The corners of the base, as they are numbered, and everything that is found from there."""

    base: tuple[int, int]
    places: tuple[Place, ...]


def from_lowest(loop: Loop) -> tuple[Curve, ...]:
    """Return a loop's edges from its corner at the lower left on."""
    edges = [edge.curve for edge in loop]
    first = min(range(len(edges)), key=lambda i: (round(float(edges[i].start.sum()), 6), i))
    return (*edges[first:], *edges[:first])


def letters(index: int) -> str:
    """Return what a hole's corners are called by: a, b, and after z aa."""
    return ascii_lowercase[index % 26] * (index // 26 + 1)


def set_out(panel: Panel) -> SettingOut | None:
    """Return the places of a panel that its edges and diagonals leave open; nothing where they fix all."""
    outline = from_lowest(panel.cut.outline)
    sizes = [math.dist(edge.start, edge.end) if edge.straight else 0.0 for edge in outline]
    if not max(sizes):
        return None
    longest = sizes.index(max(sizes))
    base = (longest + 1, (longest + 1) % len(outline) + 1)
    ends = (outline[longest].start, outline[longest].end)
    points = _points(outline, "", corners=len(outline) > ENOUGH, but=base)
    for number, hole in enumerate(panel.cut.holes):
        points += _points(from_lowest(hole), letters(number), corners=True)
    places = tuple(
        Place(name=name, at=(float(x), float(y)), distances=(math.dist((x, y), ends[0]), math.dist((x, y), ends[1])))
        for name, (x, y) in points
    )
    return SettingOut(base=base, places=places) if places else None


def _points(
    edges: tuple[Curve, ...], hole: str, *, corners: bool, but: tuple[int, ...] = ()
) -> list[tuple[str, Array]]:
    """Return the named corners of a loop and the middles of its curved edges."""
    out = []
    for number, edge in enumerate(edges, start=1):
        if corners and number not in but:
            out.append((f"corner {hole}{number}", edge.start))
        if not edge.straight:
            out.append((f"curve {hole}{number}-{hole}{number % len(edges) + 1}", _middle(edge)))
    return out


def _middle(edge: Curve) -> Array:
    """Return the point of a curved edge farthest from its chord."""
    points = curves.flatten(edge, CHORD)
    way = edge.end - edge.start
    away = points - edge.start
    return np.asarray(points[np.argmax(np.abs(away[:, 1] * way[0] - away[:, 0] * way[1]))])
