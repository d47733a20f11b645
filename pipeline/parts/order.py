"""The order of work: what is glued in first, so that the rest can be pushed in past it.

It is found backwards, by taking the finished room apart: of all parts that can be pulled out past those still there,
the one a person would have put in last goes first. A part that once can be pulled out always can, since the others only
become fewer; so if there is any order in which every part can be pushed in, one is found. Where all lock one another,
the part with the fewest others in its way is taken out through them, and named.

A person would put in sheets before bent sheets before prints, and last of all what closes the opening; the back before
the front; and of sheets that reach equally far back the one that leans the most from the way they are pushed in, since
one that leans less slides out over its mitre.

Terms
-----
hold-off
    The way from a part's place to where it is held while it is pushed straight in; it is then set home along it. None
    for most. Sheets are held off square to their face, other things below their place or nearer the room's middle.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, join
from pipeline.parts.apart import Spread
from pipeline.parts.facets import Facets, Surface, each_looking, frame_of, looking, surface_of
from pipeline.parts.pushing import STRAIGHT_OUT, in_the_way, lifted_into

Array = NDArray[np.float64]

Rank = tuple[int, float, float, int]
Vector = tuple[float, float, float]
Ways = tuple[bool, bool]

HOME: Vector = (0.0, 0.0, 0.0)
"""The hold-off of a part that is pushed straight in."""

NEAR, FAR = 6.0, 16.0
"""mm that a part may be held off its place; farther, and it is no longer set home but moved about in the room."""

SIDEWAYS = 2.0
"""mm beside the middle; what stands nearer has no side to be held off to."""

DECIMALS = 6
"""mm; a hold-off is what the list of parts gives."""

OUT = np.array(STRAIGHT_OUT)

ROUNDING = 1e-3
"""mm; as far as a part may lie outside the box."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One thing to be glued in.

    Attributes
    ----------
    id
        Of the part, or of the print whose pieces are joined before they go in.
    body
        Closed, built mm.
    kind
        0 for a sheet, 1 for a bent one, 2 for a print, 3 for what closes the opening.
    normal
        ``(3,)`` unit normal of a sheet's visible face, built; nothing for what is no flat sheet.
    """

    id: str
    body: Mesh
    kind: int
    normal: Array | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the work: a part, and its hold-off, built mm; nothing where there is no way in past those before."""

    id: str
    held_off: Vector | None


class Bench:
    """The pieces, with what was once found of them; ``box`` is its inside, mm."""

    def __init__(self, pieces: tuple[Piece, ...], box: Vector) -> None:
        self.pieces = {piece.id: piece for piece in pieces}
        self._box = box
        self._ids = tuple(self.pieces)
        self._at = {name: number for number, name in enumerate(self._ids)}
        self._lows = np.array([piece.body.vertices.min(axis=0) for piece in pieces])
        self._highs = np.array([piece.body.vertices.max(axis=0) for piece in pieces])
        self._low = dict(zip(self._ids, self._lows, strict=True))
        self._high = dict(zip(self._ids, self._highs, strict=True))
        self._back: dict[tuple[str, Vector], Facets] = {}
        self._leading: dict[tuple[str, Vector], Facets] = {}
        self._hold_offs: dict[str, tuple[Vector, ...]] = {}
        self._near: dict[tuple[str, Vector], dict[str, Ways]] = {}
        self._met: dict[tuple[str, str, Vector], bool] = {}

    @property
    def inputs(self) -> tuple[object, ...]:
        """Everything that is found of the pieces depends on."""
        return self.pieces, self._box

    def hold_offs(self, part: str) -> tuple[Vector, ...]:
        """Return where a part may be held while it is pushed in, its place first; all within the box's sides."""
        if part not in self._hold_offs:
            offs = [_triple(off) for off in self._offs(part)]
            self._hold_offs[part] = (HOME, *(off for off in offs if self._inside(part, off)))
        return self._hold_offs[part]

    def _offs(self, part: str) -> tuple[Array, ...]:
        normal = self.pieces[part].normal
        if normal is not None:
            return NEAR * normal, FAR * normal
        down, middle = np.array([0.0, 0.0, -1.0]), float(self._low[part][0] + self._high[part][0]) / 2
        if abs(middle) < SIDEWAYS:
            return (NEAR * down,)
        inward = np.array([-np.sign(middle), 0.0, 0.0])
        return NEAR * down, NEAR * inward, FAR / np.sqrt(2) * (down + inward)

    def _inside(self, part: str, off: Vector) -> bool:
        width, height, _ = self._box
        low, high = self._low[part] + np.array(off), self._high[part] + np.array(off)
        return bool(
            low[0] >= -width / 2 - ROUNDING and high[0] <= width / 2 + ROUNDING
            and low[2] >= -ROUNDING and high[2] <= height + ROUNDING
        )  # fmt: skip

    @cached_property
    def _spread(self) -> Spread:
        normals = [piece.normal for piece in self.pieces.values() if piece.normal is not None]
        return Spread([piece.body for piece in self.pieces.values()], normals)

    def _close(self, part: str, off: Vector) -> dict[str, Ways]:
        """Return the others that a part may meet on its way in, and on which of its ways: straight, and set home."""
        if (part, off) not in self._near:
            low, high, way, number = self._low[part], self._high[part], np.array(off), self._at[part]
            low, high = low + np.minimum(way, 0.0), high + np.maximum(way, 0.0)
            met = (self._lows[:, 0] < high[0]) & (low[0] < self._highs[:, 0]) & (self._lows[:, 1] < high[1])
            met &= (self._lows[:, 2] < high[2]) & (low[2] < self._highs[:, 2])
            met[number] = False
            straight = met & ~self._spread.cleared(number, way)
            home = np.zeros_like(met) if off == HOME else met & ~self._spread.cleared_home(number, way)
            self._near[part, off] = {
                self._ids[k]: (bool(straight[k]), bool(home[k])) for k in np.flatnonzero(straight | home)
            }
        return self._near[part, off]

    def meets(self, part: str, other: str, off: Vector) -> bool:
        """Return whether another is in a part's way."""
        key = (part, other, off)
        if key not in self._met:
            straight, home = self._close(part, off).get(other, (False, False))
            self._met[key] = (straight and in_the_way(self._inward(part, off), self._outward[other])) or (
                home and self._set_home_through(part, other, np.array(off))
            )
        return self._met[key]

    def _set_home_through(self, part: str, other: str, off: Array) -> bool:
        lift = float(np.linalg.norm(off))
        along = off / lift
        low, high = self._low[part] + np.minimum(off, 0.0), self._high[part] + np.maximum(off, 0.0)
        near = _reaching(self._surfaces[other], low, high)
        if near is None:
            return False
        key = part, _triple(along)
        if key not in self._leading:
            self._leading[key] = looking(self._surfaces[part], along, out=True)
        return lifted_into(self._leading[key], looking(near, along, out=False), lift)

    @cached_property
    def _whole(self) -> Surface:
        return surface_of(join([piece.body for piece in self.pieces.values()]))

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        """Where in the whole each piece's triangles end."""
        return np.cumsum([len(piece.body.triangles) for piece in self.pieces.values()])

    @cached_property
    def _surfaces(self) -> dict[str, Surface]:
        starts = [0, *self._ends[:-1]]
        return {
            name: self._whole.some(slice(start, end))
            for name, start, end in zip(self._ids, starts, self._ends, strict=True)
        }

    @cached_property
    def _outward(self) -> dict[str, Facets]:
        """What of each piece looks out of the opening."""
        return dict(zip(self._ids, each_looking(self._whole, self._ends, OUT, out=True), strict=True))

    @cached_property
    def _at_home(self) -> dict[str, Facets]:
        """What of each piece looks into the box."""
        return dict(zip(self._ids, each_looking(self._whole, self._ends, OUT, out=False), strict=True))

    def _inward(self, part: str, off: Vector) -> Facets:
        """Return what of a part looks into the box, held off its place."""
        if off == HOME:
            return self._at_home[part]
        if (part, off) not in self._back:
            self._back[part, off] = self._at_home[part].moved(np.array(off) @ frame_of(OUT))
        return self._back[part, off]

    def blocker(self, part: str, others: Iterable[str], off: Vector) -> str | None:
        """Return one of others that is in a part's way, or nothing."""
        near = self._close(part, off)
        there = [other for other in others if other in near]
        there.sort(
            key=lambda other: not self._met.get((part, other, HOME), False)
        )  # what stops it there may stop it here
        return next((other for other in there if self.meets(part, other, off)), None)

    def blockers(self, part: str, others: Iterable[str], off: Vector) -> tuple[str, ...]:
        """Return those of others that are in a part's way."""
        near = self._close(part, off)
        return tuple(other for other in others if other in near and self.meets(part, other, off))

    def ranked(self) -> list[str]:
        """Return the parts as a person would put them in who need not mind what is in the way."""

        def rank(number: int, piece: Piece) -> Rank:
            lean = 0.0 if piece.normal is None else -abs(round(float(piece.normal[1]), 6))
            return piece.kind, -round(float(self._high[piece.id][1]), 3), lean, number

        ranks = {piece.id: rank(number, piece) for number, piece in enumerate(self.pieces.values())}
        return sorted(ranks, key=ranks.__getitem__)


def _reaching(surface: Surface, low: Array, high: Array) -> Surface | None:
    """Return the triangles that reach into a box, if any."""
    kept = (surface.low[0] < high[0]) & (surface.high[0] > low[0])
    for axis in (1, 2):
        kept &= surface.low[axis] < high[axis]
        kept &= surface.high[axis] > low[axis]
    near = kept.nonzero()[0]
    return surface.some(near) if len(near) else None


def order_of_work(bench: Bench) -> tuple[Step, ...]:
    """Return pieces in an order in which each can be pushed in, if there is one."""
    left = dict.fromkeys(bench.ranked())
    watched: dict[tuple[str, Vector], str] = {}
    out: list[Step] = []
    while left:
        step = _last_out(bench, left, watched) or Step(id=_forced(bench, list(left)), held_off=None)
        del left[step.id]
        out.append(step)
    return tuple(reversed(out))


def _last_out(bench: Bench, left: dict[str, None], watched: dict[tuple[str, Vector], str]) -> Step | None:
    """Return the last part of the last kind that comes out, straight if any does.

    ``watched`` remembers one other that was in a part's way.
    """
    for kind in (3, 2, 1, 0):
        parts = [part for part in reversed(left) if bench.pieces[part].kind == kind]
        ways = [(part, HOME) for part in parts]
        ways += [(part, off) for part in parts for off in bench.hold_offs(part)[1:]]
        for part, off in ways:
            if watched.get((part, off)) in left:
                continue
            other = bench.blocker(part, left, off)
            if other is None:
                return Step(id=part, held_off=off)
            watched[part, off] = other
    return None


def _forced(bench: Bench, left: list[str]) -> str:
    """Return the part to be taken out through others: of those that only lock one another, with the fewest in its way.

    A part that merely waits for such a ring to open is none of them.
    """
    at = {part: number for number, part in enumerate(left)}
    waits = np.zeros((len(left), len(left)), dtype=bool)
    for part in left:
        waits[at[part], [at[other] for other in bench.blockers(part, left, HOME)]] = True
    reach = (waits | np.eye(len(left), dtype=bool)).astype(np.float32)
    for _ in range(len(left).bit_length()):
        reach = np.minimum(reach @ reach, 1.0)
    ring: NDArray[np.bool_] = np.all(reach <= reach.T, axis=1)
    return min((part for part in reversed(left) if ring[at[part]]), key=lambda part: int(waits[at[part]].sum()))


def in_words(off: Vector) -> str:
    """Return where a part is held while it is pushed in: ``6 mm below its place``."""
    x, y, z = off
    lift = float(np.linalg.norm(off))
    if abs(y) > ROUNDING or z > ROUNDING:
        return f"{lift:.0f} mm off its place, square to its face"
    if abs(x) <= ROUNDING:
        return f"{lift:.0f} mm below its place"
    return f"{lift:.0f} mm {'nearer' if abs(z) <= ROUNDING else 'lower and nearer'} the middle"


def _triple(vector: Array) -> Vector:
    x, y, z = (round(float(value), DECIMALS) + 0.0 for value in vector)
    return x, y, z
