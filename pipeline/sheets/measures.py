"""Panels in figures for a ruler: corners, edges, diagonals, and where each guide meets the edges.

Terms
-----
corner
    Where two straight edges of the sheet's outline meet, or one meets a curve; numbered from the lower left on,
    counter-clockwise.
run
    The line of a guide, or of several such as the perpends of every second course, from one edge of the outline to
    another; it is drawn between two marks on those edges, where the pattern asks for it. A mark is given by its
    straight distance from the edge's first corner, on curved edges too.
place
    Of a corner that edges and diagonals do not fix, or of a curve's middle: how far from two corners of the outline.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import flatten
from pipeline.geometry.regions import Loop
from pipeline.parts.model import Panel
from pipeline.sheets.gaps import WHERE, Gap
from pipeline.sheets.setting_out import from_lowest, set_out

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

STEP = 0.5
"""mm; what an eye reads off a steel rule."""

HEADINGS = (
    "part",
    "what",
    "between edges, or from corners",
    "mm from the first corner named",
    "on a ruler",
    "mm along the second edge, or from the second corner",
    "on a ruler",
    "error of rounding, arc minutes",
)

CHORD = 0.01
"""mm; curved edges are met within this."""
SAME_MARK = 0.02
"""mm; marks no rule could tell apart are given once."""
ON_EDGE = 1e-4
"""mm; a guide whose end lies nearer to an edge ends on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One line of the sheet.

    Attributes
    ----------
    part
        Panel id.
    what
        ``edge 1-2``, ``diagonal 1-3``, ``rise 1-2`` (how much higher corner 2 lies), ``run``, or a place:
        ``corner 5``, ``corner a2`` of the hole a, ``curve a3-a4`` (its middle).
    value
        mm; of a run, how far along its first edge; of a place, how far from the first corner.
    other
        mm along the second edge, or from the second corner, of runs and places only.
    edges
        Which edges a run goes between, as corners; from which corners a place is measured, as in ``1 and 2``.
    """

    part: str
    what: str
    value: float
    other: float | None = None
    edges: str = ""


@lru_cache(maxsize=256)  # the measuring sheet and the report ask for the same
def measure_panel(panel: Panel) -> tuple[Measure, ...]:
    """Return what one needs to draw a panel with a ruler."""
    corners = corners_of(panel.cut.outline)
    count = len(corners)
    names = [f"{i + 1}-{(i + 1) % count + 1}" for i in range(count)]
    out = []
    for i, name in enumerate(names):
        a, b = corners[i], corners[(i + 1) % count]
        out.append(Measure(part=panel.id, what=f"edge {name}", value=float(np.linalg.norm(b - a))))
        rise = float(b[1] - a[1])
        if ON_EDGE < abs(rise) < abs(b[0] - a[0]):
            out.append(Measure(part=panel.id, what=f"rise {name}", value=rise))
    for i in range(count):
        for j in range(i + 2, count - (i == 0)):
            if count <= 4 or (j - i == count // 2):
                size = float(np.linalg.norm(corners[j] - corners[i]))
                out.append(Measure(part=panel.id, what=f"diagonal {i + 1}-{j + 1}", value=size))
    return (*out, *_places(panel), *_runs(panel, names))


def _places(panel: Panel) -> list[Measure]:
    found = set_out(panel)
    if found is None:
        return []
    edges = f"{found.base[0]} and {found.base[1]}"
    return [
        Measure(part=panel.id, what=one.name, value=one.distances[0], other=one.distances[1], edges=edges)
        for one in found.places
    ]


def corners_of(outline: Loop) -> Array:
    """Return the outline's corners ``(n, 2)``, flat mm, in the order they are numbered."""
    return np.array([edge.start for edge in from_lowest(outline)])


def _runs(panel: Panel, names: list[str]) -> list[Measure]:
    """Return the lines of the guides from edge to edge, in the order of their first mark."""
    rules = _rules(panel.guides)
    if not len(rules):
        return []
    border, corners, edge = _border(panel.cut.outline)
    marks = [_marks(rules, border, edge, ahead) for ahead in (False, True)]
    found = []
    for (side_a, at_a), (side_b, at_b) in zip(*marks, strict=True):
        if side_a >= 0 and side_b >= 0 and side_a != side_b:
            ends = ((side_a, math.dist(at_a, corners[side_a])), (side_b, math.dist(at_b, corners[side_b])))
            found.append((*min(ends), *max(ends)))
    runs: list[Measure] = []
    last = (-1, 0.0, -1, 0.0)
    for i, a, j, b in sorted(found):
        if (i, j) != (last[0], last[2]) or max(abs(a - last[1]), abs(b - last[3])) > SAME_MARK:
            runs.append(Measure(part=panel.id, what="run", value=a, other=b, edges=f"{names[i]} to {names[j]}"))
        last = (i, a, j, b)
    return runs


def _rules(guides: Array) -> Array:
    """Return ``(k, 2, 2)``: the lines that guides lie on, each from the first guide's start to the last one's end."""
    if not len(guides):
        return np.zeros((0, 2, 2))
    ways = guides[:, 1] - guides[:, 0]
    ways = ways / np.linalg.norm(ways, axis=1)[:, None]
    # One direction for both ways of drawing a line; upright ones go up.
    ways *= np.where((ways[:, 0] > 1e-9) | ((np.abs(ways[:, 0]) <= 1e-9) & (ways[:, 1] > 0)), 1.0, -1.0)[:, None]
    middle = guides.reshape(-1, 2).mean(axis=0)
    away = guides - middle
    off = away[:, 0, 1] * ways[:, 0] - away[:, 0, 0] * ways[:, 1]
    keys = np.round(np.column_stack([np.arctan2(ways[:, 1], ways[:, 0]) * 1e4, off * 1e2])).astype(np.int64)
    _, first, line = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    along = np.einsum("ijk,ik->ij", away, ways[first][line.ravel()])
    low, high = np.full(len(first), np.inf), np.full(len(first), -np.inf)
    np.minimum.at(low, line.ravel(), along.min(axis=1))
    np.maximum.at(high, line.ravel(), along.max(axis=1))
    foot = middle + off[first][:, None] * np.column_stack([-ways[first][:, 1], ways[first][:, 0]])
    return np.stack([foot + low[:, None] * ways[first], foot + high[:, None] * ways[first]], axis=1)


def _border(outline: Loop) -> tuple[Array, Array, Indices]:
    """Return the outline's chords ``(m, 2, 2)``, the corners ``(n, 2)``, and which edge each chord belongs to."""
    corners = corners_of(outline)
    first = next(i for i, edge in enumerate(outline) if np.array_equal(edge.curve.start, corners[0]))
    chords, edges = [], []
    for number, edge in enumerate((*outline[first:], *outline[:first])):
        points = flatten(edge.curve, CHORD)
        chords.append(np.stack([points[:-1], points[1:]], axis=1))
        edges += [number] * (len(points) - 1)
    return np.concatenate(chords), corners, np.array(edges)


def _marks(rules: Array, border: Array, edge: Indices, ahead: bool) -> list[tuple[int, tuple[float, float]]]:
    """Return on which edge each rule meets the outline first beyond its guides (-1 for none), and where."""
    start, end = (rules[:, 0], rules[:, 1]) if ahead else (rules[:, 1], rules[:, 0])
    sizes = np.linalg.norm(end - start, axis=1)
    ways = (end - start) / sizes[:, None]
    sides = border[:, 1] - border[:, 0]
    across = np.outer(ways[:, 0], sides[:, 1]) - np.outer(ways[:, 1], sides[:, 0])
    away = border[None, :, 0] - end[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (away[..., 0] * sides[:, 1] - away[..., 1] * sides[:, 0]) / across
        share = (away[..., 0] * ways[:, 1, None] - away[..., 1] * ways[:, 0, None]) / across
    slack = 1e-9 + ON_EDGE / np.linalg.norm(sides, axis=1)
    far[~((far > -ON_EDGE) & (share > -slack) & (share < 1 + slack))] = np.inf
    best = np.argmin(far, axis=1)
    reach = far[np.arange(len(rules)), best]
    met = np.isfinite(reach)
    points = end + np.where(met, reach, 0.0)[:, None] * ways
    return [
        (int(edge[k]) if hit else -1, (float(x), float(y)))
        for k, hit, (x, y) in zip(best, met, points.tolist(), strict=True)
    ]


def rounded(value: float, step: float = STEP) -> float:
    """Return a length as a ruler shows it that is read to ``step``, mm."""
    return round(value / step) * step


def error_minutes(one: Measure, step: float, eye_distance: float) -> float:
    """Return what rounding makes of a measure for the eye, arc minutes at most.

    The error square to the line of sight, seen from the opening's distance.
    """
    lengths = [one.value, *([] if one.other is None else [one.other])]
    error = max(abs(rounded(length, step) - length) for length in lengths)
    return math.degrees(error / eye_distance) * 60


def decimals_of(step: float) -> int:
    """Return how many decimals show every multiple of a step, three at most."""
    return next((n for n in range(1, 3) if abs(step * 10**n - round(step * 10**n)) < 1e-9), 3)


def measures_csv(
    panels: tuple[Panel, ...], eye_distance: float, gaps: tuple[Gap, ...] = (), step: float = STEP
) -> bytes:
    """Return the measuring sheet of all panels, and of the gaps they leave in a box that is not square.

    Lengths are given as they are and as a ruler shows them that is read to ``step``, mm.
    """
    decimals = decimals_of(step)
    buffer = io.StringIO(newline="")
    table = csv.writer(buffer, lineterminator="\n")
    table.writerow(HEADINGS)
    for panel in panels:
        for one in measure_panel(panel):
            other = ["", ""]
            if one.other is not None:
                other = [f"{one.other:.2f}", f"{rounded(one.other, step):.{decimals}f}"]
            table.writerow(
                [
                    one.part,
                    one.what,
                    one.edges,
                    f"{one.value:.2f}",
                    f"{rounded(one.value, step):.{decimals}f}",
                    *other,
                    f"{error_minutes(one, step, eye_distance):.1f}",
                ]
            )
    for gap in gaps:
        what = f"gap {WHERE[gap.at]}, {gap.corner}, from the {gap.part} to the {gap.side}"
        table.writerow(["box", what, "", f"{gap.size:.2f}", f"{rounded(gap.size, step):.{decimals}f}", "", "", ""])
    return buffer.getvalue().encode()
