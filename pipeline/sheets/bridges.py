"""Small gaps in a cut, so that a part stays held in its sheet until it is cut free by hand.

What is left of a bridge is pared off, and leaves a mark. So bridges stand on long straight edges that lie against
another part, where nobody sees them, and never at a corner, where paring rounds it.
"""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.curves import Curve, Path, evaluate, piece
from pipeline.geometry.regions import Edge, Loop

CLEAR = 3.0
"""Bridge widths of edge that each bridge has to either side of its middle, at least."""
ALONG = 1e-3
"""mm; a moved edge lies half a kerf from the one it was, within this."""


def bridged(path: Path, border: Loop, *, away: float, width: float, count: int) -> tuple[Path, ...]:
    """Return the open runs of an outline between its bridges; the outline itself where no edge can bear one.

    Parameters
    ----------
    path
        Closed, the contour to be cut, mm.
    border
        The part's own border, which says what lies against each edge.
    away
        How far the contour lies from it, mm.
    width, count
        Of a bridge, mm, and how many at most.
    """
    gaps = _gaps(path, border, away, width, count)
    if not any(gaps):
        return (path,)
    runs: list[list[Curve]] = [[]]
    for curve, middles in zip(path, gaps, strict=True):
        size = math.dist(curve.start, curve.end)
        at = 0.0
        for middle in middles:
            low, high = middle - width / 2 / size, middle + width / 2 / size
            runs[-1].append(piece(curve, at, low))
            runs.append([])
            at = high
        runs[-1].append(piece(curve, at, 1.0))
    runs[0] = runs.pop() + runs[0]
    return tuple(tuple(run) for run in runs)


def _gaps(path: Path, border: Loop, away: float, width: float, count: int) -> list[list[float]]:
    """Return the parameters of the bridges' middles on each curve, rising."""
    sizes = [math.dist(curve.start, curve.end) if curve.straight else 0.0 for curve in path]
    hidden = [size > 0 and _against(curve, border, away) for curve, size in zip(path, sizes, strict=True)]
    numbers = [0] * len(path)
    for _ in range(count):
        spans = [
            (is_hidden, size / (number + 2), -place)
            for place, (is_hidden, size, number) in enumerate(zip(hidden, sizes, numbers, strict=True))
            if size / (number + 2) >= CLEAR * width
        ]
        if not spans:
            break
        numbers[-max(spans)[2]] += 1
    return [[(k + 1) / (number + 1) for k in range(number)] for number in numbers]


def _against(curve: Curve, border: Loop, away: float) -> bool:
    """Return whether the edge that a straight curve was moved from lies against another part."""
    middle = (curve.start + curve.end) / 2
    return any(edge.against != "" and _distance(edge, middle) <= away + ALONG for edge in border)


def _distance(edge: Edge, point: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    if not edge.curve.straight:
        return math.inf
    start, end = evaluate(edge.curve, [0.0, 1.0])
    way = end - start
    share = float(np.clip((point - start) @ way / max(float(way @ way), 1e-300), 0, 1))
    return float(np.linalg.norm(point - start - share * way))
