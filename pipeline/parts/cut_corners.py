"""Corners that a sheet's run-on would stick out of the box with, cut off along the box.

Of a sheet that runs on beneath another only what the other's foot stands on is of use, and that lies in the box. Where
its edge slants, the corner of the run-on reaches past it; held back instead, the whole edge would bare the foot.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve
from pipeline.geometry.regions import Edge, Loop
from pipeline.parts.model import Leaf
from pipeline.parts.offsets import STEP

Array = NDArray[np.float64]

OUTSIDE = 1e-9
"""mm past the box's side."""

LEVEL = 0.1
"""Sine; a sheet nearly parallel to a side of the box lies outside it as a whole or not at all."""

ENDS = 1e-3
"""Share of an edge that is to be left of it."""


def corner_cuts(
    loop: Loop, runs_on: Sequence[bool], leaves: Sequence[Leaf], span: tuple[float, float], box: tuple[Array, ...]
) -> dict[int, Array | None]:
    """Return what cuts off each corner outside the box, by the number of the edge that ends in it.

    Parameters
    ----------
    loop
        The sheet's border, flat mm.
    runs_on
        Of each edge, whether it runs on past its visible line; only corners of such edges are looked at.
    leaves
        The leaf that each edge lies on.
    span
        How deep the sheet's front and back lie behind the visible face, mm.
    box
        Planes ``(4,)`` of the box's sides, unit normals inward, built mm.

    Returns
    -------
    dict
        ``(3,)`` flat line (a, b, c) with a x + b y + c = 0 along the box, or nothing where none does.
    """
    out: dict[int, Array | None] = {}
    for number, edge in enumerate(loop):
        following = (number + 1) % len(loop)
        if not (runs_on[number] or runs_on[following]):
            continue
        lines = [line for line in (_side(leaves[number], plane, span) for plane in box)
                 if line @ [*edge.curve.end, 1.0] < -OUTSIDE]  # fmt: skip
        if lines:
            usable = len(lines) == 1 and leaves[number] is leaves[following]
            cut = _cut(edge.curve, loop[following].curve, lines[0]) if usable else None
            out[number] = lines[0] if cut is not None else None
    return out


def cut_corners(loop: Loop, cuts: dict[int, Array | None]) -> Loop:
    """Return a loop with its corners cut off along lines ``(3,)``; the new edges stand against ``STEP``."""
    starts, ends = {}, {}
    for number, line in cuts.items():
        following = (number + 1) % len(loop)
        cut = None if line is None else _cut(loop[number].curve, loop[following].curve, line)
        if cut is not None:
            ends[number], starts[following] = cut
    out = []
    for number, edge in enumerate(loop):
        start, end = starts.get(number), ends.get(number)
        if start is None and end is None:
            out.append(edge)
        else:
            ran = (edge.curve.start if start is None else start, edge.curve.end if end is None else end)
            out.append(Edge(curves.line(*ran), edge.against))
        if end is not None:
            out.append(Edge(curves.line(end, starts[(number + 1) % len(loop)]), STEP))
    return tuple(out)


def _side(leaf: Leaf, plane: Array, span: tuple[float, float]) -> Array:
    """Return where a side of the box cuts a sheet, at whichever of its faces it leaves less of; flat line ``(3,)``."""
    a, b, k, c = plane @ leaf.built_from_flat
    if np.hypot(a, b) < LEVEL:
        return np.array([0.0, 0.0, 1.0])
    return np.array([a, b, c - max(k * span[0], k * span[1])])


def _cut(before: Curve, after: Curve, line: Array) -> tuple[Array, Array] | None:
    """Return where a line cuts the edge before a corner and the one after it, if it cuts both."""
    if not (before.straight and after.straight):
        return None
    met = []
    for curve, left in ((before, (ENDS, 1.0)), (after, (0.0, 1 - ENDS))):
        low, high = line @ [*curve.start, 1.0], line @ [*curve.end, 1.0]
        share = low / (low - high) if low != high else -1.0
        if not left[0] < share < left[1]:
            return None
        met.append(curve.start + share * (curve.end - curve.start))
    return met[0], met[1]
