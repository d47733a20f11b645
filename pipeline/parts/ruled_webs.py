"""A web by its rulings: which of them stands under a point of the bent sheet, and how deep the point lies there.

Terms
-----
place
    Where a ruling stands on a web: the number of its piece, and how far along that, from 0 to 1.
foot
    Where a ruling begins, on the web's near border.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.vectors import cross
from pipeline.parts.webs import BuiltWeb

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Span = tuple[float, float]

ROUNDS = 12
"""Newton steps, more than ever needed; they double the digits."""
FOUND = 1e-6
"""mm; a point this near to the plane of a ruling and its normal has that ruling for its foot."""
STEP = 1e-3
"""Of a piece; far enough to tell a slope."""
SAME = 1e-7
"""Of a piece; rulings nearer than this are one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RuledWeb:
    """A web by its rulings: ``(m,)`` places, growing, and ``(m, 3)`` feet on its near border, rulings and normals."""

    id: str
    thickness: float
    at: Array
    feet: Array
    rulings: Array
    normals: Array
    lengths: Array

    def frames(self, places: Array) -> tuple[Array, Array, Array]:
        """Return feet, unit rulings and unit normals at places ``(n,)``."""
        feet, rulings, normals = (_at(places, self.at, values) for values in (self.feet, self.rulings, self.normals))
        return feet, unit(rulings), unit(normals)

    def beside(self, places: Array, points: Array) -> Array:
        """Return how far points lie beside the planes of rulings and their normals, ``(n,)``."""
        feet, rulings, normals = self.frames(places)
        out: Array = np.einsum("ij,ij->i", points - feet, cross(normals, rulings))
        return out

    def feet_of(self, points: Array, guess: Array, span: Span) -> tuple[Array, Flags]:
        """Return the places of the rulings whose normals go through points ``(n, 3)``, and which of them have one."""
        places = np.clip(guess, *span)
        for _ in range(ROUNDS):
            low, high = np.clip(places - STEP, *span), np.clip(places + STEP, *span)
            slope = (self.beside(high, points) - self.beside(low, points)) / (high - low)
            off = self.beside(places, points)
            moved = np.clip(places - np.divide(off, slope, out=np.zeros_like(off), where=slope != 0), *span)
            still = bool(np.abs(moved - places).max(initial=0.0) < SAME * STEP)
            places = moved
            if still:
                break
        return places, np.abs(self.beside(places, points)) < FOUND

    def seen_from(self, places: Array, points: Array) -> tuple[Array, Array]:
        """Return how far along their rulings points lie, and how deep behind the visible face, ``(n,)``."""
        feet, rulings, normals = self.frames(places)
        away = points - feet
        return np.einsum("ij,ij->i", away, rulings), -np.einsum("ij,ij->i", away, normals)


def ruled_web(built: BuiltWeb) -> RuledWeb:
    """Return a built web by its rulings, mm."""
    ones = [piece.unrolled for piece in built.pieces]
    return RuledWeb(
        id=built.web.id,
        thickness=built.web.sheet.thickness,
        at=np.concatenate([number + one.t for number, one in enumerate(ones)]),
        feet=np.concatenate([one.near for one in ones]),
        rulings=np.concatenate([one.rulings for one in ones]),
        normals=np.concatenate([one.normals for one in ones]),
        lengths=np.concatenate([one.lengths for one in ones]),
    )


def _at(places: Array, at: Array, values: Array) -> Array:
    return np.column_stack([np.interp(places, at, column) for column in values.T])


def unit(vectors: Array) -> Array:
    """Return vectors ``(n, k)`` at length 1."""
    out: Array = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return out
