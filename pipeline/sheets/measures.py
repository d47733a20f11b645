"""Panels in figures for a ruler: corners, edges, diagonals, and where each guide meets the edges.

Terms
-----
corner
    Where two straight edges of the sheet's outline meet, or one meets a curve; numbered from the lower left on,
    counter-clockwise.
run
    A guide that goes from one edge of the outline to another; it is drawn between two marks on those edges. Shorter
    guides (perpends) are drawn from the runs.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.regions import Loop
from pipeline.parts.model import Panel
from pipeline.sheets.gaps import WHERE, Gap

Array = NDArray[np.float64]

STEP = 0.5
"""mm; what an eye reads off a steel rule."""

HEADINGS = (
    "part",
    "what",
    "between edges",
    "mm from the first corner named",
    "on a ruler",
    "mm along the second edge",
    "on a ruler",
    "error of rounding, arc minutes",
)

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
        ``edge 1-2``, ``diagonal 1-3``, ``rise 1-2`` (how much higher corner 2 lies), or ``run``.
    value
        mm; of a run, how far along its first edge.
    other
        mm along the second edge, of a run only.
    edges
        Which edges a run goes between, as corners.
    """

    part: str
    what: str
    value: float
    other: float | None = None
    edges: str = ""


def measure_panel(panel: Panel) -> list[Measure]:
    """Return what one needs to draw a panel with a ruler."""
    corners = _corners(panel.cut.outline)
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
    return out + _runs(panel, corners, names)


def _corners(outline: Loop) -> Array:
    corners = [edge.curve.start for edge in outline]
    lowest = min(range(len(corners)), key=lambda i: (round(corners[i][0] + corners[i][1], 6), i))
    return np.array(corners[lowest:] + corners[:lowest])


def _runs(panel: Panel, corners: Array, names: list[str]) -> list[Measure]:
    """Return the guides that go from straight edge to straight edge, in the order of their first mark."""
    if len(panel.guides) == 0:
        return []
    ends = np.roll(corners, -1, axis=0)
    first, second = (_marks(panel.guides[:, end], corners, ends) for end in (0, 1))
    found = []
    for (edge_a, along_a), (edge_b, along_b) in zip(first, second, strict=True):
        if edge_a >= 0 and edge_b >= 0 and edge_a != edge_b:
            found.append((edge_a, edge_b, along_a, along_b))
    return [
        Measure(part=panel.id, what="run", value=a, other=b, edges=f"{names[i]} to {names[j]}")
        for i, j, a, b in sorted(found)
    ]


def _marks(points: Array, starts: Array, ends: Array) -> list[tuple[int, float]]:
    """Return on which straight edge each point lies (-1 for none) and how far from its start, mm."""
    best = np.full(len(points), -1)
    along = np.zeros(len(points))
    for k, (a, b) in enumerate(zip(starts, ends, strict=True)):
        size = float(np.linalg.norm(b - a))
        way = (b - a) / size
        far = (points - a) @ way
        off = np.abs((points - a) @ np.array([-way[1], way[0]]))
        here = (off < ON_EDGE) & (far > -ON_EDGE) & (far < size + ON_EDGE)
        best[here], along[here] = k, far[here]
    return list(zip(best.tolist(), along.tolist(), strict=True))


def rounded(value: float) -> float:
    """Return a length as a ruler shows it."""
    return round(value / STEP) * STEP


def measures_csv(panels: tuple[Panel, ...], eye_distance: float, gaps: tuple[Gap, ...] = ()) -> bytes:
    """Return the measuring sheet of all panels, and of the gaps they leave in a box that is not square.

    The last column is what rounding to half a millimetre makes of it for the eye, in arc minutes at most: the error
    square to the line of sight, seen from the opening's distance.
    """
    buffer = io.StringIO(newline="")
    table = csv.writer(buffer, lineterminator="\n")
    table.writerow(HEADINGS)
    for panel in panels:
        for one in measure_panel(panel):
            error = abs(rounded(one.value) - one.value)
            other = ["", ""]
            if one.other is not None:
                error = max(error, abs(rounded(one.other) - one.other))
                other = [f"{one.other:.2f}", f"{rounded(one.other):.1f}"]
            table.writerow(
                [
                    one.part,
                    one.what,
                    one.edges,
                    f"{one.value:.2f}",
                    f"{rounded(one.value):.1f}",
                    *other,
                    f"{math.degrees(error / eye_distance) * 60:.1f}",
                ]
            )
    for gap in gaps:
        what = f"gap {WHERE[gap.at]}, {gap.corner}, from the {gap.part} to the {gap.side}"
        table.writerow(["box", what, "", f"{gap.size:.2f}", f"{rounded(gap.size):.1f}", "", "", ""])
    return buffer.getvalue().encode()
