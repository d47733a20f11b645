"""How light gets from where it comes from to a face: through which openings, and how much of each lets it pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.casting import FLATTENING, Receiver, polygon, throw_figure
from pipeline.geometry.recovering import recover_paths
from pipeline.parts.lighting.model import HALL, OUTSIDE, Gate, Way

Array = NDArray[np.float64]

ON_WALL = 1e-6
"""mm; a lamp this near to a wall's plane is in it."""


@dataclass(frozen=True, slots=True)
class Step:
    """An opening on the way: its hole ``depth`` mm out of the wall; ``outside``: what light from there passes of it."""

    gate: str
    depth: float = 0.0
    outside: bool = False


def ways_between(start: str, end: str, gates: Sequence[Gate]) -> list[tuple[Step, ...]]:
    """Return every way from a light's cell to a face's, as the openings passed one after the other."""
    if start == end and start != OUTSIDE:
        return [()]
    if start != OUTSIDE:
        first = () if start == HALL else (Step(start),)
        return [(*first, Step(end)) if end != HALL else first]
    entering = [gate for gate in gates if not gate.leads]
    if end == HALL:
        return [(Step(gate.id, outside=True),) for gate in entering]
    ways = [(Step(gate.id, outside=True), Step(end)) for gate in entering if gate.id != end]
    return [*ways, *((Step(gate.id, depth=gate.reveal),) for gate in entering if gate.id == end and gate.reveal > 0)]


def opened(gate: Gate, source: Array) -> Way:
    """Return what light from the outside passes of an opening: what its reveal leaves open of the hole.

    ``source`` is ``(4,)``, homogeneous: a lamp, or where parallel light comes from. A lamp within the reveal's own
    space passes all of it; one that is in the wall beside passes nothing.
    """
    shut = Way(gate=gate.id, loops=(), share=0.0)
    depth = float(gate.plane @ source)
    if gate.leads or depth <= ON_WALL:
        return shut
    whole = Way(gate=gate.id, loops=gate.loops, share=1.0)
    if gate.reveal <= 0:
        return whole
    if source[3] > 0 and depth <= gate.reveal + ON_WALL:
        return whole if stands_in(gate, source) else shut
    receiver = Receiver(source=source, matrix=gate.matrix, plane=gate.plane)
    hole, thrown = polygon(gate.loops), throw_figure(gate.loops, gate.set_out(gate.reveal), receiver)
    left = hole.intersection(thrown.shape)
    if left.is_empty or left.area == 0:
        return shut
    known = (*thrown.curves, *(curve for loop in gate.loops for curve in loop if not curve.straight))
    return Way(gate=gate.id, loops=recover_paths(left, known, FLATTENING), share=float(left.area / hole.area))


def stands_in(gate: Gate, source: Array) -> bool:
    """Return whether a lamp is straight behind an opening's hole."""
    axes = np.column_stack([gate.matrix[:3, 0], gate.matrix[:3, 1]])
    u, v = np.linalg.lstsq(axes, source[:3] - gate.matrix[:3, 2], rcond=None)[0]
    return bool(polygon(gate.loops).covers(shapely.Point(u, v)))
