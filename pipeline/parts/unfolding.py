"""Panels of one card unfolded into one net: which stay together, and where each lies.

Terms
-----
hinge
    Where two panels stay in one piece: all of their seams that lie on one line in either drawing.
tree
    As many hinges as hold all panels together; every other seam is cut and glued.

About its hinge a panel is turned into the plane of its neighbour; its outline keeps its size and its visible face. A
tree unfolds where no two panels lie on one another. Of all trees that do, one is taken that fits the stock, and of
those the one with the greatest length of hinges, for it leaves the least to be glued.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.frames import moved
from pipeline.parts.seams import Seam

Array = NDArray[np.float64]
Size = tuple[float, float]

COMMON_MM2 = 1e-3
"""mm^2; panels that only touch along their hinge have less in common."""

ONE_LINE = 1e-6
"""mm; seams on one line in both drawings are turned about as one."""

MOST_TREES = 20_000
"""Beyond, trees are tried in order of their hinges' length; a hall has a few dozen."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hinge:
    """A possible fold between two panels, and its length, mm."""

    seams: tuple[Seam, ...]

    @property
    def parts(self) -> frozenset[str]:
        """Ids of both panels."""
        return self.seams[0].parts

    @property
    def length(self) -> float:
        """Length of all its seams, mm."""
        return sum(seam.length for seam in self.seams)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unfolded:
    """A tree laid flat.

    Attributes
    ----------
    hinges
        Where it is folded.
    net_from_flat
        ``(3, 3)`` rigid of every panel.
    overlaps
        Pairs of panels that lie on one another, and by how much, mm^2; empty where it unfolds.
    size
        Width and height of all panels together, mm.
    """

    hinges: tuple[Hinge, ...]
    net_from_flat: Mapping[str, Array]
    overlaps: tuple[tuple[str, str, float], ...]
    size: Size

    def fits(self, stock: Size) -> bool:
        """Return whether it fits a sheet's usable size, either way round."""
        return any(self.size[0] <= w and self.size[1] <= h for w, h in (stock, stock[::-1]))


def unfold(parts: Sequence[str], seams: Sequence[Seam], shapes: Mapping[str, shapely.Polygon], stock: Size) -> Unfolded:
    """Return the best tree of some panels; the one that overlaps least where none unfolds.

    Parameters
    ----------
    parts
        Part ids; the first keeps its drawing's axes.
    seams
        Where they meet.
    shapes
        Visible outline of each, flat mm.
    stock
        Usable width and height of a sheet, mm.

    Raises
    ------
    ValueError
        If they do not all hang together.
    """
    trees = [_laid(tree, parts, shapes) for tree in _trees(parts, hinges_of(seams))]
    if not trees:
        raise ValueError("the panels do not all meet along straight edges")
    return min(trees, key=lambda tree: _worth(tree, stock))


def _worth(tree: Unfolded, stock: Size) -> tuple[float, bool, float, float]:
    """Return what decides between trees, the best least."""
    lost = round(sum(area for _, _, area in tree.overlaps), 3)
    held = round(sum(hinge.length for hinge in tree.hinges), 3)
    return lost, not tree.fits(stock), -held, round(tree.size[0] * tree.size[1], 3)


def hinges_of(seams: Sequence[Seam]) -> list[Hinge]:
    """Return the longest hinge of every two panels that meet, in the order of their names."""
    pairs: dict[tuple[str, ...], list[Seam]] = {}
    for seam in seams:
        pairs.setdefault(tuple(sorted(seam.parts)), []).append(seam)
    hinges = []
    for _, met in sorted(pairs.items()):
        groups = [tuple(other for other in met if _one_line(seam, other)) for seam in met]
        hinges.append(max((Hinge(seams=group) for group in groups), key=lambda hinge: round(hinge.length, 6)))
    return hinges


def _one_line(seam: Seam, other: Seam) -> bool:
    """Return whether two seams of the same panels turn about one line: one motion brings both together."""
    matrix = _turned(seam)
    moved = frames.apply(matrix, other.second.ends[::-1])
    return bool(np.abs(moved - other.first.ends).max() < ONE_LINE)


def _turned(seam: Seam) -> Array:
    """Return the rigid ``(3, 3)`` that lays the second panel's seam on the first one's, in the first one's drawing."""
    (a, b), (p, q) = seam.first.ends, seam.second.ends[::-1]
    one, other = frames.unit(b - a), frames.unit(q - p)
    cosine, sine = float(one @ other), float(other[0] * one[1] - other[1] * one[0])
    turn = np.array([[cosine, -sine], [sine, cosine]])
    matrix = np.eye(3)
    matrix[:2, :2], matrix[:2, 2] = turn, (a + b) / 2 - turn @ ((p + q) / 2)
    return matrix


def _trees(parts: Sequence[str], hinges: Sequence[Hinge]) -> list[tuple[Hinge, ...]]:
    """Return every tree of some panels, up to ``MOST_TREES``, those of the longest hinges first."""
    longest = sorted(hinges, key=lambda hinge: (-round(hinge.length, 6), sorted(hinge.parts)))
    out = []
    for number, tree in enumerate(combinations(longest, len(parts) - 1)):
        if number >= MOST_TREES:
            break
        if _holds(parts, tree):
            out.append(tree)
    return out


def _holds(parts: Sequence[str], tree: Sequence[Hinge]) -> bool:
    reached = {parts[0]}
    for _ in tree:
        reached |= {part for hinge in tree if hinge.parts & reached for part in hinge.parts}
    return len(reached) == len(parts)


def _laid(tree: tuple[Hinge, ...], parts: Sequence[str], shapes: Mapping[str, shapely.Polygon]) -> Unfolded:
    placed: dict[str, Array] = {parts[0]: np.eye(3)}
    while len(placed) < len(parts):
        for hinge in tree:
            known = hinge.parts & placed.keys()
            if len(known) == 1:
                (part,) = known
                (new,) = hinge.parts - known
                onto = _turned(hinge.seams[0])  # second in first
                step = onto if hinge.seams[0].first.part == part else frames.inverse(onto)
                placed[new] = placed[part] @ step
    lying = {part: moved(shapes[part], placed[part]) for part in parts}
    overlaps = []
    for a, b in combinations(parts, 2):
        area = float(shapely.intersection(lying[a], lying[b]).area)
        if area > COMMON_MM2:
            overlaps.append((a, b, area))
    low_x, low_y, high_x, high_y = shapely.union_all(list(lying.values())).bounds
    return Unfolded(hinges=tree, net_from_flat=placed, overlaps=tuple(overlaps), size=(high_x - low_x, high_y - low_y))
