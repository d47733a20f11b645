"""Webs carried into the built room and laid flat.

Terms
-----
piece
    One pair of conics of a web's two borders, with the strip between them.
host coordinates
    ``(u, v)`` imagined mm on one half of a web: u along its rulings, v along the section of the barrel from the
    springing up. The same heights have the same v on every web of a vault, so courses meet at the groins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.model import Web, WebEnd
from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.developing import Unrolled, cumulate, derivatives, unroll
from pipeline.geometry.vectors import cross
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

CROSSED = 1.5
"""Times what one rib covers beside its groin: along the crown two that cross cover more than twice as much."""
SIDE_WALLS = frozenset(("left-wall", "right-wall"))
"""Webs across the hall are cut square against them."""
TOUCH = 1e-6
"""mm; the apron's end and a web's border are meant to be the same plane when nearer than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimmedJoint:
    """What a joint along a bent border comes to.

    Attributes
    ----------
    against, through
        The other web, and which of the two runs on.
    back
        How far this one stands back from the groin at most, mm.
    gap
        Least and greatest distance of the butting web's visible corner from the through one, mm.
    """

    against: str
    through: str
    back: float
    gap: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trim:
    """How far a web's sheet stands back from the borders it is seen to have. Places are as in `web_edges`.

    Attributes
    ----------
    first, last
        Places of the first and the last ruling that is left.
    at, near, far
        ``(k,)`` places, growing, and how far along its ruling the sheet stands back there from either border, mm.
    rows
        ``(r,)`` places of the rulings that its body has corners on: where it touches another they have theirs there.
    joints
        With the webs it meets round a corner.
    """

    first: float
    last: float
    at: Array
    near: Array
    far: Array
    rows: Array
    joints: tuple[TrimmedJoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One strip of a web: built curves, exact, and how it unrolls.

    Attributes
    ----------
    near, far
        Its borders as they are seen.
    unrolled
        The strip between them, laid flat.
    near_back, far_back
        How far along its rulings the sheet stands back from them, mm at the unrolled samples; zero where they are its
        own borders.
    rows
        Parameters of the rulings that the body of a trimmed web has corners on; nothing for even ones.
    """

    near: Curve
    far: Curve
    unrolled: Unrolled
    near_back: Array
    far_back: Array
    rows: Array | None = None

    def backs(self, t: Array) -> tuple[Array, Array]:
        """Return how far the sheet stands back at parameters ``(n,)``, near and far."""
        return np.interp(t, self.unrolled.t, self.near_back), np.interp(t, self.unrolled.t, self.far_back)

    def borders_flat(self) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
        """Return the sheet's near and far border as it was laid: points and derivatives, ``(m, 2)`` each."""
        one = self.unrolled
        e1 = np.column_stack([np.cos(one.turn), np.sin(one.turn)])
        e2 = np.column_stack([-e1[:, 1], e1[:, 0]])
        turning = np.gradient(one.turn, one.t)[:, None]
        out = []
        for points, ways, back in (
            (one.near_flat, one.near_ways, self.near_back),
            (one.far_flat, one.far_ways, -self.far_back),
        ):
            if back.any():
                step, grown = back[:, None], np.gradient(back, one.t)[:, None]
                out.append((points + step * e1, ways + grown * e1 + step * turning * e2))
            else:
                out.append((points, ways))
        return out[0], out[1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BuiltWeb:
    """A web in the built room.

    Attributes
    ----------
    web
        The imagined one, without what of its tips is left out.
    whole
        All of it.
    built_from_imagined
        ``(4, 4)`` the relief that holds for all of it.
    meeting
        ``(4,)`` homogeneous built point all rulings pass through.
    pieces
        From the first ruling to the last, laid flat one beside the other.
    near_planes, far_planes, end_planes
        Built planes ``(4,)`` the body's rulings end on, and those at the first and at the last ruling.
    squared
        What its borders are cut square against, through the whole sheet; such a border has no plane.
    near_covers, far_covers
        Built planes ``(4,)`` up to which ribs cover the web beside its groins.
    cap
        The built plane ``(4,)`` across the point where its groins meet, up to which the ribs that cross there cover it;
        nothing where it has no such point along its rulings.
    settled_from_raw
        ``(3, 3)`` rigid, from where the pieces were laid to the drawing: the ruling at the crown level, the lower left
        corner at the origin.
    """

    web: Web
    whole: Web
    built_from_imagined: Array
    meeting: Array
    pieces: tuple[Piece, ...]
    near_planes: tuple[Array, ...]
    far_planes: tuple[Array, ...]
    end_planes: tuple[Array, ...]
    near_covers: tuple[Array, ...]
    far_covers: tuple[Array, ...]
    cap: Array | None
    settled_from_raw: Array
    squared: frozenset[str] = frozenset()

    @property
    def area(self) -> float:
        """Area of the visible surface, mm^2."""
        return sum(_area(piece) for piece in self.pieces)

    def flat(self, points_raw: Array) -> Array:
        """Return ``(n, 2)`` points as they lie on the drawing."""
        return frames.apply(self.settled_from_raw, points_raw)


def build_web(web: Web, relief: Relief, bend_factor: float, trim: Trim | None = None) -> BuiltWeb:
    """Return a web built and unrolled by its neutral layer, ``bend_factor`` of the sheet behind the visible face.

    ``trim`` is of that web as it is built without one.
    """
    whole = web
    web, matrix = seen_web(whole, relief)
    web, spans = _trimmed(web, trim)
    meeting = matrix @ np.array([*web.generator, 0.0])
    if meeting[3] < 0:
        meeting = -meeting
    inside = frames.apply(matrix, [_inside(web)])[0]
    pieces: list[Piece] = []
    start, turn = np.zeros(2), 0.0
    for near, far, span in zip(web.near, web.far, spans, strict=True):
        near_built, far_built = curves.transform(near, matrix), curves.transform(far, matrix)
        unrolled = unroll(
            near_built, far_built, meeting, viewer=inside, depth=bend_factor * web.sheet.thickness, start=start,
            start_turn=turn,
        )  # fmt: skip
        start, turn = unrolled.near_flat[-1], float(unrolled.turn[-1])
        pieces.append(_piece(near_built, far_built, unrolled, trim, span))
    squared = SIDE_WALLS | {joint.against for joint in trim.joints} if trim is not None else frozenset[str]()
    near_ends, far_ends = (
        tuple(end for end in ends if end.against not in squared) for ends in (web.near_ends, web.far_ends)
    )
    return BuiltWeb(
        web=web,
        whole=whole,
        built_from_imagined=matrix,
        meeting=meeting,
        pieces=tuple(pieces),
        near_planes=_built_planes(near_ends, matrix),
        far_planes=_built_planes(far_ends, matrix),
        end_planes=_built_planes(web.ends, matrix),
        near_covers=_covers(web.near_ends, web, matrix),
        far_covers=_covers(web.far_ends, web, matrix),
        cap=_cap(web, matrix),
        settled_from_raw=_settled(web, pieces),
        squared=squared,
    )


def seen_web(web: Web, relief: Relief) -> tuple[Web, Array]:
    """Return a web without what of its tips is left out, and the ``(4, 4)`` relief that holds for all of it."""
    matrix = _placement(web, relief)
    return _without_tips(web, matrix), matrix


def _trimmed(web: Web, trim: Trim | None) -> tuple[Web, list[tuple[int, float, float]]]:
    """Return what a trim leaves of a web: pieces, and of each its former number and from where to where it goes."""
    every = range(len(web.section))
    if trim is None:
        return web, [(number, 0.0, 1.0) for number in every]
    spans = [(number, max(0.0, trim.first - number), min(1.0, trim.last - number)) for number in every]
    spans = [(number, start, end) for number, start, end in spans if end - start > TOUCH]

    def cut(path: Path) -> Path:
        return tuple(curves.piece(path[number], start, end) for number, start, end in spans)

    near_ends, far_ends = (tuple(ends[number] for number, _, _ in spans) for ends in (web.near_ends, web.far_ends))
    left = replace(
        web, near=cut(web.near), far=cut(web.far), section=cut(web.section), near_ends=near_ends, far_ends=far_ends
    )
    return left, spans


def _piece(near: Curve, far: Curve, unrolled: Unrolled, trim: Trim | None, span: tuple[int, float, float]) -> Piece:
    if trim is None:
        none = np.zeros(len(unrolled.t))
        return Piece(near=near, far=far, unrolled=unrolled, near_back=none, far_back=none)
    number, start, end = span
    places = number + start + (end - start) * unrolled.t
    rows = (trim.rows - number - start) / (end - start)
    return Piece(
        near=near,
        far=far,
        unrolled=unrolled,
        near_back=np.interp(places, trim.at, trim.near),
        far_back=np.interp(places, trim.at, trim.far),
        rows=np.clip(rows[(rows > -TOUCH) & (rows < 1 + TOUCH)], 0.0, 1.0),
    )


def _area(piece: Piece) -> float:
    """Return the area of a piece between where its sheet ends; across its rulings a strip widens evenly."""
    one = piece.unrolled
    if not (piece.near_back.any() or piece.far_back.any()):
        return one.area
    across = cross(one.normals, one.rulings)
    near, far = (np.einsum("ij,ij->i", derivatives(curve, one.t)[1], across) for curve in (piece.near, piece.far))
    low, high = piece.near_back, one.lengths - piece.far_back
    share = (low + high) / 2 / np.maximum(one.lengths, TOUCH)
    return float(cumulate((high - low) * np.abs(near + share * (far - near)), one.t)[-1])


def _placement(web: Web, relief: Relief) -> Array:
    farthest = max(float(curves.bounds(web.far)[1, 1]), float(curves.bounds(web.near)[1, 1]))
    return np.eye(4) if farthest <= relief.apron + TOUCH else relief.built_from_imagined


def _inside(web: Web) -> Array:
    """Return an imagined point below the web: on its section's axis, level with its lowest ruling."""
    ends = (web.section[0].start, web.section[-1].end)
    points = np.vstack([web.near[0].start, web.far[0].start, web.near[-1].end, web.far[-1].end])
    place = np.append(points.mean(axis=0), 1.0)
    u = float((np.linalg.inv(web.imagined_from_section) @ place)[2])
    inside: Array = (web.imagined_from_section @ np.array([0.0, min(float(end[1]) for end in ends), u, 1.0]))[:3]
    return inside


def _built_planes(ends: tuple[WebEnd, ...], built_from_imagined: Array) -> tuple[Array, ...]:
    """Return each plane once, unit normals; planes go by the inverse transpose: plane' = M^-T plane."""
    carry = np.linalg.inv(built_from_imagined).T
    planes = [carry @ np.array(plane) for plane in dict.fromkeys(end.plane for end in ends)]
    return tuple(plane / np.linalg.norm(plane[:3]) for plane in planes)


def _covers(ends: tuple[WebEnd, ...], web: Web, built_from_imagined: Array) -> tuple[Array, ...]:
    """Return the built planes beside groins, which run aslant, up to which ribs cover a web."""
    aslant = [end for end in ends if end.plane[0] != 0.0 and end.plane[1] != 0.0]
    if web.covered == 0.0:
        return ()
    sizes = [float(np.linalg.norm(end.plane[:3])) for end in aslant]
    moved = tuple(
        replace(end, plane=(*end.plane[:3], end.plane[3] - web.covered * size))
        for end, size in zip(aslant, sizes, strict=True)
    )
    return _built_planes(moved, built_from_imagined)


def _cap(web: Web, built_from_imagined: Array) -> Array | None:
    if web.covered == 0.0 or web.generator[0] == 0.0:
        return None
    side = float(np.sign(_inside(web)[0]))
    end = WebEnd(plane=(side, 0.0, 0.0, -CROSSED * web.covered), against="")
    return _built_planes((end,), built_from_imagined)[0]


def _settled(web: Web, pieces: list[Piece]) -> Array:
    """Turn the highest ruling level and bring the lower left corner to the origin."""
    heights = [float(curve.end[1]) for curve in web.section]
    turn = float(pieces[int(np.argmax(heights))].unrolled.turn[-1])
    cos, sin = np.cos(-turn), np.sin(-turn)
    turned = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    points = np.vstack([points for piece in pieces for points, _ in piece.borders_flat()])
    low = frames.apply(turned, points).min(axis=0)
    out: Array = np.array([[1.0, 0.0, -low[0]], [0.0, 1.0, -low[1]], [0.0, 0.0, 1.0]]) @ turned
    return out


def _without_tips(web: Web, built_from_imagined: Array) -> Web:
    """Return a web without the tips that are narrower than its sheet is thick and hidden by a springer block."""
    if web.hidden_below is None:
        return web
    first, last = _tip(web, built_from_imagined, 0), _tip(web, built_from_imagined, -1)
    return _kept(_kept(web, 0, first, 1.0), -1, 0.0, last)


def _tip(web: Web, built_from_imagined: Array, index: int) -> float:
    """Return the parameter on the first or last piece at which the web starts to be wide enough, or seen."""
    t = np.linspace(0.0, 1.0, 513)
    near = curves.evaluate(curves.transform(web.near[index], built_from_imagined), t)
    far = curves.evaluate(curves.transform(web.far[index], built_from_imagined), t)
    height = curves.evaluate(web.section[index], t)[:, 1]
    hidden = (np.linalg.norm(far - near, axis=1) < web.sheet.thickness) & (height < (web.hidden_below or 0.0))
    if index == 0:
        return float(t[hidden.argmin()]) if hidden[0] and not hidden.all() else 0.0
    return float(t[len(t) - 1 - hidden[::-1].argmin()]) if hidden[-1] and not hidden.all() else 1.0


def _kept(web: Web, index: int, start: float, end: float) -> Web:
    def cut(path: Path) -> Path:
        pieces = list(path)
        pieces[index] = curves.piece(pieces[index], start, end)
        return tuple(pieces)

    return replace(web, near=cut(web.near), far=cut(web.far), section=cut(web.section))
