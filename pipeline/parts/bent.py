"""Webs made into bent panels.

Terms
-----
ruling
    A straight line of the web; the sheet is bent along it.
fold
    A ruling that is drawn on the panel. Bent along these alone, with flat strips between, the sheet lies everywhere
    within ``make.bend_tolerance`` of the curved web.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.model import Web
from pipeline.elements.surfaces import Family
from pipeline.geometry import curves, frames
from pipeline.geometry.arcs import SAME
from pipeline.geometry.curves import Curve
from pipeline.geometry.developing import cumulate, fit_conics
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Edge, Loop, Region, path_of
from pipeline.parts.bent_bodies import web_body
from pipeline.parts.bent_guides import lay_guides
from pipeline.parts.model import JointEdge
from pipeline.parts.webs import BuiltWeb, Piece, Trim, TrimmedJoint, build_web
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

FIT = 1e-4
"""mm; how far the drawn border may stray from the developed one."""
WALLS = ("left-wall", "right-wall", "back-wall")
"""What is flat of all that webs end on; between two webs the ribs hide how they meet."""
EVERY = 8
"""Of the unrolled samples one in so many is enough to hold a fitted conic against."""
BETWEEN = 4
"""Rulings in the manifest for each fold: a reader that bends flat strips between them is sixteen times as near."""
WEB_WALLS = 1.5
"""Thickness of a printed web over the least wall the printer makes: room for what its edges lose."""
OVER = 0.1
"""mm; facets of bodies leave this much open beside what a sheet leaves open, or less."""
LEAST_FOLD = 0.1
"""mm; a web narrower than this bends by itself."""
SHORTEST = 1.0
"""mm; shorter rulings are drawn out to this length in the manifest, so that they have a direction."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ruling:
    """A ruling where it lies flat ``(2, 2)`` and built, on the visible face ``(2, 3)``; mm.

    ``fold`` is its place in the order of bending, from 1, or nothing where it is not drawn; ``wide`` is how wide the
    web is there, mm, which at its tips may be less.
    """

    flat: Array
    built: Array
    fold: int | None
    wide: float

    @property
    def drawn(self) -> Array:
        """``(2, 2)`` flat: what of it lies on the sheet."""
        start, end = self.flat
        share = min(1.0, self.wide / float(np.linalg.norm(end - start)))
        return np.array([start, end]) if share == 1.0 else np.array([start, start + share * (end - start)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Border:
    """A stretch of a web's border: points, its unit normals into the room, its ways inward; ``(n, 3)`` built, mm."""

    against: str
    points: Array
    normals: Array
    inward: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bare:
    """What of a web its sheet leaves open beside another part: triangles ``(n, 3, 3)`` of the visible face, built."""

    against: str
    corners: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BentPanel:
    """A web made from sheet.

    Attributes
    ----------
    web
        The imagined web it shows, without what was trimmed.
    thickness
        mm.
    cut
        Outline, flat mm, exact curves.
    edges
        The border, for the cut list.
    borders
        Its border where that is curved, as built; where the web is seen to end, not its sheet.
    trimmed
        ``(n, 2, 3)`` imagined chords of where its sheet ends, if that is elsewhere.
    bare
        What it leaves open where it stands back.
    guides, guides_imagined
        ``(n, 2, 2)`` flat lines of the cover, and the ``(n, 2, 3)`` imagined ones they show.
    rulings
        From the first to the last.
    body, cut_edges, visible, visible_imagined
        As of a panel: closed body, cut edges and visible face (built), the same triangles (imagined).
    area
        Of the built visible surface, mm^2.
    radius
        Smallest radius it is bent to, at the visible face, mm.
    thinned
        (guides left out or shortened, built depth from which it happened) or None.
    """

    web: Web
    thickness: float
    cut: Region
    edges: tuple[JointEdge, ...]
    borders: tuple[Border, ...]
    trimmed: Array | None
    bare: tuple[Bare, ...]
    guides: Array
    guides_imagined: Array
    rulings: tuple[Ruling, ...]
    body: Mesh
    cut_edges: Mesh
    visible: Mesh
    visible_imagined: Mesh
    area: float
    radius: float
    thinned: tuple[int, float] | None

    @property
    def id(self) -> str:
        """Part id."""
        return self.web.id

    @property
    def material(self) -> str:
        """Name of the sheet's material."""
        return self.web.sheet.material

    @property
    def hidden(self) -> Region:
        """Outline of the hidden face, flat: the same, since bent edges are cut square."""
        return self.cut

    @property
    def folds(self) -> Array:
        """``(k, 2, 2)`` flat lines to bend along."""
        folds = [ruling.drawn for ruling in self.rulings if ruling.fold is not None and ruling.wide >= LEAST_FOLD]
        return np.array(folds).reshape(-1, 2, 2)


def make_bent(
    web: Web,
    families: list[Family],
    relief: Relief,
    *,
    bend_factor: float,
    bend_tolerance: float,
    min_guide: float,
    trim: Trim | None = None,
) -> BentPanel:
    """Return the bent panel of a web.

    Parameters
    ----------
    web
        Imagined.
    families
        Lines of its cover, host coordinates of a half.
    bend_factor
        Where the neutral layer lies: 0 visible face, 1 hidden.
    bend_tolerance, min_guide
        From ``[make]``, mm.
    trim
        How far it stands back where its edges are cut square and meet others round a corner.
    """
    built = build_web(web, relief, bend_factor, trim)
    loop = _outline(built)
    guides, guides_imagined, thinning = lay_guides(built, families, min_guide)
    body = web_body(built, web.sheet.thickness)
    tightest = max(float(piece.unrolled.bends.max()) for piece in built.pieces)
    touched = thinning.dropped + thinning.shortened
    return BentPanel(
        web=built.web,
        thickness=web.sheet.thickness,
        cut=Region(loop),
        edges=_edges(loop, _angles_deg(built), {} if trim is None else {joint.against: joint for joint in trim.joints}),
        borders=tuple(_borders(built)),
        trimmed=None if trim is None else _trimmed_border(built),
        bare=() if trim is None else tuple(_bare(build_web(web, relief, 0.0), trim)),
        guides=guides,
        guides_imagined=guides_imagined,
        rulings=tuple(_rulings(built, bend_tolerance)),
        body=body.body,
        cut_edges=body.cut_edges,
        visible=body.visible,
        visible_imagined=body.visible_imagined,
        area=built.area,
        radius=math.inf if tightest == 0 else 1 / tightest,
        thinned=None if thinning.begins is None else (touched, thinning.begins),
    )


def web_block(web: Web, relief: Relief, least: float) -> Block:
    """Return a web as a body to be printed, as thick as its sheet when built, or as a print safely is.

    Parameters
    ----------
    web, relief
        Imagined, and the collineation.
    least
        The printer's least wall, mm.

    It has no play: walls and cells end where it is seen to end, so a gap would show the bare box.
    """
    built = build_web(web, relief, 0.0)
    mesh = web_body(built, max(web.sheet.thickness, WEB_WALLS * least), least).body
    back = np.linalg.inv(built.built_from_imagined)
    homogeneous = mesh.vertices @ back[:, :3].T + back[:, 3]
    imagined = Mesh(vertices=homogeneous[:, :3] / homogeneous[:, 3:], triangles=mesh.triangles)
    return Block(id=web.id, mesh=imagined, contacts=(), joints=np.zeros((0, 2, 3)), path=web.path)


def _outline(built: BuiltWeb) -> Loop:
    """Return the border counter-clockwise, flat: near border, last ruling, far border back, first ruling."""
    web = built.web
    near: list[Edge] = []
    far: list[Edge] = []
    for piece, near_end, far_end in zip(built.pieces, web.near_ends, web.far_ends, strict=True):
        near_flat, far_flat = piece.borders_flat()
        near += [Edge(c, near_end.against) for c in _fitted(built, *near_flat)]
        far += [Edge(c, far_end.against) for c in _fitted(built, *far_flat)]
    first, last = web.ends
    back = [Edge(curves.reverse(edge.curve), edge.against) for edge in reversed(far)]
    loop = [*near, *_closing(near[-1].curve.end, back[0].curve.start, last.against), *back]
    loop += _closing(back[-1].curve.end, near[0].curve.start, first.against)
    if curves.signed_area(path_of(tuple(loop))) < 0:
        loop = [Edge(curves.reverse(edge.curve), edge.against) for edge in reversed(loop)]
    return tuple(loop)


def _fitted(built: BuiltWeb, points: Array, ways: Array) -> tuple[Curve, ...]:
    turned = ways[::EVERY] @ built.settled_from_raw[:2, :2].T
    return fit_conics(built.flat(points[::EVERY]), turned, FIT)


def _closing(start: Array, end: Array, against: str) -> list[Edge]:
    return [Edge(curves.line(start, end), against)] if np.abs(end - start).max() > SAME else []


def _angles_deg(built: BuiltWeb) -> dict[str, tuple[float, float]]:
    """Return the least and greatest room-side angle at each wall, degrees, by part id.

    Along a ruling the web has one normal, so at its end th = acos(-(n_web . n_wall)) as between two flat faces.
    """
    carry = np.linalg.inv(built.built_from_imagined).T
    found: dict[str, list[float]] = {}
    for piece, *ends in zip(built.pieces, built.web.near_ends, built.web.far_ends, strict=True):
        for end in ends:
            if end.against in WALLS:
                plane = carry @ np.array(end.plane)
                cosines = -piece.unrolled.normals @ (plane[:3] / np.linalg.norm(plane[:3]))
                found.setdefault(end.against, []).extend(np.degrees(np.arccos(np.clip(cosines, -1.0, 1.0))).tolist())
    return {part: (min(angles), max(angles)) for part, angles in found.items()}


def _borders(built: BuiltWeb) -> Iterator[Border]:
    """Yield the curved borders, piece by piece."""
    for piece, near, far in zip(built.pieces, built.web.near_ends, built.web.far_ends, strict=True):
        one = piece.unrolled
        for end, curve, inward in ((near, piece.near, one.rulings), (far, piece.far, -one.rulings)):
            points = curves.evaluate(curve, one.t[::EVERY])
            yield Border(against=end.against, points=points, normals=one.normals[::EVERY], inward=inward[::EVERY])


def _trimmed_border(built: BuiltWeb) -> Array:
    """Return imagined chords ``(n, 2, 3)`` of where the sheet ends."""
    back = frames.inverse(built.built_from_imagined)
    nears, fars = [], []
    for piece in built.pieces:
        t, ways = piece.unrolled.t[::EVERY], piece.unrolled.rulings[::EVERY]
        near_back, far_back = piece.backs(t)
        nears.append(curves.evaluate(piece.near, t) + near_back[:, None] * ways)
        fars.append(curves.evaluate(piece.far, t) - far_back[:, None] * ways)
    loop = np.vstack([*nears, *(far[::-1] for far in reversed(fars)), nears[0][:1]])
    chords = np.stack([loop[:-1], loop[1:]], axis=1)
    chords = chords[np.linalg.norm(chords[:, 1] - chords[:, 0], axis=1) > FIT / 10]
    return frames.apply(back, chords.reshape(-1, 3)).reshape(-1, 2, 3)


def _bare(whole: BuiltWeb, trim: Trim) -> Iterator[Bare]:
    """Yield what a trim takes off a web, beside each other part; of a tip that is cut away all."""
    left = {joint.against for joint in trim.joints}
    for number, piece in enumerate(whole.pieces):
        one = piece.unrolled
        places = number + one.t[::EVERY]
        ways, lengths = one.rulings[::EVERY], one.lengths[::EVERY]
        gone = (places <= trim.first) | (places >= trim.last)
        start, end = curves.evaluate(piece.near, one.t[::EVERY]), curves.evaluate(piece.far, one.t[::EVERY])
        for near, ends, taken in ((True, whole.web.near_ends, trim.near), (False, whole.web.far_ends, trim.far)):
            back = np.where(gone, lengths, np.minimum(np.interp(places, trim.at, taken), lengths))
            if ends[number].against in left and back.any():
                outer = start if near else end
                inward = ways if near else -ways
                outer, inner = outer - OVER * inward, outer + (back + OVER)[:, None] * inward
                quads = np.stack([outer[:-1], inner[:-1], inner[1:], outer[1:]], axis=1)
                yield Bare(against=ends[number].against, corners=quads[:, [[0, 1, 2], [0, 2, 3]]].reshape(-1, 3, 3))


def _edges(
    loop: Loop, angles_deg: Mapping[str, tuple[float, float]], trimmed: Mapping[str, TrimmedJoint]
) -> tuple[JointEdge, ...]:
    """Return the border for the cut list: each neighbour's stretch of it as one edge, cut square."""
    start = next((k for k in range(len(loop)) if loop[k].against != loop[k - 1].against), 0)
    turned = loop[start:] + loop[:start]
    runs = [list(run) for _, run in groupby(turned, key=lambda edge: edge.against)]
    return tuple(
        JointEdge(
            start=_place(run[0].curve.start),
            end=_place(run[-1].curve.end),
            length=sum(curves.length(edge.curve) for edge in run),
            against=run[0].against,
            angle_deg=angles_deg.get(run[0].against),
            bevel_deg=(0.0, 0.0),
            gap=trimmed[run[0].against].gap if run[0].against in trimmed else (0.0, 0.0),
            back=trimmed[run[0].against].back if run[0].against in trimmed else 0.0,
            through=trimmed[run[0].against].through if run[0].against in trimmed else "",
        )
        for run in runs
        if sum(curves.length(edge.curve) for edge in run) > FIT
    )


def _place(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _rulings(built: BuiltWeb, tolerance: float) -> list[Ruling]:
    """Return rulings at equal sags, the drawn ones numbered from the crown out."""
    found: list[tuple[Array, Array, bool, float]] = []
    for index, piece in enumerate(built.pieces):
        one = piece.unrolled
        even = cumulate(one.tightness, one.t)
        folds = max(1, math.ceil(float(even[-1]) / math.sqrt(8 * tolerance)))
        count = np.arange(1 if index else 0, folds * BETWEEN + 1)
        at = np.interp(even[-1] * count / (folds * BETWEEN), even, one.t)
        flats, seen, wide = _placed(built, piece, at)
        found += zip(flats, seen, count % BETWEEN == 0, wide.tolist(), strict=True)
    drawn = [number for number, (_, _, fold, _) in enumerate(found) if fold][1:-1]
    heights = np.array([found[number][1][:, 2].max() for number in drawn])
    order = {drawn[place]: rank for rank, place in enumerate(np.argsort(-heights, kind="stable"), start=1)}
    return [
        Ruling(flat=flat, built=seen, fold=order.get(number), wide=wide)
        for number, (flat, seen, _, wide) in enumerate(found)
    ]


def _placed(built: BuiltWeb, piece: Piece, at: Array) -> tuple[Array, Array, Array]:
    """Return rulings at parameters ``(n,)`` flat ``(n, 2, 2)`` and built ``(n, 2, 3)``, and their own lengths."""
    one = piece.unrolled
    start, end = curves.evaluate(piece.near, at), curves.evaluate(piece.far, at)
    ways = built.meeting[:3] - built.meeting[3] * start
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    near_back, far_back = piece.backs(at)
    start, end = start + near_back[:, None] * ways, end - far_back[:, None] * ways
    wide = np.einsum("ij,ij->i", end - start, ways)
    lengths = np.maximum(wide, SHORTEST)[:, None]
    turn = np.interp(at, one.t, one.turn)
    feet = np.column_stack([np.interp(at, one.t, column) for column in one.near_flat.T])
    along = np.column_stack([np.cos(turn), np.sin(turn)])
    feet = feet + near_back[:, None] * along
    ends = feet + lengths * along
    flat = built.flat(np.stack([feet, ends], axis=1).reshape(-1, 2)).reshape(-1, 2, 2)
    return flat, np.stack([start, start + lengths * ways], axis=1), wide
