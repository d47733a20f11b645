"""A face as a print: a plate as thick as the sheet it stands in for, every unit of its cover raised from it.

Terms
-----
plate
    The panel's own body: same visible face, same mitres, so that neighbours keep their bevels whichever is made.
room
    Where units may stand, flat mm: the face less its openings, held back from every border by the play, and less
    whatever else stands against it.
unit
    A rectangle of the cover, whole or cut to the room, raised square to the imagined face. Its foot is a hole of the
    plate's visible face: one surface from the first, so nothing has to be united that only touches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.covers.table import CoverTable
from pipeline.elements.surfaces import Face, Family, Mark
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim
from pipeline.geometry.curves import Curve
from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.geometry.regions import Region
from pipeline.parts.banding import crossed, triangulate_bands
from pipeline.parts.bodies import ARC_STEPS, answering, triangulate
from pipeline.parts.guides import clip_families, thin
from pipeline.parts.leaves import Lie
from pipeline.parts.model import Leaf, Print, Raised
from pipeline.parts.outlines import Making, flat_loops, sheet_region
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

LEAST_PLAY = 0.05
"""mm units keep from the plate's borders at least, so that the face between them never vanishes."""
BLUNTEST = 3.0
"""Corners of cut units reach this many half details out at most, which keeps those of 39 degrees and more."""
MARK_CHORD = 0.02
"""mm; where things stand is only kept clear of, and by more than this."""
SHORTEST = 1e-4
"""mm; edges shorter than this fall together when written in single precision, so they are taken out first."""
SHAVED = 1e-3
"""mm behind the visible face that a plate is cut off at to be measured: clear of how the file rounds that face."""
MOST_UNITS = 20_000
"""On one face; beyond this the files grow to tens of megabytes, and no printer shows such units."""
BAND = 400
"""Units of a band; twice as many take four times as long to leave out of the face."""
QUAD = np.array([[0, 1, 2], [0, 2, 3]])


def is_raised(cover: CoverTable | None, lie: Lie) -> bool:
    """Return whether a face is made as a print; one that folds at the apron's end stays a panel."""
    return cover is not None and cover.relief > 0 and cover.relief_as == "print" and lie.fold is None


def relief_print(
    face: Face,
    region: Region,
    units: Array,
    families: list[Family],
    making: Making,
    *,
    height: float,
    marks: Iterable[Mark],
    standing: Iterable[Print],
    fit: float,
    mesh_tolerance: float,
    detail: float,
) -> Print:
    """Return a face with its units raised as a print.

    Parameters
    ----------
    face, region
        The face and what is left of it after its cuts, host coordinates.
    units
        ``(n, 4, 2)`` of its cover, host coordinates.
    families
        Lines of its cover, along the middles of the joints; host coordinates.
    making
        What the panels share.
    height
        How far the units stand out, imagined mm.
    marks, standing
        Where things stand on faces, and the prints made before this one; units keep ``fit`` from both.
    fit
        Play, built mm.
    mesh_tolerance
        Facets to the curves of openings, built mm.
    detail
        Cut units lose what is narrower than this, built mm.

    Raises
    ------
    BodyError
        If the result is not one closed outward body.
    """
    leaf = making.lies[face.id].leaves[0]
    plate = _plate(face, region, making, mesh_tolerance, _bands(face, families, leaf, len(units)))
    stance = _stance(face, height, leaf, making.relief)
    play = max(fit, LEAST_PLAY) + stance.lean
    top = height * (1 + play / stance.height)
    around = [*_marked(face, marks, leaf), *_standing(face, top, standing, leaf)]
    room = shapely.Polygon(plate.front[0], plate.front[1:]).buffer(-play, join_style="mitre")
    if around:
        room = room.difference(shapely.union_all(around).buffer(play, join_style="mitre"))
    pieces = _cut(frames.apply(leaf.flat_from_host, units.reshape(-1, 2)).reshape(-1, 4, 2), room, detail)
    built, imagined = _bodies(face, plate, pieces, leaf, making.relief, height=height)
    body = _whole(face, built)
    joints = _joint_lines(face, region, families, making)
    return Print(
        solid=Raised(face=face, region=region, leaf=leaf, relief=height, units=len(pieces), joints=joints),
        body=body,
        skin_imagined=imagined,
        built_from_bed=_face_up(body, leaf),
        hollow=False,
        volume=signed_volume(body),
        min_wall=plate.thickness,
    )


def behind_face(body: Mesh, raised: Raised) -> Mesh:
    """Return what of a built body lies ``SHAVED`` or more behind the raised face: its plate alone.

    Raises
    ------
    BodyError
        If the body is not closed.
    """
    toward, origin = raised.leaf.built_from_flat[:3, 2], raised.leaf.built_from_flat[:3, 3]
    return mesh_of(trim(body_of(body), np.append(-toward, toward @ origin), SHAVED))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Plate:
    """Loops ``(n, 2)`` of the visible and of the hidden face, point for point, and the thickness between; flat mm.

    ``cuts`` ``(m, 2, 2)`` part the visible face into bands that no unit reaches over.
    """

    front: list[Array]
    back: list[Array]
    cuts: Array
    thickness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stance:
    """How what stands on the face comes out, built mm: its least height, and how far its top leans at most."""

    height: float
    lean: float


def _plate(face: Face, region: Region, making: Making, tolerance: float, bands: Array) -> _Plate:
    lie = making.lies[face.id]
    thickness = face.sheet.thickness + face.sheet.finish
    loops = flat_loops(region, lie)
    front = sheet_region(loops, lie, face, making, 0.0)
    back = sheet_region(loops, lie, face, making, thickness)
    steps = max([ARC_STEPS, *(_steps(curve, tolerance) for curve in front.curves)])
    paired = [answering(a, b, steps) for a, b in zip(front.loops, back.loops, strict=True)]
    rims, backs, cuts = crossed([a for a, _ in paired], [b for _, b in paired], bands)
    return _Plate(front=rims, back=backs, cuts=cuts, thickness=thickness)


def _bands(face: Face, families: list[Family], leaf: Leaf, units: int) -> Array:
    """Return beds that part the face into bands of about ``BAND`` units, ``(k, 2, 2)`` flat, drawn out past it."""
    bands = units // BAND
    for family in families:
        ways = family.lines[:, 1] - family.lines[:, 0]
        if family.course is None and bands and (ways.prod(axis=1) == 0).all():
            lines = family.lines[:: max(1, math.ceil(len(family.lines) / bands))].copy()
            low, high = curves.bounds(edge.curve for edge in face.region.outline)
            along = int(abs(ways[0, 1]) > abs(ways[0, 0]))
            lines[:, :, along] = low[along] - 1.0, high[along] + 1.0
            return frames.apply(leaf.flat_from_host, lines.reshape(-1, 2)).reshape(-1, 2, 2)
    return np.zeros((0, 2, 2))


def _steps(curve: Curve, tolerance: float) -> int:
    """Return how many chords of equal parameter keep a bent edge within the tolerance."""
    if curve.straight:
        return 1
    points = curves.evaluate(curve, np.linspace(0, 1, 2 * ARC_STEPS + 1))
    sag = np.linalg.norm(points[1::2] - (points[:-1:2] + points[2::2]) / 2, axis=1).max()
    return math.ceil(ARC_STEPS * math.sqrt(max(1.0, float(sag) / tolerance)))


def _marked(face: Face, marks: Iterable[Mark], leaf: Leaf) -> list[shapely.Geometry]:
    """Return where things stand on the face, flat mm."""
    outlines = [curves.flatten_path(mark.curve, MARK_CHORD) for mark in marks if mark.host == face.id]
    return [shapely.Polygon(frames.apply(leaf.flat_from_host, outline)) for outline in outlines]


def _standing(face: Face, top: float, prints: Iterable[Print], leaf: Leaf) -> list[shapely.Geometry]:
    """Return what prints take of the layer from the imagined face up to ``top``, seen square to it, flat mm."""
    imagined_from_layer = np.eye(4)
    imagined_from_layer[:3, :2] = face.imagined_from_host[:3, :2]
    imagined_from_layer[:3, 2], imagined_from_layer[:3, 3] = face.inward, face.imagined_from_host[:3, 2]
    layer_from_imagined = frames.inverse(imagined_from_layer)
    handed = np.linalg.det(imagined_from_layer) > 0
    shadows = []
    for part in prints:
        vertices = frames.apply(layer_from_imagined, part.skin_imagined.vertices)
        if vertices[:, 2].min() > top or vertices[:, 2].max() <= 0:
            continue
        triangles = part.skin_imagined.triangles
        body = body_of(Mesh(vertices=vertices, triangles=triangles if handed else triangles[:, ::-1].copy()))
        layer = trim(trim(body, np.array([0.0, 0.0, 1.0, 0.0])), np.array([0.0, 0.0, -1.0, top]))
        loops = [frames.apply(leaf.flat_from_host, loop) for loop in layer.project().to_polygons()]
        shadows += [shapely.Polygon(loop) for loop in loops if len(loop) > 2]
    return [shadow if shadow.is_valid else shadow.buffer(0) for shadow in shadows]


def _stance(face: Face, height: float, leaf: Leaf, relief: Relief) -> _Stance:
    """Return how points ``height`` out of the imagined face come out; the extremes lie at the outline's corners."""
    feet = frames.apply(face.imagined_from_host, np.array([edge.curve.start for edge in face.region.outline]))
    flat_from_built = frames.invert_rigid(leaf.built_from_flat)
    low, high = (frames.apply(flat_from_built, relief.build_points(feet + h * face.inward)) for h in (0.0, height))
    away = high - low
    return _Stance(height=float(away[:, 2].min()), lean=float(np.linalg.norm(away[:, :2], axis=1).max()))


def _cut(units_flat: Array, room: shapely.Geometry, detail: float) -> list[tuple[Array, ...]]:
    """Return the units cut to the room, each as its outline, counter-clockwise, and its holes, clockwise."""
    polygons = shapely.orient_polygons(shapely.polygons(units_flat))
    shapely.prepare(room)
    whole = shapely.contains(room, polygons)
    cut = shapely.get_parts(shapely.intersection(polygons[~whole & shapely.intersects(room, polygons)], room))
    rings = [(ring[:-1],) for ring in shapely.get_coordinates(polygons[whole]).reshape(-1, 5, 2)]
    return rings + [
        tuple(shapely.get_coordinates(ring)[:-1] for ring in (piece.exterior, *piece.interiors))
        for piece in _blunted(cut, detail)
    ]


def _blunted(pieces: NDArray[np.object_], detail: float) -> NDArray[np.object_]:
    """Return the pieces without what is narrower than ``detail``: slivers, necks, and tips like a knife's."""
    shrunk = shapely.buffer(pieces, -detail / 2, join_style="mitre")
    grown = shapely.buffer(shrunk, detail / 2, join_style="mitre", mitre_limit=BLUNTEST)
    kept = shapely.get_parts(shapely.intersection(pieces, grown))
    return np.asarray(shapely.orient_polygons(kept[shapely.area(kept) > detail**2]))


def _bodies(
    face: Face, plate: _Plate, pieces: list[tuple[Array, ...]], leaf: Leaf, relief: Relief, *, height: float
) -> tuple[Mesh, Mesh]:
    """Return plate and units as one surface, built and imagined, vertex for vertex.

    The vertices are those of the plate's visible face, its hidden face, the units' feet and their tops. What nobody
    imagined, the hidden face, is carried back from the built room.
    """
    loops = [loop for piece in pieces for loop in piece]
    front, back, feet = np.vstack(plate.front), np.vstack(plate.back), np.vstack([np.zeros((0, 2)), *loops])
    host_from_flat = frames.inverse(leaf.flat_from_host)
    at_face = frames.apply(face.imagined_from_host, frames.apply(host_from_flat, np.vstack([front, feet])))
    tops = at_face[len(front) :] + height * face.inward
    front_built, back_built, feet_built = (
        frames.apply(leaf.built_from_flat, np.column_stack([points, np.full(len(points), z)]))
        for points, z in ((front, 0.0), (back, -plate.thickness), (feet, 0.0))
    )
    built = [front_built, back_built, feet_built, relief.build_points(tops)]
    imagined = [at_face[: len(front)], relief.carry_back(back_built), at_face[len(front) :], tops]
    triangles = _surface(plate, pieces)
    return (
        Mesh(vertices=np.vstack(built), triangles=triangles),
        Mesh(vertices=np.vstack(imagined), triangles=triangles),
    )


def _surface(plate: _Plate, pieces: list[tuple[Array, ...]]) -> Indices:
    """Return the triangles over the vertices of ``_bodies``."""
    loops = [loop for piece in pieces for loop in piece]
    rim, around = _next(plate.front), _next(loops)
    border, feet, tops = len(rim), 2 * len(rim), 2 * len(rim) + len(around)
    turned = np.concatenate([np.arange(border), feet + _backward(loops)])
    face = turned[triangulate_bands(plate.front, plate.cuts, [loop[::-1] for loop in loops])]
    hidden = triangulate(plate.back)[:, ::-1] + border
    caps, start = [np.zeros((0, 3), dtype=np.int64)], tops
    for piece in pieces:
        caps.append(start + (QUAD if len(piece) == 1 and len(piece[0]) == 4 else triangulate(list(piece))))
        start += sum(len(loop) for loop in piece)
    sides = _band(np.arange(border), border + np.arange(border), rim)
    flanks = _band(tops + np.arange(len(around)), feet + np.arange(len(around)), around)
    return np.vstack([face, hidden, sides, flanks, *caps])


def _next(loops: list[Array]) -> Indices:
    """Return for each of the stacked points the number of the next one round its loop."""
    ends = np.cumsum([len(loop) for loop in loops], dtype=np.int64)
    following = np.arange(1, (ends[-1] if len(ends) else 0) + 1)
    following[ends - 1] = ends - [len(loop) for loop in loops]
    return following


def _backward(loops: list[Array]) -> Indices:
    """Return the numbers of the stacked points with every loop run the other way."""
    starts = np.cumsum([0, *(len(loop) for loop in loops)])
    parts = [np.arange(end - 1, start - 1, -1) for start, end in pairwise(starts)]
    return np.concatenate([np.zeros(0, dtype=np.int64), *parts])


def _band(upper: Indices, lower: Indices, following: Indices) -> Indices:
    """Return the triangles between two rings of points that correspond, the upper counter-clockwise seen from above."""
    one = np.column_stack([upper, lower, upper[following]])
    two = np.column_stack([upper[following], lower, lower[following]])
    return np.vstack([one, two])


def _whole(face: Face, built: Mesh) -> Mesh:
    body = body_of(built).simplify(SHORTEST)
    pieces = [piece for piece in body.decompose() if piece.volume() > 0]
    if len(pieces) != 1:
        raise BodyError(f"{face.id} falls into {len(pieces)} pieces")
    return mesh_of(body)


def _joint_lines(face: Face, region: Region, families: list[Family], making: Making) -> Array:
    """Return the middles of the joints, thinned as a panel's guides are, ``(n, 2, 3)`` imagined mm."""

    def build(points_host: Array) -> Array:
        return making.relief.build_points(frames.apply(face.imagined_from_host, points_host))

    lines, _ = thin(clip_families(families, region), build, making.min_guide)
    return frames.apply(face.imagined_from_host, lines.reshape(-1, 2)).reshape(-1, 2, 3)


def _face_up(body: Mesh, leaf: Leaf) -> Array:
    """Return built_from_bed: the plate's back on the bed, the units up, its longer way along x."""
    flat = frames.apply(frames.invert_rigid(leaf.built_from_flat), body.vertices)
    low, high = flat.min(axis=0), flat.max(axis=0)
    right, up, toward = leaf.built_from_flat[:3, :3].T
    corner = low
    if high[1] - low[1] > high[0] - low[0]:
        right, up, corner = up, -right, np.array([high[0], low[1], low[2]])
    origin = frames.apply(leaf.built_from_flat, corner[None])[0]
    return frames.rigid(right, up, toward, origin)
