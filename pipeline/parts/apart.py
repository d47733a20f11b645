"""Which bodies are told apart from one another by how far they reach along a few directions.

Of two bodies, one of which is pulled along p and sweeps everything before it, a direction n with n . p >= 0 says that
they do not meet where the other reaches no farther along n than the first begins:

    n . q <= n . r  for all q, r of the two,  and so  h_other - h_part <= 0  on every line of the pull

A little more is let go, as much as ``GRAZE`` lets go: g n . p along n leaves g along the pull, and where n is square to
it, what two bodies have in common, seen along the pull, is no wider than what they have in common along n.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, join
from pipeline.parts.facets import GRAZE
from pipeline.parts.pushing import STRAIGHT_OUT, TOUCH

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

AROUND = 8
"""Directions on half a turn about the way in; twice as many tell hardly more bodies apart."""

SQUARE = 1e-9
"""Sine; a direction this square to the pull is square to it."""

OUT = np.array(STRAIGHT_OUT)

DECIMALS = 6
"""Of directions; two that agree to these are one."""


@dataclass(frozen=True, slots=True, eq=False)
class Along:
    """The ``ways`` ``(d, 3)`` that do not look against a pull.

    ``low`` and ``high`` ``(d, n)`` say from where to where bodies reach along them, and ``slack`` ``(d,)`` by how much
    two may overlap and still pass.
    """

    ways: Array
    low: Array
    high: Array
    slack: Array


class Spread:
    """How far bodies reach along a few directions, those of ``normals`` ``(n, 3)`` among them."""

    def __init__(self, bodies: Sequence[Mesh], normals: Sequence[Array]) -> None:
        turn = np.arange(AROUND) * np.pi / AROUND
        flat = np.column_stack([np.cos(turn), np.zeros(AROUND), np.sin(turn)])
        ways = np.unique(np.round(np.vstack([flat, STRAIGHT_OUT, *normals]), DECIMALS), axis=0)
        joined = join(list(bodies)).vertices @ ways.T
        starts = np.cumsum([0, *(len(body.vertices) for body in bodies[:-1])])
        low, high = np.minimum.reduceat(joined, starts), np.maximum.reduceat(joined, starts)
        self._ways: Array = np.vstack([ways, -ways])
        self._low: Array = np.hstack([low, -high]).T
        self._high: Array = np.hstack([high, -low]).T
        self._along_of: dict[bytes, Along] = {}

    def cleared(self, part: int, off: Array) -> Flags:
        """Return which bodies are surely not in the way of one that is pulled straight out from ``off`` its place.

        ``off`` is ``(3,)``, mm; the result ``(n,)``, one for each body.
        """
        along = self._along(OUT)
        start = along.low[:, part] + along.ways @ off
        out: Flags = np.logical_or.reduce(along.high <= (start + along.slack)[:, None])
        return out

    def cleared_home(self, part: int, off: Array) -> Flags:
        """Return which bodies ``(n,)`` one surely does not meet from its place to where it is held, ``off`` it."""
        along = self._along(off / np.linalg.norm(off))
        end = along.high[:, part] + along.ways @ off
        out: Flags = np.logical_or.reduce(along.low >= (end - along.slack)[:, None])
        out |= np.logical_or.reduce(along.high < (along.low[:, part] - TOUCH)[:, None])
        return out

    def _along(self, pull: Array) -> Along:
        key = pull.tobytes()
        if key not in self._along_of:
            rise = self._ways @ pull
            kept = np.flatnonzero(rise > -SQUARE)
            slack = GRAZE * np.where(rise[kept] < SQUARE, 1.0, rise[kept])
            self._along_of[key] = Along(self._ways[kept], self._low[kept], self._high[kept], slack)
        return self._along_of[key]
