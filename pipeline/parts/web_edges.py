"""Square edges of webs that meet round a corner, as over a groin: cut back ruling by ruling so that they only touch.

Terms
-----
place
    Where a ruling stands on a web: the number of its piece, and how far along that, from 0 to 1.
through, butting
    Of two webs the one that was said first keeps its line where it can; the other ends on it.
psi
    360 degrees less the room-side angle; the angle of the arris that both webs' sheets fill.

It is `joints.square_outward` at every point of a bent border, but measured on the bent sheets themselves: a point lies
at a depth d behind a web where it is d from its visible face along the one normal through it. Where psi is 90 degrees
or more, the butting web's edge goes through the corner of the through one's hidden face (or, if it is thinner, its own
hidden corner meets the other's edge). Where it is less, its hidden corner lies on the other's hidden face, and the
through web is cut back until its own hidden corner lies in the butting one's visible face.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.model import Web
from pipeline.elements.problems import Problem, SceneError
from pipeline.geometry import curves
from pipeline.parts.bodies import ARC_STEPS
from pipeline.parts.ruled_webs import FOUND, ROUNDS, SAME, STEP, RuledWeb, ruled_web, unit
from pipeline.parts.web_angles import BEHIND, NEAR
from pipeline.parts.webs import BuiltWeb, Trim, TrimmedJoint, build_web
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Span = tuple[float, float]

EVERY = 8
"""Of the unrolled samples one in so many is a source of the joint."""
PLAY = 0.02
"""mm; so far a butting web stays off the through one, as true as curves are cut and bodies follow them."""
BEYOND = 0.01
"""Of a piece; so far beyond the end of a groin that stops within a web the cut runs on, past the other's corners."""
LEAST = 1e-3
"""Of a piece; a web of which less is left is none."""
CREASED = 1e-6
"""How far unit normals of two pieces differ where they meet in a crease."""
UPRIGHT = 0.05
"""Least slope of a depth, and least square of a sine, that Newton's steps divide by."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Groin:
    """Points ``(n, 3)`` of one stretch of a groin between two webs, and the places of their rulings on both.

    ``sharp`` tells where psi is below 90 degrees.
    """

    a: RuledWeb
    b: RuledWeb
    near_a: bool
    near_b: bool
    piece_a: int
    piece_b: int
    span_a: Span
    span_b: Span
    points: Array
    places_a: Array
    places_b: Array
    sharp: Flags


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cut:
    """What one stretch takes off one border of a web: set-backs at places, growing, within a span."""

    against: str
    near: bool
    places: Array
    back: Array
    span: Span


@dataclass(slots=True, eq=False)
class _Found:
    """What is known of one web so far."""

    cuts: list[_Cut] = field(default_factory=list)
    rows: list[Array] = field(default_factory=list)
    joints: dict[str, list[TrimmedJoint]] = field(default_factory=dict)


def trim_webs(said: tuple[Web, ...], relief: Relief) -> dict[str, Trim]:
    """Return the trim of every web that meets another round a corner, by id; imagined, in the order they were said.

    Raises
    ------
    SceneError
        If nothing would be left of one.
    """
    webs = tuple(build_web(web, relief, 0.0) for web in said)
    surfaces = {built.web.id: ruled_web(built) for built in webs}
    found = {built.web.id: _Found() for built in webs}
    groins = [
        groin
        for number, butting in enumerate(webs)
        for through in webs[:number]
        for groin in _groins(through, butting, surfaces)
    ]
    for groin in groins:
        if groin.sharp.any():
            _cut_through(groin, found[groin.a.id])
    built_by = {built.web.id: built for built in webs}
    for groin in groins:  # a through web was butting before, if ever
        _cut_butting(groin, found, built_by[groin.a.id])
    return {name: _trim(built_by[name], surfaces[name], one) for name, one in found.items() if one.joints}


def _groins(through: BuiltWeb, butting: BuiltWeb, surfaces: dict[str, RuledWeb]) -> Iterator[_Groin]:
    """Yield every stretch that a piece of one web and one of another share and where they meet round a corner."""
    a, b = surfaces[through.web.id], surfaces[butting.web.id]
    for piece_a, near_a in _sides(through, b.id):
        for piece_b, near_b in _sides(butting, a.id):
            t = through.pieces[piece_a].unrolled.t[::EVERY]
            points = curves.evaluate(_border(through, piece_a, near=near_a), t)
            others = curves.evaluate(_border(butting, piece_b, near=near_b), t)
            apart = np.linalg.norm(points[:, None] - others, axis=2)
            nearest = apart.argmin(axis=1)
            places_a, span_b = piece_a + t, (0.0, float(len(butting.pieces)))
            places_b, hit = b.feet_of(points, piece_b + t[nearest], span_b)
            _, rulings, normals_a = a.frames(places_a)
            normals_b = b.frames(places_b)[2]
            behind = np.einsum("ij,ij->i", rulings if near_a else -rulings, normals_b) < -BEHIND
            kept = hit & behind & (apart[np.arange(len(t)), nearest] < NEAR)
            if kept.sum() > 1:
                yield _Groin(
                    a=a, b=b, near_a=near_a, near_b=near_b, piece_a=piece_a, piece_b=piece_b,
                    span_a=(0.0, float(len(through.pieces))), span_b=span_b,
                    points=points[kept], places_a=places_a[kept], places_b=places_b[kept],
                    sharp=np.einsum("ij,ij->i", normals_a, normals_b)[kept] < 0,  # cos psi = -(n_a . n_b)
                )  # fmt: skip


def _sides(built: BuiltWeb, other: str) -> Iterator[tuple[int, bool]]:
    """Yield the pieces that lie against another web, and whether by their near border."""
    for number in range(len(built.pieces)):
        for near, ends in ((True, built.web.near_ends), (False, built.web.far_ends)):
            if ends[number].against == other:
                yield number, near


def _border(built: BuiltWeb, piece: int, *, near: bool) -> curves.Curve:
    return built.pieces[piece].near if near else built.pieces[piece].far


def _cut_through(groin: _Groin, found: _Found) -> None:
    """Find where the through web ends: with its hidden corner in the butting one's visible face."""
    points, _ = _behind(groin, groin.a.thickness, 0.0)
    places, hit = groin.a.feet_of(points, groin.places_a, groin.span_a)
    back, corners = _set_back(groin.a, places, points, near=groin.near_a)
    sharp = groin.sharp & hit
    places, back = np.where(groin.sharp, places, groin.places_a), np.where(groin.sharp, back, 0.0)
    known = hit | ~groin.sharp
    found.cuts.append(_cut(groin.b.id, groin.near_a, places[known], back[known], groin.piece_a))
    most = float(np.linalg.norm(corners - groin.points, axis=1)[sharp].max(initial=0.0))
    joint = TrimmedJoint(against=groin.b.id, through=groin.a.id, back=most, gap=(np.inf, 0.0))
    found.joints.setdefault(groin.b.id, []).append(joint)


def _cut_butting(groin: _Groin, found: dict[str, _Found], through: BuiltWeb) -> None:
    """Find where the butting web ends, and the rulings on which it touches those of the through one's body."""
    a, b = groin.a, groin.b
    points, places_a = _touching(groin)
    places, hit = b.feet_of(points, groin.places_b, groin.span_b)
    if hit.sum() < 2:
        return
    back, corners = _set_back(b, places, points, near=groin.near_b)
    found[b.id].cuts.append(_cut(a.id, groin.near_b, places[hit], back[hit], groin.piece_b))
    over = a.seen_from(a.feet_of(corners, places_a, groin.span_a)[0], corners)[1] - a.thickness
    gaps = np.where(groin.sharp, np.maximum(over, 0.0), _off_line(corners, groin.points, points))[hit]
    most = float(np.linalg.norm(corners - groin.points, axis=1)[hit].max())
    gap = float(gaps.min()), float(gaps.max())
    for mine, other, stands in ((b.id, a.id, most), (a.id, b.id, 0.0)):
        joint = TrimmedJoint(against=other, through=a.id, back=stands, gap=gap)
        found[mine].joints.setdefault(other, []).append(joint)
    rows = _rows(through, a, found[a.id])
    touching = []
    for these in (hit & groin.sharp, hit & ~groin.sharp):  # from a corner to a face the contact leaps on
        if these.any():
            order = np.argsort(places_a[these], kind="stable")
            known, there = places_a[these][order], places[these][order]
            touching.append(np.interp(rows[(rows >= known[0]) & (rows <= known[-1])], known, there))
    found[b.id].rows.append(np.sort(np.concatenate(touching)))


def _touching(groin: _Groin) -> tuple[Array, Array]:
    """Return the points ``(n, 3)`` in which the butting web touches the through one, and at which places of that."""
    a, b = groin.a, groin.b
    normals = a.frames(groin.places_a)[2]
    whole = a.thickness + PLAY
    depth = np.full(len(normals), whole)
    for _ in range(ROUNDS):  # a thin sheet's hidden corner meets the other's edge before the end of that
        points = groin.points - depth[:, None] * normals
        there, _ = b.feet_of(points, groin.places_b, groin.span_b)
        slope = np.maximum(np.einsum("ij,ij->i", normals, b.frames(there)[2]), UPRIGHT)
        fits = depth - (b.seen_from(there, points)[1] - b.thickness) / slope
        moved = np.clip(fits, 0.0, whole)
        still = bool(np.abs(moved - depth).max() < FOUND * STEP)
        depth = moved
        if still:
            break
    blunt = groin.points - depth[:, None] * normals
    if not groin.sharp.any():
        return blunt, groin.places_a
    sharp, places = _behind(groin, whole, b.thickness)
    return np.where(groin.sharp[:, None], sharp, blunt), np.where(groin.sharp, places, groin.places_a)


def _behind(groin: _Groin, depth_a: float, depth_b: float) -> tuple[Array, Array]:
    """Return the points ``(n, 3)`` beside those of a groin that lie so deep behind both webs, and their places on a.

    Each depth falls by what a point moves along its normal n, so that a step of x n_a + y n_b asks for
    x + y cos = d_a and x cos + y = d_b, with cos = n_a . n_b and what the depths are over theirs.
    """
    a, b, points = groin.a, groin.b, groin.points
    places_a, places_b = groin.places_a, groin.places_b
    for _ in range(ROUNDS):
        places_a, places_b = (
            a.feet_of(points, places_a, groin.span_a)[0],
            b.feet_of(points, places_b, groin.span_b)[0],
        )
        normals_a, normals_b = a.frames(places_a)[2], b.frames(places_b)[2]
        over_a = a.seen_from(places_a, points)[1] - depth_a
        over_b = b.seen_from(places_b, points)[1] - depth_b
        cosine = np.einsum("ij,ij->i", normals_a, normals_b)
        square = np.maximum(1 - cosine**2, UPRIGHT)
        x, y = (over_a - cosine * over_b) / square, (over_b - cosine * over_a) / square
        points = points + x[:, None] * normals_a + y[:, None] * normals_b
        if max(np.abs(over_a[groin.sharp]).max(), np.abs(over_b[groin.sharp]).max()) < FOUND * STEP:
            break
    return points, a.feet_of(points, places_a, groin.span_a)[0]


def _set_back(surface: RuledWeb, places: Array, points: Array, *, near: bool) -> tuple[Array, Array]:
    """Return how far back along its rulings a web ends below points, ``(n,)``, and the corners of its visible face."""
    along, _ = surface.seen_from(places, points)
    feet, rulings, _ = surface.frames(places)
    back = along if near else np.interp(places, surface.at, surface.lengths) - along
    return back, feet + along[:, None] * rulings


def _cut(against: str, near: bool, places: Array, back: Array, piece: int) -> _Cut:
    order = np.argsort(places, kind="stable")
    places, back = places[order], back[order]
    low = float(piece) if piece <= places[0] else float(places[0]) - BEYOND
    high = float(piece + 1) if piece + 1 >= places[-1] else float(places[-1]) + BEYOND
    return _Cut(against=against, near=near, places=places, back=back, span=(low, high))


def _off_line(points: Array, starts: Array, ends: Array) -> Array:
    """Return how far points are from lines."""
    way = unit(ends - starts)
    away = points - starts
    out: Array = np.linalg.norm(away - np.einsum("ij,ij->i", away, way)[:, None] * way, axis=1)
    return out


def _rows(built: BuiltWeb, surface: RuledWeb, found: _Found) -> Array:
    """Return the places of the rulings that are rows of a web's body: even ones, but where it touches another's."""
    rows = np.linspace(0.0, len(built.pieces), ARC_STEPS * len(built.pieces) + 1)
    turned = np.abs(np.diff(surface.normals, axis=0)).max(axis=1) > CREASED
    creases = surface.at[:-1][turned & (np.diff(surface.at) == 0)]
    for touching in found.rows:
        low, high = touching.min(), touching.max()
        rows = np.concatenate([rows[(rows < low) | (rows > high) | np.isin(rows, creases)], touching])
    for cut in found.cuts:  # where a groin ends within a web, its cut ends in a step
        rows = np.append(rows, [cut.span[0] - 2 * SAME, cut.span[1] + 2 * SAME])
    first, last = _left(surface, found)
    rows = np.sort(np.concatenate([rows[(rows > first) & (rows < last)], [first, last]]))
    out: Array = rows[np.concatenate([[True], np.diff(rows) > SAME])]
    return out


def _backs(found: _Found, places: Array, *, near: bool) -> Array:
    """Return how far all cuts on one border set a web back at places ``(n,)``."""
    back = np.zeros(len(places))
    for cut in found.cuts:
        if cut.near == near:
            here = (places >= cut.span[0]) & (places <= cut.span[1])
            back = np.maximum(back, np.where(here, np.interp(places, cut.places, cut.back), 0.0))
    return back


def _left(surface: RuledWeb, found: _Found) -> Span:
    """Return the places of the first and the last ruling of which anything is left."""
    at = surface.at
    left = surface.lengths - _backs(found, at, near=True) - _backs(found, at, near=False)
    some = np.flatnonzero(left > 0)
    if not len(some):
        return float(at[0]), float(at[0])
    first, last = int(some[0]), int(some[-1])
    return _zero(at, left, first, first - 1), _zero(at, left, last, last + 1)


def _zero(at: Array, left: Array, inside: int, outside: int) -> float:
    """Return where between a sample with something left and one beside it without nothing is left."""
    if not 0 <= outside < len(at):
        return float(at[inside])
    share = left[inside] / (left[inside] - left[outside])
    return float(at[inside] + share * (at[outside] - at[inside]))


def _trim(built: BuiltWeb, surface: RuledWeb, found: _Found) -> Trim:
    first, last = _left(surface, found)
    if last - first < LEAST:
        problem = Problem(
            path=built.web.path,
            found=f"cut square, sheets {surface.thickness:g} mm thick leave nothing of {surface.id} between its groins",
            allowed="cells wider than what their sheets stand back there",
            remedy='take thinner sheet, fewer bays, make.edges = "bevel" or vault.webs = "print"',
        )
        raise SceneError([problem])
    return Trim(
        first=first,
        last=last,
        at=surface.at,
        near=_backs(found, surface.at, near=True),
        far=_backs(found, surface.at, near=False),
        rows=_rows(built, surface, found),
        joints=tuple(_joined(joints, _slot(surface, found, joints[0].against)) for joints in found.joints.values()),
    )


def _slot(surface: RuledWeb, found: _Found, against: str) -> float:
    """Return how wide what is open stays where a tip is cut away: from the groin to what stands on its other side, mm.

    A tip is cut away where it is narrower than what its sheet stands back.
    """
    widest = 0.0
    for place, beyond in zip(_left(surface, found), (surface.at[0], surface.at[-1]), strict=True):
        for cut in found.cuts:
            if cut.against != against or place == beyond or not cut.span[0] <= place <= cut.span[1]:
                continue
            feet, rulings, _ = surface.frames(np.array([place]))
            whole = float(np.interp(place, surface.at, surface.lengths))
            there = feet + rulings * (whole if cut.near else 0.0)
            groin = surface.feet + surface.rulings * (0.0 if cut.near else surface.lengths[:, None])
            widest = max(widest, float(np.linalg.norm(groin - there, axis=1).min()))
    return widest


def _joined(joints: list[TrimmedJoint], slot: float) -> TrimmedJoint:
    """Return the joint of two webs from its stretches."""
    gap = min(joint.gap[0] for joint in joints), max(slot, *(joint.gap[1] for joint in joints))
    back = max(joint.back for joint in joints)
    return TrimmedJoint(against=joints[0].against, through=joints[0].through, back=back, gap=gap)
