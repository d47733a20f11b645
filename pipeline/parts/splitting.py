"""Prints too large for the bed, cut by planes into pieces that find each other again by pegs.

Terms
-----
cutting plane
    ``(4,)`` unit (n, c), built mm; the peg stands on the side where n . p + c < 0, its hole is on the other.
bulkhead
    What a hollow is filled with on both sides of a cutting plane, so that pegs have something to stand in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import product

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.problems import Problem, SceneError
from pipeline.geometry import frames
from pipeline.geometry.booleans import body_of, mesh_of, trim
from pipeline.geometry.meshes import Mesh, join, signed_volume
from pipeline.parts.bed import IN_PLANE, Size, fits, in_corner, lay_on_bed
from pipeline.parts.grains import kept_on
from pipeline.parts.model import Print
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

RADII = (2.0, 1.5, 1.25, 1.0, 0.75)
"""Of pegs, mm, tried in turn: thicker ones leave thin walls, thinner ones break."""
LENGTH, SLENDER = 4.0, 3.0
"""A peg stands out so many mm, but no more than so many of its radii."""
SIDES = 32
"""Facets round a peg and its hole, which are turned alike, so that the play is the same all round."""
ROOT = 1.0
"""mm a peg reaches into its own piece, and a hole's drill out of the other, so that no surfaces coincide."""
SPARE = 0.1
"""mm between all that a peg needs and the border of the cut."""
INSETS = (0.0, 0.75, 1.5, 2.5)
"""mm farther in, tried in turn: where the skin leans, there is less material behind the cut than in it."""
FREEDOM, SHIFTS = 6.0, (0.0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1.0, -1.0)
"""A cut may move up to so many mm, by these shares, away from joints and steps of the skin."""
PARALLEL, ENDLESS = 1e-9, 1e5
"""Sine under which two planes are parallel; mm that stand for no end."""
FILLED_MM3 = 1e-3
"""Volume that may lack where a peg is to stand: rounding."""
MOST_PIECES = 64
"""Of one print; more would be a print of another size, or a printer of another unit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cell:
    """A part of a print between cutting planes, with its part of the imagined skin and the pegs or holes it has."""

    body: manifold3d.Manifold
    skin: manifold3d.Manifold
    pegs: tuple[_Peg, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Peg:
    """A peg by its foot ``(3,)`` on the cutting plane, built mm, and its radius."""

    foot: Array
    radius: float

    @property
    def length(self) -> float:
        return min(LENGTH, SLENDER * self.radius)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Making:
    """The play round pegs and the wall round their holes, mm; whether grains stay on the piece they were part of."""

    fit: float
    wall: float
    whole_grains: bool


def bulkhead_depth(fit: float, wall: float) -> float:
    """Return how far a bulkhead reaches on either side of its cutting plane: hole, play and wall, mm."""
    return LENGTH + fit + wall


def cutting_planes(part: Print, bed: Size) -> tuple[Array, ...]:
    """Return the planes that cut a print into pieces for a bed (width, depth, height), mm; none where it fits.

    The cuts stand square to the bed or level with it, as the print lies, and part it equally.

    Raises
    ------
    SceneError
        If it would take more than `MOST_PIECES`.
    """
    built_from_bed = part.built_from_bed
    if fits(part.body, built_from_bed, bed):
        return ()
    along = part.body.vertices @ built_from_bed[:3, :3]
    low, sizes = along.min(axis=0), np.ptp(along, axis=0)
    # A print lies with its longer way along x, wherever the bed has its longer side.
    rooms = (max(bed[:2]), min(bed[:2]), bed[2])
    pieces = [
        1 if size <= room + IN_PLANE else math.ceil(size / max(room - LENGTH, room / 2))
        for size, room in zip(sizes, rooms, strict=True)
    ]
    if math.prod(pieces) > MOST_PIECES:
        problem = Problem(
            path=("make", "printer", "bed"),
            found=f"{part.id} would be cut into {math.prod(pieces)} pieces for a bed of {bed[0]:g} x {bed[1]:g} x "
            f"{bed[2]:g} mm",
            allowed=f"at most {MOST_PIECES} pieces of a print",
            remedy="give the bed's true size, or a smaller box",
        )
        raise SceneError([problem])
    body, planes = body_of(part.body), []
    for k in range(3):
        slack = rooms[k] - LENGTH - sizes[k] / pieces[k]
        for cut in range(1, pieces[k]):
            plane = np.array([*built_from_bed[:3, k], -(low[k] + sizes[k] * cut / pieces[k])])
            planes.append(
                _moved_clear(body, plane, min(FREEDOM, max(0.0, slack / 2)), bulkhead_depth(0.0, part.min_wall))
            )
    return tuple(planes)


def _moved_clear(body: manifold3d.Manifold, plane: Array, freedom: float, reach: float) -> Array:
    """Return the plane moved up to ``freedom`` mm to where the body changes least within ``reach`` mm of it.

    Least is the volume by which the slice between reach on either side differs from a prism on the cut.
    """
    frame = _frame(plane)
    standing = body.transform(frames.invert_rigid(frame)[:3])

    def unevenness(shift: float) -> float:
        slab = standing.trim_by_plane((0.0, 0.0, 1.0), shift - reach).trim_by_plane((0.0, 0.0, -1.0), -shift - reach)
        return abs(float(slab.volume()) - 2 * reach * float(standing.slice(shift).area()))

    shifts = [share * freedom for share in SHIFTS] if freedom > 0 else [0.0]
    best = min(shifts, key=lambda shift: (round(unevenness(shift), 3), abs(shift)))
    moved: Array = plane - np.array([0.0, 0.0, 0.0, best])
    return moved


def split(
    part: Print, planes: tuple[Array, ...], relief: Relief, *, fit: float, wall: float, bed: Size, eyes: Array
) -> tuple[Print, ...]:
    """Return the pieces of a print, each laid on the bed by itself.

    Parameters
    ----------
    part
        With bulkheads at the planes, if it is hollow.
    planes
        From `cutting_planes`.
    relief
        Carries the planes into the imagined room, where they cut the skin.
    fit
        Play round a peg and at its end, mm.
    wall
        Left round every hole, mm.
    bed
        The printer's width, depth and height, mm.
    eyes
        ``(k, 3)`` points it is looked at from, built mm.
    """
    behind = float(part.skin_imagined.vertices[:, 1].max()) > relief.apron + IN_PLANE
    matrix = relief.built_from_imagined if behind else np.eye(4)
    making = _Making(fit=fit, wall=wall, whole_grains=True)
    cells = _cells(part, planes, matrix, making)
    if not all(fits(mesh_of(cell.body), part.built_from_bed, bed) for cell in cells):
        cells = _cells(part, planes, matrix, replace(making, whole_grains=False))
    bodies = [mesh_of(cell.body) for cell in cells]
    out = []
    for number, (cell, body) in enumerate(zip(cells, bodies, strict=True), start=1):
        beside = np.concatenate([other.corners for other in bodies if other is not body] or [np.zeros((0, 3, 3))])
        laid = lay_on_bed(body, eyes, bed, beside)
        # As the whole print lay, each piece is small enough, even where it would not lie there by itself.
        laid = laid if fits(body, laid, bed) else in_corner(body, part.built_from_bed)
        out.append(
            replace(
                part, body=body, skin_imagined=mesh_of(cell.skin), built_from_bed=laid, volume=signed_volume(body),
                piece=number, pegs=tuple(2 * peg.radius for peg in cell.pegs),
            )
        )  # fmt: skip
    return tuple(out)


def _cells(part: Print, planes: tuple[Array, ...], matrix: Array, making: _Making) -> list[_Cell]:
    """Return what a print is cut into."""
    cells = [_Cell(body=body_of(part.body), skin=body_of(part.skin_imagined))]
    for number, plane in enumerate(planes):
        others = [other for k, other in enumerate(planes) if k != number]
        cells = [piece for cell in cells for piece in _cut(cell, plane, others, matrix, making)]
    return cells


def _cut(cell: _Cell, plane: Array, others: list[Array], matrix: Array, making: _Making) -> list[_Cell]:
    """Return the connected pieces of a cell on both sides of a plane, pegs and holes made."""
    under, over = trim(cell.body, -plane), trim(cell.body, plane)
    if under.is_empty() or over.is_empty():
        return [cell]
    frame = _frame(plane)
    carried = matrix.T @ plane
    carried /= np.linalg.norm(carried[:3])
    whole = (cell.body, cell.skin)
    kept = kept_on(whole, (under, over), frame=frame, matrix=matrix, small=LENGTH) if making.whole_grains else None
    (under, skin_under), (over, skin_over) = kept or (
        (under, trim(cell.skin, -carried)), (over, trim(cell.skin, carried)),
    )  # fmt: skip
    pegs = _pegs(cell, plane, others, making)
    if pegs:
        play = making.fit
        under += manifold3d.Manifold.compose([_rod(frame, peg, -ROOT, peg.length, peg.radius) for peg in pegs])
        over -= manifold3d.Manifold.compose(
            [_rod(frame, peg, -ROOT, peg.length + play, peg.radius + play) for peg in pegs]
        )
    return [
        replace(piece, pegs=tuple(peg for peg in (*cell.pegs, *pegs) if _holds(piece.body, peg)))
        for body, skin in ((under, skin_under), (over, skin_over))
        for piece in _connected(body, skin, matrix)
    ]


def _holds(body: manifold3d.Manifold, peg: _Peg) -> bool:
    """Return whether a peg stands on a body or in it."""
    box = np.array(body.bounding_box())
    return bool((peg.foot >= box[:3] - SPARE).all() and (peg.foot <= box[3:] + SPARE).all())


def _connected(body: manifold3d.Manifold, skin: manifold3d.Manifold, matrix: Array) -> list[_Cell]:
    """Return the connected bodies, each with the hollows inside it and the part of the skin nearest to it."""
    pieces = body.decompose()
    solids = [mesh_of(piece) for piece in pieces if piece.volume() > 0]
    if len(solids) == 1:
        return [_Cell(body=body, skin=skin)]
    boxes = [(solid.vertices.min(axis=0), solid.vertices.max(axis=0)) for solid in solids]
    parts: list[list[Mesh]] = [[solid] for solid in solids]
    for hollow in (mesh_of(piece) for piece in pieces if piece.volume() < 0):
        parts[_nearest(hollow.vertices, boxes)].append(hollow)
    skins: list[list[Mesh]] = [[] for _ in solids]
    for shape in map(mesh_of, skin.decompose()):
        skins[_nearest(frames.apply(matrix, shape.vertices), boxes)].append(shape)
    return [
        _Cell(body=body_of(join(mine)), skin=body_of(join(shown)))
        for mine, shown in zip(parts, skins, strict=True)
        if shown
    ]


def _nearest(points: Array, boxes: list[tuple[Array, Array]]) -> int:
    """Return which box ``(low, high)`` the box around points is most alike."""
    low, high = points.min(axis=0), points.max(axis=0)
    return int(np.argmin([float(np.abs(low - a).sum() + np.abs(high - b).sum()) for a, b in boxes]))


def _pegs(cell: _Cell, plane: Array, others: list[Array], making: _Making) -> list[_Peg]:
    """Return the pegs of a cut: two in every patch of its section where there is room, as far apart as can be."""
    frame = _frame(plane)
    strips = [trace for other in others for trace in _traces(frame, other)]
    return [peg for patch in _section(cell.body, frame) for peg in _patch_pegs(cell, frame, patch, strips, making)]


def _patch_pegs(cell: _Cell, frame: Array, patch: shapely.Polygon, strips: list[Array], making: _Making) -> list[_Peg]:
    """Return two pegs of the greatest radius that two can have, else one of the greatest that one can, else none."""
    lone: list[_Peg] = []
    for radius, inset in product(RADII, INSETS):
        if 2 * radius < making.wall:
            break
        need = radius + making.fit + making.wall + SPARE
        room = patch.buffer(-need - inset, join_style="mitre")
        for strip in strips:
            room = room.difference(shapely.LineString(strip).buffer(LENGTH + need))
        pegs = [peg for peg in _far_apart(room, frame, radius, 4 * need) if _stands(cell.body, frame, peg, making)]
        if len(pegs) == 2:
            return pegs
        lone = lone or pegs
    return lone


def _far_apart(room: shapely.Geometry, frame: Array, radius: float, apart: float) -> list[_Peg]:
    """Return the two pegs farthest apart in a room, or one in its middle where two would be nearer than ``apart``."""
    if room.is_empty:
        return []
    corners = shapely.get_coordinates(shapely.convex_hull(room))
    gaps = np.linalg.norm(corners[:, None] - corners, axis=2)
    one, two = np.unravel_index(int(np.round(gaps, 6).argmax()), gaps.shape)
    feet = corners[[one, two]]
    if gaps[one, two] < apart:
        feet = shapely.get_coordinates(shapely.point_on_surface(room))
    return [_Peg(foot=frames.apply(frame, [[x, y, 0.0]])[0], radius=radius) for x, y in feet]


def _stands(body: manifold3d.Manifold, frame: Array, peg: _Peg, making: _Making) -> bool:
    """Return whether there is material all round a peg's hole, and where it is rooted."""
    around = making.fit + making.wall
    rod = _rod(frame, peg, -ROOT, peg.length + around, peg.radius + around)
    return bool((rod - body).volume() < FILLED_MM3)


def _rod(frame: Array, peg: _Peg, start: float, end: float, radius: float) -> manifold3d.Manifold:
    """Return a round body along the cutting plane's normal, from ``start`` to ``end`` mm past the plane."""
    placed = frame.copy()
    placed[:3, 3] = peg.foot + start * frame[:3, 2]
    return manifold3d.Manifold.cylinder(end - start, radius, radius, SIDES).transform(placed[:3])


def _section(body: manifold3d.Manifold, frame: Array) -> list[shapely.Polygon]:
    """Return the patches in which the plane z = 0 of a frame cuts a body, in the frame's (x, y)."""
    patches: shapely.Geometry = shapely.Polygon()
    for loop in body.transform(frames.invert_rigid(frame)[:3]).slice(0.0).to_polygons():
        patches = patches.symmetric_difference(shapely.make_valid(shapely.Polygon(loop)))
    return [patch for patch in shapely.get_parts(patches) if patch.area > 0]


def _frame(plane: Array) -> Array:
    """Return the rigid frame ``(4, 4)`` with the plane as its (x, y), its normal as z."""
    normal = plane[:3]
    axis = np.eye(3)[np.argmin(np.abs(normal))]
    right = frames.unit(np.cross(axis, normal))
    return frames.rigid(right, np.cross(normal, right), normal, -plane[3] * normal)


def _traces(frame: Array, plane: Array) -> list[Array]:
    """Return the long line ``(2, 2)`` in which a plane cuts a frame's (x, y), square to it; none of parallels."""
    normal, offset = plane[:3] @ frame[:3, :2], plane[:3] @ frame[:3, 3] + plane[3]
    size = float(np.linalg.norm(normal))
    if size < PARALLEL:
        return []
    foot, way = -offset * normal / size**2, np.array([-normal[1], normal[0]]) / size
    return [np.array([foot - ENDLESS * way, foot + ENDLESS * way])]
