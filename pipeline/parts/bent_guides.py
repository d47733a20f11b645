"""Guides of a cover on a web: laid on either half in host coordinates, thinned, and carried to the drawing.

Terms
-----
half
    A web on one side of its crown; host coordinates start at the springing of either.
whole
    A web as imagined, with the tips that are left out of the built one where they are too narrow to cut.
slant
    Direction from the middle of the springing to a point of the section, radians: it grows evenly from springing to
    crown where height and reach do not.

On the imagined web bed joints are rulings and stay straight; what runs across the rulings is cut so short that it is
as good as straight.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.model import Web
from pipeline.elements.surfaces import Family
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import LEAST_LENGTH
from pipeline.geometry.developing import STEPS, cumulate, derivatives, fit_conics
from pipeline.geometry.regions import Region, loop_of
from pipeline.geometry.vectors import cross, lengths
from pipeline.keeping.kept import around
from pipeline.parts.guides import Thinning, clip_families, thin
from pipeline.parts.webs import BuiltWeb

Array = NDArray[np.float64]

BORDER_TOLERANCE = 1e-4
"""mm; guides end this near to the border."""
SAG = 0.02
"""mm; how far a guide across the rulings may lie from its chord, imagined."""
SHORTEST = 0.1
"""mm; shorter guides are left out: a cutter only stutters on them."""
BORDER_SAMPLES = 257
SIDES = (1.0, -1.0)
"""Of a web's crown: right and left."""
STEP = 1e-3
"""mm to either side at which the way across a web is taken."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Profile:
    """One side of the barrel that a web follows.

    Attributes
    ----------
    side
        +1 right, -1 left.
    springing, rise, reach
        Of the barrel: z, height and half the width.
    slants, levels, outs, heights
        ``(n,)`` of the whole barrel's half: v, distance from the middle and z, growing with the slant.
    """

    side: float
    springing: float
    rise: float
    reach: float
    slants: Array
    levels: Array
    outs: Array
    heights: Array

    def slant(self, points: Array) -> Array:
        """Return the slants of section points ``(n, 2)``."""
        out: Array = np.arctan2((points[:, 1] - self.springing) / self.rise, self.side * points[:, 0] / self.reach)
        return out

    def section_points(self, levels: Array) -> Array:
        """Return section points ``(n, 2)`` at levels v; beyond the crown on the other side, below the springing."""
        top = self.levels[-1]
        folded = np.where(levels > top, 2 * top - levels, levels)
        out = np.interp(folded, self.levels, self.outs)
        height = np.interp(folded, self.levels, self.heights) + np.minimum(levels, 0.0)
        return np.column_stack([self.side * np.where(levels > top, -out, out), height])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Half(_Profile):
    """One side of a built web's crown.

    Attributes
    ----------
    own
        ``(m,)`` slants at the samples of the web's own pieces, growing.
    flat, turn, near, rulings
        The unrolled pieces at these samples.
    """

    own: Array
    flat: Array
    turn: Array
    near: Array
    rulings: Array


def lay_guides(built: BuiltWeb, families: list[Family], min_guide: float) -> tuple[Array, Array, Thinning]:
    """Return flat guides ``(n, 2, 2)``, the imagined lines ``(n, 2, 3)`` they show, and what was thinned."""
    flats, seen = [np.zeros((0, 2, 2))], [np.zeros((0, 2, 3))]
    told: list[Thinning] = []
    for side in SIDES:
        half = _half(built, side) if families else None
        if half is None:
            continue
        # What of the cover lies on a web asks nothing of the eye; only how much of its tips is left out does.
        laid = around().of(lay_on_half, built.whole, side, families)
        if any(piece.near_back.any() or piece.far_back.any() for piece in built.pieces):
            region = _region(built.web, half, built)
            clipped = clip_families(_near(laid, region), region)
        else:
            clipped = _cut_below(laid, float(np.interp(half.own[0], half.slants, half.levels)))
        if not clipped:
            continue

        def build(points_host: Array, half: _Half = half) -> Array:
            return frames.apply(built.built_from_imagined, _imagine(built.web, half, points_host))

        kept, thinning = thin(clipped, build, min_guide)
        lines = _parted(kept, half)
        flat = _flatten(built, half, lines.reshape(-1, 2)).reshape(-1, 2, 2)
        long = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1) >= SHORTEST
        flats.append(flat[long])
        seen.append(_imagine(built.web, half, lines.reshape(-1, 2)).reshape(-1, 2, 3)[long])
        told.append(thinning)
    begins = [thinning.begins for thinning in told if thinning.begins is not None]
    thinned = Thinning(
        dropped=sum(thinning.dropped for thinning in told),
        shortened=sum(thinning.shortened for thinning in told),
        begins=min(begins) if begins else None,
    )
    return np.concatenate(flats), np.concatenate(seen), thinned


def half_region(web: Web, side: float) -> Region | None:
    """Return what a web covers on one side of its crown, host coordinates; nothing where there is none of it."""
    return _region(web, _profile(web, side)) if _own(web, side) else None


def placing(web: Web, side: float) -> Callable[[Array, float], Array]:
    """Return what takes host coordinates ``(n, 2)`` and a height over the web, into the room, to imagined points."""
    return partial(_above, web, _profile(web, side))


def _above(web: Web, half: _Profile, points_host: Array, height: float) -> Array:
    """Return imagined points ``height`` over the web, square to it."""
    feet = _imagine(web, half, points_host)
    if height == 0.0:
        return feet
    step = np.array([0.0, STEP])
    along = _imagine(web, half, points_host + step) - _imagine(web, half, points_host - step)
    square = cross(along, np.broadcast_to(web.generator, along.shape))
    square /= np.linalg.norm(square, axis=1, keepdims=True)
    low = np.array([[0.0, half.springing]])
    axis = frames.apply(
        web.imagined_from_section, np.column_stack([np.repeat(low, len(feet), axis=0), points_host[:, 0]])
    )
    inward = np.where(np.einsum("ij,ij->i", axis - feet, square) < 0, -1.0, 1.0)[:, None]
    out: Array = feet + height * inward * square
    return out


def barrel_length(barrel: curves.Path) -> float:
    """Return the length of half a barrel, imagined mm: v at the crown."""
    return sum(curves.length(curve) for curve in barrel) / 2


def _own(web: Web, side: float) -> list[int]:
    """Return the web's pieces on one side of its crown."""
    return [k for k, curve in enumerate(web.section) if side * float(curves.evaluate(curve, 0.5)[0, 0]) > 0]


def _profile(web: Web, side: float) -> _Profile:
    upward = -1 if side < 0 else 1
    half = [curve for curve in web.barrel if side * float(curves.evaluate(curve, 0.5)[0, 0]) > 0]
    t = np.linspace(0.0, 1.0, 2 * STEPS + 1)
    places, levels, level = [], [], 0.0
    for curve in half[::upward]:
        points, ways, _ = derivatives(curve if side > 0 else curves.reverse(curve), t)
        run = cumulate(np.linalg.norm(ways, axis=1), t)
        places.append(points)
        levels.append(level + run)
        level += float(run[-1])
    place = np.vstack(places)
    profile = _Profile(
        side=side,
        springing=float(place[0, 1]),
        rise=float(place[-1, 1] - place[0, 1]),
        reach=float(abs(place[0, 0])),
        slants=np.zeros(0),
        levels=np.concatenate(levels),
        outs=side * place[:, 0],
        heights=place[:, 1],
    )
    return replace(profile, slants=profile.slant(place))


def _half(built: BuiltWeb, side: float) -> _Half | None:
    web = built.web
    pieces = _own(web, side)
    if not pieces:
        return None
    profile, upward = _profile(web, side), -1 if side < 0 else 1
    t, own = np.linspace(0.0, 1.0, 2 * STEPS + 1), pieces[::upward]
    sections = [derivatives(web.section[k], t)[0][::upward] for k in own]
    unrolled = [built.pieces[k].unrolled for k in own]
    return _Half(
        side=side,
        springing=profile.springing,
        rise=profile.rise,
        reach=profile.reach,
        slants=profile.slants,
        levels=profile.levels,
        outs=profile.outs,
        heights=profile.heights,
        own=np.concatenate([profile.slant(points) for points in sections]),
        flat=np.vstack([one.near_flat[::upward] for one in unrolled]),
        turn=np.concatenate([one.turn[::upward] for one in unrolled]),
        near=np.vstack([one.near[::upward] for one in unrolled]),
        rulings=np.vstack([one.rulings[::upward] for one in unrolled]),
    )


def lay_on_half(whole: Web, side: float, families: list[Family]) -> list[Family]:
    """Return what of a cover lies on one side of an imagined web's crown, host coordinates."""
    if not _own(whole, side):
        return []
    region = _region(whole, _profile(whole, side))
    return clip_families(_near(families, region), region)


def _cut_below(families: list[Family], level: float) -> list[Family]:
    """Return the families with what lies below a level cut off, host coordinates."""
    out = []
    for family in families:
        over = family.lines[:, :, 1] - level
        crossed = over.prod(axis=1) < 0
        lines = family.lines.copy()
        share = over[crossed] / (over[crossed] - over[crossed][:, ::-1])
        ways = lines[crossed][:, ::-1] - lines[crossed]
        lines[crossed] = np.where(
            (over[crossed] < 0)[..., None], lines[crossed] + share[..., None] * ways, lines[crossed]
        )
        kept = (over >= 0).any(axis=1) & (lengths(lines[:, 1] - lines[:, 0]) > LEAST_LENGTH)
        if kept.any():
            out.append(replace(family, lines=lines[kept], numbers=family.numbers[kept]))
    return out


def _region(web: Web, half: _Profile, built: BuiltWeb | None = None) -> Region:
    """Return what a half covers, host coordinates; of a built web no more than its sheet."""
    pieces = _own(web, half.side)[:: -1 if half.side < 0 else 1]
    t = np.linspace(0.0, 1.0, BORDER_SAMPLES)
    back = frames.inverse(web.imagined_from_section)
    borders: list[curves.Path] = []
    for first, path in ((True, web.near), (False, web.far)):
        chain: curves.Path = ()
        for k in pieces:
            curve = curves.transform(path[k], back)
            points, ways, _ = derivatives(curve if half.side > 0 else curves.reverse(curve), t)
            moved = None if built is None else _set_back(built, k, half.side, near=first)
            if moved is not None:
                points = np.column_stack([points[:, :2], frames.apply(back, moved)[:, 2]])
                ways = np.column_stack([ways[:, :2], np.gradient(points[:, 2], t)])
            level = np.interp(half.slant(points[:, :2]), half.slants, half.levels)
            speed = np.linalg.norm(ways[:, :2], axis=1)
            chain += fit_conics(
                np.column_stack([points[:, 2], level]), np.column_stack([ways[:, 2], speed]), BORDER_TOLERANCE
            )
        borders.append(chain)
    near, far = borders
    loop = (
        *far,
        curves.line(far[-1].end, near[-1].end),
        *curves.reverse_path(near),
        curves.line(near[0].start, far[0].start),
    )
    return Region(
        loop_of(tuple(c for c in loop if not c.straight or np.linalg.norm(c.end - c.start) > BORDER_TOLERANCE))
    )


def _set_back(built: BuiltWeb, number: int, side: float, *, near: bool) -> Array | None:
    """Return where a piece's sheet ends if it stands back, ``(n, 3)`` imagined, growing with the level."""
    piece = built.pieces[number]
    back, curve = (piece.near_back, piece.near) if near else (-piece.far_back, piece.far)
    if not back.any():
        return None
    every = (len(back) - 1) // (BORDER_SAMPLES - 1)
    one = piece.unrolled
    ends = curves.evaluate(curve, one.t[::every]) + (back[:, None] * one.rulings)[::every]
    points: Array = frames.apply(frames.inverse(built.built_from_imagined), ends)
    return points if side > 0 else points[::-1]


def _near(families: list[Family], region: Region) -> list[Family]:
    """Return the families without lines that lie wholly beside a region, which is quicker told by its box."""
    low, high = curves.bounds(region.curves)
    out = []
    for family in families:
        starts, ends = family.lines[:, 0], family.lines[:, 1]
        beside = (np.maximum(starts, ends) < low) | (np.minimum(starts, ends) > high)
        kept = ~(beside[:, 0] | beside[:, 1])
        out.append(replace(family, lines=family.lines[kept], numbers=family.numbers[kept]))
    return out


def _imagine(web: Web, half: _Profile, points_host: Array) -> Array:
    """Return ``(n, 3)`` imagined points of host coordinates ``(n, 2)``."""
    section = half.section_points(points_host[:, 1])
    out: Array = frames.apply(web.imagined_from_section, np.column_stack([section, points_host[:, 0]]))
    return out


def _flatten(built: BuiltWeb, half: _Half, points_host: Array) -> Array:
    """Return ``(n, 2)`` flat points of host coordinates on the web."""
    section = half.section_points(points_host[:, 1])
    at = half.slant(section)

    def sample(values: Array) -> Array:
        return np.column_stack([np.interp(at, half.own, column) for column in values.T])

    points = frames.apply(built.built_from_imagined, _imagine(built.web, half, points_host))
    along = np.einsum("ij,ij->i", points - sample(half.near), sample(half.rulings))
    turn = np.interp(at, half.own, half.turn)
    raw = sample(half.flat) + along[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    return built.flat(raw)


def _parted(lines: Array, half: _Half) -> Array:
    """Return lines cut so short across the rulings that none strays more than ``SAG`` from its chord.

    An arc of radius r strays s^2 / (8 r) from a chord of length s; the barrel's radius is at least about
    the lesser of rise^2 / reach and reach^2 / rise (the semi-ellipse's).
    """
    radius = min(half.rise**2 / half.reach, half.reach**2 / half.rise)
    longest = np.sqrt(8 * SAG * radius)
    counts = np.maximum(1, np.ceil(np.abs(lines[:, 1, 1] - lines[:, 0, 1]) / longest - 1e-9)).astype(np.int64)
    out = [lines[counts == 1]]
    for line, count in zip(lines[counts > 1], counts[counts > 1], strict=True):
        marks = np.linspace(0.0, 1.0, count + 1)[:, None]
        points = line[0] + marks * (line[1] - line[0])
        out.append(np.array(list(pairwise(points))))
    return np.concatenate(out)
