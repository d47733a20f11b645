"""How far the eye may move before what is built no longer looks like what is imagined.

Terms
-----
move
    From the eye to where it really is, mm, built frame.
parallax
    The angle, at the moved eye, between where a built point is seen and where the imagined point it stands for would
    be. At the eye itself it is zero: the two lie on one ray.
reach
    How far the eye may go in a direction before the parallax of any point comes to a limit.
crease
    Where straight imagined lines are built with a bend, at the end of an apron. From the eye it does not show.
offset
    How far a crease stands off the straight line between the ends of what it bends, as an angle at the moved eye.

With r and r' the distances to the imagined and the built point along their ray d (unit), and m the move,

    (P - m) x (P' - m) = (r' - r) d x m,        (P - m) . (P' - m) = r r' - (r + r') d . m + m . m

so that the parallax is atan2 of the two, and the step s along a unit direction u at which it becomes t is the smaller
root of  sin t s^2 - (sin t (r + r') d.u + cos t (r - r') |d x u|) s + sin t r r' = 0. For one on the axis and a step
sideways this is, to first order, the formula of stereo disparity, s (L - d) / ((D + d) (D + L)).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry.vectors import cross, lengths

Array = NDArray[np.float64]

NEAREST, FARTHEST = 0.01, 1000.0
"""mm; the moves among which a crease's first showing is looked for."""
STEPS = 60
"""Of them, in equal ratios."""
HALVINGS = 40
"""Of the step it comes to show in: far below a nanometre."""
POINT = 1e-9
"""Sine of the angle between a line's ends under which it runs into the eye and is seen as a point."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sights:
    """Points an eye sees, each built and imagined on one ray.

    Attributes
    ----------
    eye
        ``(3,)``, built mm.
    ways
        ``(n, 3)`` unit directions of the rays.
    built, imagined
        ``(n,)`` distances along them, mm.
    """

    eye: Array
    ways: Array
    built: Array
    imagined: Array


def sights(eye: ArrayLike, points_built: Array, points_imagined: Array) -> Sights:
    """Return points ``(n, 3)`` as an eye ``(3,)`` sees them, mm; those that stand where they are imagined left out."""
    at = np.asarray(eye, dtype=np.float64)
    built = np.linalg.norm(points_built - at, axis=1)
    imagined = np.linalg.norm(points_imagined - at, axis=1)
    moved = imagined > built * (1 + 1e-12)
    ways = (points_built[moved] - at) / built[moved, None]
    return Sights(eye=at, ways=ways, built=built[moved], imagined=imagined[moved])


def parallax(seen: Sights, moves: ArrayLike) -> Array:
    """Return the largest parallax of any point for each move ``(k, 3)``, rad; zero where nothing is seen."""
    steps = np.atleast_2d(np.asarray(moves, dtype=np.float64))
    if len(seen.ways) == 0:
        return np.zeros(len(steps))
    return np.array([_parallax(seen, step).max() for step in steps])


def reach(seen: Sights, directions: ArrayLike, limits_rad: ArrayLike) -> Array:
    """Return how far the eye may go in each direction ``(k, 3)`` before any parallax comes to a limit, mm.

    One row for each of the limits ``(l,)``: ``(l, k)``; infinite where none ever does.
    """
    limits = np.atleast_1d(np.asarray(limits_rad, dtype=np.float64))
    sines, cosines = np.sin(limits), np.cos(limits)
    product, both, apart = seen.imagined * seen.built, seen.imagined + seen.built, seen.imagined - seen.built
    ways = _units(directions)
    out = np.full((len(limits), len(ways)), np.inf)
    for column, way in enumerate(ways if len(product) else ()):
        along = both * (seen.ways @ way)
        across = apart * lengths(cross(seen.ways, way))
        for row, (sine, cosine) in enumerate(zip(sines, cosines, strict=True)):
            middle = sine * along + cosine * across
            square = middle**2 - 4 * sine**2 * product
            met = (middle > 0) & (square >= 0)
            if met.any():
                # The smaller root in the form that does not subtract two nearly equal numbers.
                out[row, column] = (2 * sine * product[met] / (middle[met] + np.sqrt(square[met]))).min()
    return out


def offset(eye: ArrayLike, bends: Array, moves: ArrayLike) -> Array:
    """Return the largest offset of any crease for each move ``(k, 3)``, rad.

    ``bends`` is ``(n, 3, 3)``: the near end, the crease and the far end of each bent line, built mm.
    """
    at = np.asarray(eye, dtype=np.float64) + np.atleast_2d(np.asarray(moves, dtype=np.float64))
    near, crease, far = (bends[None, :, k] - at[:, None] for k in range(3))
    across = cross(near, far)
    size = lengths(across) * lengths(crease)
    flat = lengths(across) <= POINT * lengths(near) * lengths(far)
    volume = np.abs(np.einsum("kni,kni->kn", across, crease))
    sine = np.where(flat, 0.0, volume / np.where(flat, 1.0, size))
    out: Array = np.arcsin(np.minimum(sine, 1.0)).max(axis=1, initial=0.0)
    return out


def crease_reach(eye: ArrayLike, bends: Array, directions: ArrayLike, limit_rad: float) -> Array:
    """Return how far the eye may go in each direction ``(k, 3)`` before any offset comes to the limit, mm.

    Infinite where none does within ``FARTHEST``. Looked for outward, then by halving.
    """
    ways = _units(directions)
    if len(bends) == 0:
        return np.full(len(ways), np.inf)
    tried = np.geomspace(NEAREST, FARTHEST, STEPS)
    over = np.array([offset(eye, bends, step * ways) >= limit_rad for step in tried])
    first = over.argmax(axis=0)
    high, low = tried[first], np.where(first > 0, tried[np.maximum(first - 1, 0)], 0.0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        shows = offset(eye, bends, middle[:, None] * ways) >= limit_rad
        low, high = np.where(shows, low, middle), np.where(shows, middle, high)
    out: Array = np.where(over.any(axis=0), high, np.inf)
    return out


def _parallax(seen: Sights, move: Array) -> Array:
    across = (seen.imagined - seen.built) * lengths(cross(seen.ways, move))
    together = seen.imagined * seen.built - (seen.imagined + seen.built) * (seen.ways @ move) + move @ move
    out: Array = np.arctan2(across, together)
    return out


def _units(directions: ArrayLike) -> Array:
    rows = np.atleast_2d(np.asarray(directions, dtype=np.float64))
    out: Array = rows / np.linalg.norm(rows, axis=1)[:, None]
    return out
