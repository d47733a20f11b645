"""Lines drawn on surfaces into a picture: how much of each pixel they cover, seen surfaces only.

Terms
-----
run
    The way a stroke goes fastest, columns or rows; it is sampled once a pixel along it.
side
    The other way; each sample is shared between the two pixels it lies between (X. Wu, *An Efficient Antialiasing
    Technique*, 1991).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Cover = NDArray[np.float32]

DEPTH_SLACK = 0.03
"""Relative difference of nearness up to which a line still lies on what a pixel shows; a pixel is a slanted patch."""
DENSE = 0.4
"""Cover, averaged over 5 x 5 pixels, above which lines fade: closer than some two pixels they would turn black."""


def cover(
    ends: Array,
    nearness: Array,
    weights: Array,
    *,
    parts: NDArray[np.integer],
    seen_part: NDArray[np.integer],
    seen_nearness: NDArray[np.floating],
) -> Cover:
    """Return the cover ``(h, w)`` in [0, 1] of strokes in a picture.

    Parameters
    ----------
    ends
        ``(n, 2, 2)`` columns and rows of the strokes' ends, pixel centres whole.
    nearness
        ``(n, 2)`` at the ends (see ``camera.project``).
    weights
        ``(n, 2)`` widths at the ends, pixels.
    parts
        ``(n,)`` number of the surface each stroke lies on.
    seen_part
        ``(h, w)`` number of the surface each pixel shows, -1 for none.
    seen_nearness
        ``(h, w)`` of what it shows.
    """
    height, width = seen_part.shape
    steep = np.abs(ends[:, 1, 1] - ends[:, 0, 1]) > np.abs(ends[:, 1, 0] - ends[:, 0, 0])
    places, amounts = [], []
    for chosen, run, side in ((np.flatnonzero(~steep), 0, 1), (np.flatnonzero(steep), 1, 0)):
        size, across = (height, width) if run else (width, height)
        stroke, at, beside, near, amount = _samples(
            ends[chosen][:, :, run], ends[chosen][:, :, side], nearness[chosen], weights[chosen], size
        )
        below = np.floor(beside).astype(np.int32)
        above_share = beside - below
        part = parts[chosen][stroke]
        for step, share in ((0, amount * (1 - above_share)), (1, amount * above_share)):
            other = below + step
            fits = (other >= 0) & (other < across)
            pixel = np.where(fits, at * width + other if run else at + other * width, 0)
            seen = fits & (seen_part.ravel()[pixel] == part)
            seen &= np.abs(seen_nearness.ravel()[pixel] - near) <= DEPTH_SLACK * near
            places.append(pixel[seen])
            amounts.append(share[seen])
    total = np.bincount(np.concatenate(places), np.concatenate(amounts), height * width)
    return _faded(total.reshape(height, width).astype(np.float32))


def _samples(
    run: Array, side: Array, nearness: Array, weights: Array, size: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], Array, Array, Array]:
    """Return stroke number, place along the run, place aside, nearness and amount of every sample."""
    swap = run[:, 0] > run[:, 1]
    run, side, nearness, weights = (np.where(swap[:, None], a[:, ::-1], a) for a in (run, side, nearness, weights))
    first = np.maximum(np.round(run[:, 0]), 0).astype(np.int32)
    last = np.minimum(np.round(run[:, 1]), size - 1).astype(np.int32)
    counts = np.maximum(last - first + 1, 0)
    stroke = np.repeat(np.arange(len(run)), counts)
    at = np.arange(len(stroke)) - np.repeat(np.cumsum(counts) - counts - first, counts)
    span = run[:, 1] - run[:, 0]
    t = np.clip((at - run[stroke, 0]) / np.where(span > 0, span, 1)[stroke], 0, 1)
    length = np.minimum(at + 0.5, run[stroke, 1]) - np.maximum(at - 0.5, run[stroke, 0])
    slant = np.hypot(1, (side[:, 1] - side[:, 0]) / np.where(span > 0, span, 1))

    def between(ends: Array) -> Array:
        value: Array = ends[stroke, 0] + t * (ends[:, 1] - ends[:, 0])[stroke]
        return value

    amount = between(weights) * np.maximum(length, 0) * slant[stroke]
    return stroke, at, between(side), between(nearness), amount


def _faded(amount: Cover) -> Cover:
    padded = np.pad(amount, 2)
    height, width = amount.shape
    rows = padded[:height] + padded[1:-3] + padded[2:-2] + padded[3:-1] + padded[4:]
    density = rows[:, :width] + rows[:, 1:-3] + rows[:, 2:-2] + rows[:, 3:-1] + rows[:, 4:]
    density /= np.float32(25)
    out: Cover = np.minimum(amount * (DENSE / np.maximum(density, DENSE)), 1)
    return out
