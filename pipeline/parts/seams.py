"""Where the visible faces of two panels meet: straight pieces of the lines they share in the built room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region
from pipeline.parts import joints
from pipeline.parts.leaves import Lie
from pipeline.parts.outlines import BEHIND, Making, flat_loops

Array = NDArray[np.float64]

SAME_LINE = 1e-6
"""mm; ends of one edge this near to the other's line lie on it."""

CHORD = 0.02
"""mm; of curved edges where only areas matter."""

LEAST = 0.1
"""mm; what meets along less only touches."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One panel's side of a seam: part id, leaf, its ends ``(2, 2)`` flat in the direction of the panel's outline."""

    part: str
    leaf: int
    ends: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seam:
    """A straight piece of the line where two panels meet.

    Attributes
    ----------
    first, second
        The two panels; their outlines run along it in opposite directions.
    ends
        ``(2, 3)`` built, in the direction of the first one's outline.
    angle_rad
        Between the visible faces, measured through the room.
    """

    first: Side
    second: Side
    ends: Array
    angle_rad: float

    @property
    def length(self) -> float:
        """Length, mm."""
        return float(np.linalg.norm(self.ends[1] - self.ends[0]))

    @property
    def parts(self) -> frozenset[str]:
        """Ids of both panels."""
        return frozenset((self.first.part, self.second.part))

    def sides(self, part: str) -> tuple[Side, Side]:
        """Return the side of a part, and the other."""
        return (self.first, self.second) if self.first.part == part else (self.second, self.first)


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """A straight visible edge: what it lies against, its leaf, its ends built ``(2, 3)``, the way into its face."""

    against: str
    leaf: int
    ends: Array
    inward: Array


def find_seams(regions: Mapping[str, Region], making: Making) -> list[Seam]:
    """Return every seam of faces, whose ``regions`` are what is left of them after their cuts, host coordinates."""
    edges = {part: _edges(region, making.lies[part]) for part, region in regions.items()}
    seams = []
    for a, b in combinations(sorted(regions), 2):
        for mine in edges[a]:
            for theirs in edges[b]:
                if mine.against == b and theirs.against == a:
                    seams += _seam(a, mine, b, theirs, making.lies)
    return seams


def glueable(face: Face) -> bool:
    """Return whether a face's sheet itself meets its neighbours along the visible lines."""
    return face.sheet.finish == 0 and not face.through and not face.behind


def _edges(region: Region, lie: Lie) -> list[_Edge]:
    out = []
    for flat in flat_loops(region, lie):
        for edge, leaf in zip(flat.loop, flat.leaves, strict=True):
            if edge.curve.straight and edge.against:
                matrix = lie.leaves[leaf].built_from_flat
                ends = _place(np.array([edge.curve.start, edge.curve.end]), matrix)
                way = edge.curve.end - edge.curve.start
                inward = matrix[:3, :2] @ frames.unit([-way[1], way[0]])
                out.append(_Edge(edge.against, leaf, ends, inward))
    return out


def _place(points_flat: Array, built_from_flat: Array) -> Array:
    return frames.apply(built_from_flat, np.column_stack([points_flat, np.zeros(len(points_flat))]))


def _seam(a: str, mine: _Edge, b: str, theirs: _Edge, lies: Mapping[str, Lie]) -> list[Seam]:
    start, end = mine.ends
    size = float(np.linalg.norm(end - start))
    way = (end - start) / size
    along = (theirs.ends - start) @ way
    off = theirs.ends - start - np.outer(along, way)
    if np.abs(off).max() > SAME_LINE:
        return []
    low, high = max(0.0, float(along.min())), min(size, float(along.max()))
    if high - low < LEAST or along[0] < along[1]:
        return []
    ends = np.array([start + low * way, start + high * way])
    one, other = lies[a].leaves[mine.leaf].built_from_flat, lies[b].leaves[theirs.leaf].built_from_flat
    turned_away = bool(mine.inward @ other[:3, 2] < -BEHIND)
    return [
        Seam(
            first=Side(part=a, leaf=mine.leaf, ends=_flat(ends, one)),
            second=Side(part=b, leaf=theirs.leaf, ends=_flat(ends[::-1], other)),
            ends=ends,
            angle_rad=joints.room_angle(one[:3, 2], other[:3, 2], turned_away=turned_away),
        )
    ]


def _flat(points_built: Array, built_from_flat: Array) -> Array:
    flat: Array = frames.apply(frames.invert_rigid(built_from_flat), points_built)[:, :2]
    return flat


def outline_polygon(region: Region, lie: Lie) -> shapely.Polygon:
    """Return the visible outline and holes of a face in the flat frame, as chords."""
    loops = [curves.flatten_path(tuple(e.curve for e in flat.loop), CHORD) for flat in flat_loops(region, lie)]
    return shapely.Polygon(loops[0], loops[1:])
