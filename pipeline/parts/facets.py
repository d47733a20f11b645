"""Bodies as they are seen along a pull: the facets that look out along it, or those that look back.

Numbers stand in columns, one for each facet, since a pass over a few facets costs what its calls cost.

Terms
-----
pull
    The unit direction, built, that a part leaves its place by; it is pushed in along the reverse.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.vectors import cross

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

GRAZE = 0.1
"""mm; a part that meets another by less slides past: small things are made no truer (ISO 2768-1 m), and sheet gives."""

ALONG = 1e-4
"""Sine; a face that looks this little along the pull is slid along: over 100 mm it gains a hundredth of one."""

SHORT = 1e-12
"""mm; an edge shorter than this has no direction."""

HALF = 0.5
"""A pull this much more sideways than upright takes its frame from the vertical."""

REMEMBERED = 256
"""Frames that are kept."""

NEXT, AFTER = [1, 2, 0], [2, 0, 1]


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """The triangles of a closed body, built mm.

    ``corners`` ``(3, 3, n)``, axis by corner, with unit normals ``(3, n)`` and bounds ``low`` and ``high`` ``(3, n)``.
    """

    corners: Array
    normals: Array
    low: Array
    high: Array

    def some(self, which: slice | Indices) -> Surface:
        """Return some of them."""
        return Surface(self.corners[..., which], self.normals[:, which], self.low[:, which], self.high[:, which])


@dataclass(frozen=True, slots=True, eq=False)
class Facets:
    """Triangles that look one way along a pull, in its frame: x across, y up, z the pull; mm.

    Their corners are ``x`` and ``y`` ``(3, n)``, their bounds ``low`` and ``high`` ``(3, n)``, ``bounds`` ``(2, 3)``
    those of them all; the plane of each is z = ``at`` + ``tilt`` . (x, y), ``(n,)`` and ``(2, n)``, and ``facing``
    ``(n,)`` the cosine of its angle to the pull. Seen along the pull, a facet lies where ``sides`` . (x, y) >=
    ``reach`` for each of its three edges, ``(2, 3, n)`` of unit length and ``(3, n)``; its ``middle`` ``(2, n)`` is
    ``inset`` ``(n,)`` from the nearest.
    """

    bounds: Array
    x: Array
    y: Array
    low: Array
    high: Array
    at: Array
    tilt: Array
    facing: Array
    sides: Array
    reach: Array
    middle: Array
    inset: Array

    def moved(self, step: Array) -> Facets:
        """Return the facets moved in their frame, ``(3,)`` mm."""
        x, y, z = step
        return replace(
            self,
            bounds=self.bounds + step,
            x=self.x + x,
            y=self.y + y,
            low=self.low + step[:, None],
            high=self.high + step[:, None],
            at=self.at + (z - self.tilt[0] * x - self.tilt[1] * y),
            reach=self.reach + self.sides[0] * x + self.sides[1] * y,
            middle=self.middle + step[:2, None],
        )

    def raised(self, lift: float) -> Facets:
        """Return the facets moved along the pull, mm."""
        step = np.array([0.0, 0.0, lift])
        return replace(
            self,
            bounds=self.bounds + step,
            low=self.low + step[:, None],
            high=self.high + step[:, None],
            at=self.at + lift,
        )

    def some(self, which: slice) -> Facets:
        """Return a run of them."""
        low, high = self.low[:, which], self.high[:, which]
        return Facets(
            _bounds(low, high),
            self.x[:, which],
            self.y[:, which],
            low,
            high,
            self.at[which],
            self.tilt[:, which],
            self.facing[which],
            self.sides[:, :, which],
            self.reach[:, which],
            self.middle[:, which],
            self.inset[which],
        )

    def within(self, low: Array, high: Array, kept: NDArray[np.bool_]) -> Indices:
        """Return which of the ``kept`` ``(n,)`` reach into a rectangle between two corners ``(2,)``."""
        kept = kept & (self.low[0] < high[0] - GRAZE)
        kept &= self.high[0] > low[0] + GRAZE
        kept &= self.low[1] < high[1] - GRAZE
        kept &= self.high[1] > low[1] + GRAZE
        return kept.nonzero()[0]


def surface_of(body: Mesh) -> Surface:
    """Return the triangles of a body."""
    corners = np.ascontiguousarray(body.vertices.T)[:, body.triangles.T]
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    crossed = one[NEXT] * two[AFTER] - one[AFTER] * two[NEXT]
    size = np.sqrt(crossed[0] * crossed[0] + crossed[1] * crossed[1] + crossed[2] * crossed[2])
    return Surface(corners, np.divide(crossed, size, out=np.zeros_like(crossed), where=size > 0), *_ends(corners))


def looking(surface: Surface, pull: Array, *, out: bool) -> Facets:
    """Return those of a body's triangles that look ``out`` along a pull ``(3,)``, or else along the push."""
    return _seen(surface, _kept(surface, pull, out=out), pull)


def each_looking(surface: Surface, ends: Indices, pull: Array, *, out: bool) -> list[Facets]:
    """Return the same of many bodies, whose triangles end at ``ends``; one pass for all, since each is small."""
    kept = _kept(surface, pull, out=out)
    facets, last = _seen(surface, kept, pull), np.searchsorted(kept, ends)
    return [facets.some(slice(start, end)) for start, end in zip([0, *last[:-1]], last, strict=True)]


def _kept(surface: Surface, pull: Array, *, out: bool) -> Indices:
    facing = pull @ surface.normals
    return (facing > ALONG if out else facing < -ALONG).nonzero()[0]


def _seen(surface: Surface, kept: Indices, pull: Array) -> Facets:
    frame = frame_of(pull)
    corners = (frame.T @ surface.corners[:, :, kept].reshape(3, -1)).reshape(3, 3, -1)
    normal = frame.T @ surface.normals[:, kept]
    x, y, z = corners
    tilt = -normal[:2] / normal[2]
    at = z[0] - (x[0] * tilt[0] + y[0] * tilt[1])
    along, up = x[NEXT] - x, y[NEXT] - y
    turn = np.sign(normal[2]) / np.maximum(np.sqrt(along * along + up * up), SHORT)
    sides = np.stack([-up * turn, along * turn])
    reach = sides[0] * x + sides[1] * y
    low, high = _ends(corners)
    middle = (corners[:2, 0] + corners[:2, 1] + corners[:2, 2]) / 3
    inset = (sides[0] * middle[0] + sides[1] * middle[1] - reach).min(axis=0)
    return Facets(_bounds(low, high), x, y, low, high, at, tilt, np.abs(normal[2]), sides, reach, middle, inset)


def frame_of(pull: Array) -> Array:
    """Return a frame ``(3, 3)`` with a pull ``(3,)`` for its z, its axes in columns."""
    return _frame(*pull.tolist())


@lru_cache(maxsize=REMEMBERED)  # all parts share a few
def _frame(*along: float) -> Array:
    pull = np.array(along)
    hint = [1.0, 0.0, 0.0] if abs(pull[0]) < abs(pull[2]) + HALF else [0.0, 0.0, 1.0]
    across = frames.unit(cross(pull, np.array(hint)))
    frame = np.column_stack([across, cross(pull, across), pull])
    frame.setflags(write=False)
    return frame


def _ends(corners: Array) -> tuple[Array, Array]:
    """Return the bounds ``(3, n)`` of triangles ``(3, 3, n)``."""
    one, two, three = corners[:, 0], corners[:, 1], corners[:, 2]
    return np.minimum(np.minimum(one, two), three), np.maximum(np.maximum(one, two), three)


def _bounds(low: Array, high: Array) -> Array:
    """Return the bounds ``(2, 3)`` of facets; of none, none that reach anywhere."""
    return np.array([low.min(axis=1, initial=np.inf), high.max(axis=1, initial=-np.inf)])
