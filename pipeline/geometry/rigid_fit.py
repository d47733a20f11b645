"""The rigid motion that brings one shape nearest to another, its worst place being as near as it can be.

Terms
-----
old, new
    The shape that is moved, and the one it is moved onto, in the plane or in space; never mirrored.
sight
    Points of one shape and the other one as their target: from the old to the new, or back.
deviation
    The largest distance of any point from its target, both ways: Hausdorff's distance.
bound
    No small motion from where the search ended brings the deviation below it, to first order.

Every step linearises the ways in the motion, r + A m, and takes the m whose worst is least: Chebyshev's problem, solved
by Lawson's weights (C. L. Lawson, *Contributions to the theory of linear least maximum approximation*, 1961). The
weighted least squares of any weights that sum to one bound that worst from below, which tells how near it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.nearest import Target

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

FEW = 500
"""Points of each sight that the search begins with."""
ADDED = 60
"""Points added where they lie worse than all those the search went by."""
EXCHANGES = 6
ROUNDS = 40
"""Linearisations; each that does not better the deviation is halved, and a few halvings end the search."""
SHORTENINGS = 6
WEIGHINGS = 400
"""Of Lawson's, at most, within each."""
SQUARE = 0.9
"""Cosine between the way to a piece and its normal (26 degrees) from which on it is faced squarely: facets of curves
are, corners are not."""
CLOSE = 1e-3
"""Share of the worst by which it may lie above its bound."""
NEARINGS = 30
"""Least squares, before the worst place is looked at: they lead past what only a start far off would stop at."""
SAME = 1e-3
"""mm; a bettering by less ends the search: a micron is nothing at the bench."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """Points ``(n, d)`` of one shape, and the other as their target; ``forward`` from the old to the new."""

    points: Array
    target: Target
    forward: bool

    def some(self, rows: Indices) -> Sight:
        """Return some of its points only."""
        return replace(self, points=self.points[rows], target=self.target.of_some(rows))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """How the old lies best on the new.

    Attributes
    ----------
    turn
        ``(d, d)`` rotation; a point p of the old goes to ``turn @ p + step``.
    step
        ``(d,)`` mm.
    deviation, bound
        mm.
    at
        ``(d,)`` the worst place, on the new.
    """

    turn: Array
    step: Array
    deviation: float
    bound: float
    at: Array

    def move(self, points: Array) -> Array:
        """Return points ``(n, d)`` of the old where they come to lie."""
        out: Array = points @ self.turn.T + self.step
        return out

    def move_back(self, points: Array) -> Array:
        """Return where points ``(n, d)`` of the new lie on the old."""
        out: Array = (points - self.step) @ self.turn
        return out


def best_fit(sights: Sequence[Sight], turn: Array, step: Array) -> Fit:
    """Return the best fit found from a start, a turn ``(d, d)`` and a step ``(d,)``, which must lie about right.

    It is sought by some of the points, to which those are added that then turn out to lie worse than all of them.
    """
    some = [_thinned(len(sight.points)) for sight in sights]
    best: Fit | None = None
    for _ in range(EXCHANGES):
        few = [sight.some(rows) for sight, rows in zip(sights, some, strict=True)]
        found = _sought(few, turn, step)
        pairs = [_pairs(sight, found) for sight in sights]
        apart = [np.linalg.norm(moving - still, axis=1) for moving, still, _ in pairs]
        whole = _worst(pairs, found)
        if best is None or whole.deviation < best.deviation:
            best = replace(whole, bound=min(found.bound, whole.deviation))
        if whole.deviation - found.deviation < SAME:
            break
        some = [
            np.union1d(rows, np.argsort(-distances, kind="stable")[:ADDED])
            for rows, distances in zip(some, apart, strict=True)
        ]
        turn, step = best.turn, best.step
    if best is None:
        raise AssertionError("at least one exchange is made")
    return best


def _thinned(count: int) -> Indices:
    return np.arange(0, count, max(1, -(-count // FEW)))


def _sought(sights: Sequence[Sight], turn: Array, step: Array) -> Fit:
    here = _neared(sights, _deviation(sights, turn, step))
    bound = 0.0
    for _ in range(ROUNDS):
        matrix, values, groups, about = _linearised(sights, here)
        change, bound = least_worst(matrix, values, groups)
        before = here.deviation
        for halving in range(SHORTENINGS):
            moved = _deviation(sights, *_moved(here, change * 0.5**halving, about))
            if moved.deviation < here.deviation:
                here = moved
                break
        if before - here.deviation < SAME:
            break
    return Fit(turn=here.turn, step=here.step, deviation=here.deviation, bound=min(bound, here.deviation), at=here.at)


def _neared(sights: Sequence[Sight], start: Fit) -> Fit:
    """Return the best of the fits by least squares of the distances, one after another."""
    here = best = start
    for _ in range(NEARINGS):
        matrix, values, _, about = _linearised(sights, here)
        change: Array = -np.linalg.lstsq(matrix, values, rcond=1e-12)[0].astype(np.float64)
        here = _deviation(sights, *_moved(here, change, about))
        if here.deviation < best.deviation:
            best = here
        if np.abs(change).max() < SAME:
            break
    return best


def least_worst(matrix: Array, values: Array, groups: Indices) -> tuple[Array, float]:
    """Return the m ``(k,)`` for which the worst length of ``values + matrix m`` is least, and a bound below that worst.

    ``groups`` ``(n,)``, rising from 0, tells which rows are the components of one length.
    """
    count = int(groups[-1]) + 1
    weights = np.full(count, 1 / count)
    best, worst, bound = np.zeros(matrix.shape[1]), float(_lengths(values, groups).max()), 0.0
    for _ in range(WEIGHINGS):
        weighted = matrix * weights[groups, None]
        change = -np.linalg.lstsq(weighted.T @ matrix, weighted.T @ values, rcond=1e-12)[0]
        errors = _lengths(values + matrix @ change, groups)
        bound = max(bound, float(np.sqrt(weights @ errors**2)))
        if errors.max() < worst:
            best, worst = change, float(errors.max())
        total = float(weights @ errors)
        if worst - bound < CLOSE * worst or total == 0:
            break
        weights = weights * errors / total
    return best, bound


def _lengths(values: Array, groups: Indices) -> Array:
    out: Array = np.sqrt(np.bincount(groups, values**2))
    return out


def _deviation(sights: Sequence[Sight], turn: Array, step: Array) -> Fit:
    here = Fit(turn=turn, step=step, deviation=0.0, bound=0.0, at=step)
    return _worst([_pairs(sight, here) for sight in sights], here)


def _worst(pairs: Sequence[tuple[Array, Array, Array]], here: Fit) -> Fit:
    """Return a fit with the deviation that its pairs have."""
    far, at = 0.0, here.step
    for moving, still, _ in pairs:
        apart = np.linalg.norm(moving - still, axis=1)
        worst = int(apart.argmax()) if len(apart) else -1
        if worst >= 0 and apart[worst] > far:
            far, at = float(apart[worst]), still[worst]
    return replace(here, deviation=far, bound=0.0, at=at)


def _pairs(sight: Sight, here: Fit) -> tuple[Array, Array, Array]:
    """Return places of the old where they come to lie, those of the new they are held against, and their normals."""
    if sight.forward:
        moved = here.move(sight.points)
        places, which = sight.target.nearest(moved)
        return moved, places, sight.target.normals(which)
    places, which = sight.target.nearest(here.move_back(sight.points))
    return here.move(places), sight.points, sight.target.normals(which) @ here.turn.T


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _About:
    """What a turning goes about ``(d,)``, and the size of the shape, mm: turns are told as steps at that distance."""

    middle: Array
    size: float


def _linearised(sights: Sequence[Sight], here: Fit) -> tuple[Array, Array, Indices, _About]:
    """Return the slopes ``(n, k)`` of all distances, what they are now ``(n,)``, their groups, and what turns go about.

    Columns are the steps along the axes, then the turns about them. A place that faces a piece squarely may slide along
    it, so only its distance counts; one at a corner may not, and all components of the way to it count together.
    """
    pairs = [_pairs(sight, here) for sight in sights]
    moving, still, normals = (np.concatenate(side) for side in zip(*pairs, strict=True))
    axes = moving.shape[1]
    apart = moving - still
    low, high = moving.min(axis=0), moving.max(axis=0)
    about = _About(middle=(low + high) / 2, size=float(np.linalg.norm(high - low)) / 2)
    arms = (moving - about.middle) / about.size
    across = np.einsum("ij,ij->i", apart, normals)
    square = (normals != 0).any(axis=1) & (np.abs(across) >= SQUARE * np.linalg.norm(apart, axis=1))
    facing, corner = np.flatnonzero(square), np.flatnonzero(~square)
    owner = np.concatenate([facing, np.repeat(corner, axes)])
    ways = np.concatenate([normals[facing], np.tile(np.eye(axes), (len(corner), 1))])
    values = np.concatenate([across[facing], apart[corner].ravel()])
    if axes == 2:
        turns = (arms[owner, 0] * ways[:, 1] - arms[owner, 1] * ways[:, 0])[:, None]
    else:
        turns = np.cross(arms[owner], ways)
    order = np.argsort(owner, kind="stable")
    return np.column_stack([ways, turns])[order], values[order], owner[order], about


def _moved(here: Fit, change: Array, about: _About) -> tuple[Array, Array]:
    """Return the rotation and the step after a further small motion."""
    count = len(about.middle)
    extra = rotation(change[count:] / about.size)
    return extra @ here.turn, extra @ (here.step - about.middle) + about.middle + change[:count]


def rotation(turns: Array) -> Array:
    """Return the rotation of one angle in the plane, or about three axes at once (Rodrigues), rad."""
    if len(turns) == 1:
        cosine, sine = np.cos(turns[0]), np.sin(turns[0])
        return np.array([[cosine, -sine], [sine, cosine]])
    angle = float(np.linalg.norm(turns))
    if angle == 0:
        return np.eye(3)
    x, y, z = turns / angle
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    out: Array = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * (cross @ cross)
    return out
