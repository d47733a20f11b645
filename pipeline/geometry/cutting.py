"""Taking one exact region out of another.

The border of the difference is found by splitting both borders where they meet and keeping the pieces that bound it:
of the region what lies outside the cut, of the cut, run backwards, what lies inside the region.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.regions import Edge, Loop, Region
from pipeline.geometry.vectors import lengths

Array = NDArray[np.float64]

TOUCH = 1e-7
"""mm; nearer than this two points are one: rounding of coordinates up to a few metres stays far below it."""
JOIN = 10 * TOUCH
"""mm; pieces of the border whose ends are nearer than this follow one another."""
DRAWN = 2 * JOIN
"""mm; corners of a cut this near to an edge are drawn onto it: between ``TOUCH`` and ``JOIN`` they would be neither on
the edge nor off it."""
HALVINGS = 8
"""How often two bent curves are halved to tell them apart: pieces 1/256 as long, whose boxes hug them."""

ASLANT = np.array([0.8146, 0.5801])
"""A direction that no drawing is likely to hold."""


class CutError(ValueError):
    """The cut leaves nothing, or more than one piece."""


def subtract(region: Region, cut: Path, label: str | Sequence[str]) -> Region:
    """Return the region without the inside of a closed path.

    Parameters
    ----------
    region
        What is cut.
    cut
        Closed, counter-clockwise, in the region's coordinates. It may touch or cross straight edges of the region;
        curves of both may not cross one another.
    label
        Name given to the new edges, or one for each curve of the cut.

    Raises
    ------
    CutError
        If nothing is left, if the region falls apart, or if two bent edges cross.
    """
    border = _Border.of(region.curves)
    cut = tuple(_drawn_onto(curve, border) for curve in cut)
    taken = _Border.of(cut)
    kept = [
        Edge(p, edge.against)
        for loop in region.loops
        for edge in loop
        for p in _split(edge.curve, taken.near(edge.curve))
        if _stays(p, taken)
    ]
    labels = [label] * len(cut) if isinstance(label, str) else label
    for curve, name in zip(cut, labels, strict=True):
        for p in _split(curve, border.near(curve)):
            middle = curves.evaluate(p, 0.5)[0]
            if border.edge_at(middle) is None and border.holds(middle):
                kept.append(Edge(curves.reverse(p), name))
    return assemble(kept)


def keep_side(region: Region, line: Array, label: str) -> Region:
    """Return the part of a region on one side of a line.

    Parameters
    ----------
    line
        ``(3,)``: (a, b, c) keeps a u + b v + c >= 0.
    label
        Name given to the new edge.

    Raises
    ------
    CutError
        If nothing is left on that side.
    """
    corners = curves.bounds(region.curves)
    size = 4 * float(np.linalg.norm(corners[1] - corners[0])) + 1
    line = line / np.linalg.norm(line[:2])
    middle = corners.mean(axis=0)
    foot = middle - (line[:2] @ middle + line[2]) * line[:2]
    along, away = size * np.array([line[1], -line[0]]), -size * line[:2]
    if float(line[:2] @ middle + line[2]) > size:
        return region
    square = np.array([foot + along, foot - along, foot - along + away, foot + along + away])
    path = curves.polygon(square)
    return subtract(region, path if curves.signed_area(path) > 0 else curves.reverse_path(path), label)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Border:
    """Closed loops, made ready to be asked again and again.

    Attributes
    ----------
    path, bent
        All curves, and the bent ones.
    low, high
        ``(n, 2)`` corners of boxes that hold the curves.
    control
        ``(m, 2, 3)`` homogeneous ends of the straight ones.
    starts, ways, sizes
        ``(m, 2)``, ``(m, 2)`` and ``(m,)`` where these start, their ends less their starts, and how long they are.
    """

    path: Path
    bent: Path
    low: Array
    high: Array
    control: Array
    starts: Array
    ways: Array
    sizes: Array

    @classmethod
    def of(cls, path: Path) -> _Border:
        """Return loops made ready."""
        boxes = np.array([_box(curve) for curve in path])
        control = np.array([curve.points for curve in path if curve.straight]).reshape(-1, 2, 3)
        ends = control[..., :2] / control[..., 2:]
        ways = ends[:, 1] - ends[:, 0]
        return cls(
            path=path,
            bent=tuple(curve for curve in path if not curve.straight),
            low=boxes[:, 0],
            high=boxes[:, 1],
            control=control,
            starts=ends[:, 0],
            ways=ways,
            sizes=lengths(ways),
        )

    def near(self, curve: Curve) -> Path:
        """Return the curves whose boxes touch that of another."""
        low, high = _box(curve)
        apart = (self.low > high + 2 * TOUCH) | (self.high < low - 2 * TOUCH)
        return tuple(self.path[k] for k in np.flatnonzero(~(apart[:, 0] | apart[:, 1])))

    def drawn(self, point: Array) -> Array:
        """Return a point ``(2,)``, or the corner or the foot on a straight edge's line it all but lies on."""
        corners = np.concatenate([self.starts, self.starts + self.ways])
        gaps = lengths(corners - point)
        if len(gaps) and TOUCH / 2 < gaps.min() < DRAWN:
            nearest: Array = corners[int(gaps.argmin())]
            return nearest
        x, y = (point - self.starts).T
        across = (self.ways[:, 0] * y - self.ways[:, 1] * x) / self.sizes
        for k in np.flatnonzero((np.abs(across) > TOUCH / 2) & (np.abs(across) < DRAWN)):
            way = self.ways[k] / self.sizes[k]
            point = self.starts[k] + way * (way @ (point - self.starts[k]))
        return point

    def edge_at(self, point: Array) -> Array | None:
        """Return the direction ``(2,)`` of the straight edge a point ``(2,)`` lies on, if it lies on one."""
        x, y = (point - self.starts).T
        along = (self.ways[:, 0] * x + self.ways[:, 1] * y) / self.sizes
        across = (self.ways[:, 0] * y - self.ways[:, 1] * x) / self.sizes
        met = np.flatnonzero((np.abs(across) < TOUCH) & (along > -TOUCH) & (along < self.sizes + TOUCH))
        return self.ways[met[0]] if len(met) else None

    def holds(self, point: Array) -> bool:
        """Return whether a point ``(2,)`` lies inside, by the parity of crossings of a ray from it.

        The ray runs aslant, so that it does not pass corners that are level with the point, as middles of edges often
        are. A corner on it counts as lying on its positive side.
        """
        across = np.array([-ASLANT[1], ASLANT[0]])
        ray = np.array([*across, -across @ point])
        values = self.control @ ray
        crossed = (values[:, 0] >= 0) != (values[:, 1] >= 0)
        (first, second), control = values[crossed].T, self.control[crossed]
        t = (first / (first - second))[:, None]
        met = (1 - t) * control[:, 0] + t * control[:, 1]
        count = int(((met[:, :2] / met[:, 2:] - point) @ ASLANT > 0).sum())
        for curve in self.bent:
            for s in curves.crossings(curve, ray):
                if (curves.evaluate(curve, s)[0] - point) @ ASLANT > 0:
                    count += 1
        return count % 2 == 1


def _drawn_onto(curve: Curve, border: _Border) -> Curve:
    """Return a curve with its ends drawn onto straight edges that they all but lie on."""
    ends = [border.drawn(point) for point in (curve.start, curve.end)]
    if np.array_equal(ends[0], curve.start) and np.array_equal(ends[1], curve.end):
        return curve
    points = curve.points.copy()
    points[0, :2], points[-1, :2] = ends[0] * points[0, 2], ends[1] * points[-1, 2]
    return replace(curve, points=points)


def _box(curve: Curve) -> tuple[Array, Array]:
    """Return corners of a box that holds a curve: that of its control points, where no weight is below zero."""
    if curve.points[:, -1].min() < 0:
        low, high = curves.bounds((curve,))
        return low, high
    control = curve.points[:, :-1] / curve.points[:, -1:]
    return control.min(axis=0), control.max(axis=0)


def _stays(piece: Curve, cut: _Border) -> bool:
    middle = curves.evaluate(piece, 0.5)[0]
    along = cut.edge_at(middle)
    if along is None:
        return not cut.holds(middle)
    return float(along @ curves.tangent(piece, 0.5)) < 0


def _split(curve: Curve, others: Path) -> list[Curve]:
    """Return the curve in pieces, split where others meet it."""
    at = {0.0, 1.0}
    for other in others:
        at.update(_meetings(curve, other))
    size = curves.length(curve)
    marks = sorted(at)
    merged = [marks[0]]
    for t in marks[1:]:
        if (t - merged[-1]) * size > TOUCH:
            merged.append(t)
    merged[-1] = 1.0
    if len(merged) == 1:
        return [curve]
    return [curves.piece(curve, a, b) for a, b in pairwise(merged)]


def _meetings(curve: Curve, other: Curve) -> list[float]:
    """Return parameters of ``curve`` where ``other`` meets it."""
    if not curve.straight and not other.straight:
        if _same(curve, other) or _apart(curve, other, HALVINGS):
            return []
        raise CutError("two bent edges may cross")
    found = []
    if curve.straight:
        for end in (other.start, other.end):
            t = _along(curve, end)
            if t is not None:
                found.append(t)
        if other.straight:
            t = _line_meets(curve, other)
            return found if t is None else [*found, t]
        met = [s for s in curves.bezier_roots(other.points @ _carrier(curve)) if 0.0 <= s <= 1.0]
        marks = [_along(curve, curves.evaluate(other, s)[0]) for s in met]
        return found + [t for t in marks if t is not None]
    met = [t for t in curves.bezier_roots(curve.points @ _carrier(other)) if 0.0 < t < 1.0]
    return [t for t in met if _along(other, curves.evaluate(curve, t)[0]) is not None]


def _same(curve: Curve, other: Curve) -> bool:
    return curve is other or np.array_equal(curve.points, other.points)


def _apart(curve: Curve, other: Curve, halvings: int) -> bool:
    """Return whether two bent curves are apart, told by the boxes of ever smaller pieces of both."""
    if _boxes_apart(curve, other):
        return True
    if halvings == 0:
        return False
    parts = [(curves.piece(one, 0.0, 0.5), curves.piece(one, 0.5, 1.0)) for one in (curve, other)]
    return all(_apart(a, b, halvings - 1) for a in parts[0] for b in parts[1])


def _boxes_apart(curve: Curve, other: Curve) -> bool:
    a, b = curves.bounds((curve,)), curves.bounds((other,))
    return bool((a[0] > b[1] + TOUCH).any() or (b[0] > a[1] + TOUCH).any())


def _carrier(curve: Curve) -> Array:
    """Return the (3,) unit-normal line through a straight curve."""
    way = curve.end - curve.start
    normal = np.array([-way[1], way[0]]) / math.hypot(*way)
    return np.array([*normal, -normal @ curve.start])


def _along(curve: Curve, point: Array) -> float | None:
    """Return the parameter of a point on a straight curve's inside, or nothing."""
    way = curve.end - curve.start
    size = math.hypot(*way)
    away = point - curve.start
    along = float(way @ away) / size
    across = float(way[0] * away[1] - way[1] * away[0]) / size
    return along / size if abs(across) < TOUCH and -TOUCH < along < size + TOUCH else None


def _line_meets(curve: Curve, other: Curve) -> float | None:
    values = curve.points @ _carrier(other)
    if abs(values[0] - values[1]) < 1e-15:
        return None
    t = float(values[0] / (values[0] - values[1]))
    if not 0.0 <= t <= 1.0:
        return None
    return t if _along(other, curves.evaluate(curve, t)[0]) is not None else None


def assemble(edges: list[Edge]) -> Region:
    """Return the region whose border is made of these pieces, chained end to start."""
    starts = np.array([edge.curve.start for edge in edges])
    left = np.ones(len(edges), dtype=bool)
    loops: list[Loop] = []
    for first, edge in enumerate(edges):
        if not left[first]:
            continue
        left[first], chain = False, [edge]
        while np.linalg.norm(chain[-1].curve.end - chain[0].curve.start) > JOIN:
            near = np.flatnonzero(left & (lengths(starts - chain[-1].curve.end) < JOIN))
            if not len(near):
                raise CutError("the border does not close")
            following = near[0] if len(near) == 1 else max(near, key=partial(_turn, chain[-1], edges))
            left[following] = False
            chain.append(edges[following])
        loops.append(_merged(chain))
    areas = [curves.signed_area([edge.curve for edge in loop]) for loop in loops]
    outer = [loop for loop, area in zip(loops, areas, strict=True) if area > 0]
    if len(outer) != 1:
        raise CutError("nothing is left" if not outer else f"the face falls into {len(outer)} pieces")
    return Region(outer[0], tuple(loop for loop, area in zip(loops, areas, strict=True) if area < 0))


def _turn(edge: Edge, others: Sequence[Edge], number: int) -> float:
    """Return how far one of the others turns left where an edge ends, rad.

    Where several start in one point, the sharpest left turn keeps the loops apart.
    """
    way, out = curves.tangent(edge.curve, 1.0), curves.tangent(others[number].curve, 0.0)
    return math.atan2(way[0] * out[1] - way[1] * out[0], way @ out)


def _merged(chain: list[Edge]) -> Loop:
    """Return the loop with straight neighbours on one line and with one label joined again."""
    out: list[Edge] = []
    for edge in chain:
        if out and _continues(out[-1], edge):
            out[-1] = Edge(curves.line(out[-1].curve.start, edge.curve.end), edge.against)
        else:
            out.append(edge)
    if len(out) > 2 and _continues(out[-1], out[0]):
        out[0] = Edge(curves.line(out[-1].curve.start, out[0].curve.end), out[0].against)
        out.pop()
    return tuple(out)


def _continues(edge: Edge, following: Edge) -> bool:
    if edge.against != following.against or not (edge.curve.straight and following.curve.straight):
        return False
    a, b = edge.curve.end - edge.curve.start, following.curve.end - following.curve.start
    return abs(float(a[0] * b[1] - a[1] * b[0])) < TOUCH * math.hypot(*a) and float(a @ b) > 0
