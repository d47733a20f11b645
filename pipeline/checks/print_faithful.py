"""Is the visible skin of every print the imagined one?

The written STL is read back and placed by the manifest. What eyes before the opening see of it is taken back to the
imagined room and its distance to the imagined surface measured, and the reverse: what they would see of the imagined
surface, to the skin taken back. Only a strip as wide as the play at walls, floor and ceiling is left out; of a face
with raised units, only what lies behind that face.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.elements.bodies import Solid
from pipeline.elements.hall_shape import Hall
from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh, join
from pipeline.geometry.vectors import facet_normals, lengths
from pipeline.keeping.kept import around
from pipeline.parts.model import Print, Raised
from pipeline.parts.solids import depth_range
from pipeline.relief.collineation import Relief
from pipeline.sight.rays import Target, distances, plane_of

Array = NDArray[np.float64]

ID = "print-faithful"
ASIDE_MM = (0.0, -60.0, 60.0)
"""Eyes at the eye and this far to either side, so that flanks are seen too."""

RAYS = 28
"""Rays across and up over each print from each eye."""

PLAY_STRIPS = 1.05
"""Width of the strips along the hall that are left out, in plays: a twentieth more than the play takes off."""

SINGLE = 2e-4
"""mm; the files hold single-precision numbers and rays are found in single precision."""


def run(evidence: Evidence) -> list[Finding]:
    """Return, for each print, the largest distance of its skin from the imagined one, both ways, in imagined mm."""
    relief, hall, make = evidence.room.relief, evidence.room.hall.shape, evidence.scene.make
    findings = []
    for pieces in evidence.whole_prints:
        # Pieces are measured put together again: their cuts are hidden then, as they will be.
        corners_built = np.concatenate([evidence.shells_built[part.id] for part in pieces])
        worst, longer = evidence.kept.given(
            (skin_distance, corners_built, pieces, relief, hall, make.fit),
            partial(_measured, evidence, corners_built, pieces, relief, hall),
        )
        # Raised units have flat sides only.
        curved = 0.0 if isinstance(pieces[0].solid, Raised) else make.mesh_tolerance
        limit = (curved + SINGLE) * longer
        faithful = worst <= limit
        findings += [
            Finding(
                id=ID,
                part=part.id,
                status="pass" if faithful else "fail",
                value=worst,
                limit=limit,
                unit="mm imagined",
                message=f"the skin lies within {worst:.3f} mm (imagined, at the opening's scale) of the imagined one"
                if faithful
                else f"the skin lies {worst:.3f} mm off the imagined one, over {limit:.3f}; "
                "do not print this, report the scene",
            )
            for part in pieces
        ]
    return findings


def _measured(
    evidence: Evidence, corners_built: Array, pieces: tuple[Print, ...], relief: Relief, hall: Hall
) -> tuple[float, float]:
    """Return how far pieces are from their skin, and how much longer a step there can be imagined than built."""
    far = _distance(evidence, corners_built, pieces, relief, hall)
    return far, stretch(relief, corners_built.reshape(-1, 3))


def stretch(relief: Relief, points_built: Array) -> float:
    """Return how much longer than its built image an imagined step can be at most, over ``(n, 3)`` built points."""
    behind = points_built[points_built[:, 1] >= relief.apron]
    if len(behind) == 0:
        return 1.0
    matrix = relief.imagined_from_built
    xs, ys, zs = (_ends(behind[:, axis]) for axis in range(3))
    rows = np.array([[x, y, z, 1.0] for x in xs for y in ys for z in zs]) @ matrix.T
    weights = rows[:, 3, None, None]
    jacobians = (matrix[:3, :3] * weights - rows[:, :3, None] * matrix[3, :3]) / weights**2
    return max(1.0, float(np.linalg.svd(jacobians, compute_uv=False).max()))


def _ends(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _distance(evidence: Evidence, corners_built: Array, pieces: tuple[Print, ...], relief: Relief, hall: Hall) -> float:
    target, built_from_target = None, np.eye(4)
    if len(pieces) == 1:
        target, built_from_target = evidence.targets[pieces[0].id], evidence.built_from_bed(pieces[0].id)
    return skin_distance(
        corners_built,
        pieces,
        relief=relief,
        hall=hall,
        fit=evidence.scene.make.fit,
        target=target,
        built_from_target=built_from_target,
    )


def skin_distance(
    corners_built: Array,
    pieces: tuple[Print, ...],
    *,
    relief: Relief,
    hall: Hall,
    fit: float,
    target: Target | None = None,
    built_from_target: Array | None = None,
) -> float:
    """Return the largest distance of two skins both ways, imagined mm.

    Parameters
    ----------
    corners_built
        ``(m, 3, 3)`` the written shell, built mm.
    pieces
        The print, or all the pieces it was cut into: their imagined skin.
    relief, hall, fit
        The room, and the play that was taken off at its surfaces, built mm.
    target, built_from_target
        The written shell as somebody has made it ready for rays, and the rigid ``(4, 4)`` that places it.
    """
    if target is None or built_from_target is None:
        target, built_from_target = Target.of(corners_built), np.eye(4)
    built = _Skin.of(corners_built, target, frames.inverse(built_from_target))
    back = _taken_back(built, relief)
    wanted = around().of(skin_target, tuple(part.skin_imagined for part in pieces))
    expected = _Skin.of(wanted.corners, wanted, np.eye(4))
    eyes = np.array(relief.eye) + np.array([[aside, 0.0, 0.0] for aside in ASIDE_MM])

    def farthest(points: Array, normals: Array, other: _Skin) -> float:
        keep = _counts(points, pieces[0], relief, hall, fit)
        return _farthest(points[keep], normals[keep], other)

    seen, index = _seen_points(built, eyes)
    there = farthest(relief.carry_back(seen), _unit_normals(back.corners[index]), expected)
    seen, index = _seen_points(expected, eyes)
    return max(there, farthest(seen, _unit_normals(expected.corners[index]), back))


def skin_target(skins: tuple[Mesh, ...]) -> Target:
    """Return imagined skins made ready for rays, together."""
    return Target.on(join(list(skins)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Skin:
    """Triangles ``(m, 3, 3)`` of a skin in one of the rooms, and where rays are cast at it.

    Under a collineation lines stay lines, and what they meet first they meet first; so rays may be cast at the skin as
    it was made ready in another room, behind the ``(4, 4)`` ``target_from_room``.
    """

    corners: Array
    planes: Array
    target: Target
    target_from_room: Array

    @classmethod
    def of(cls, corners: Array, target: Target, target_from_room: Array) -> _Skin:
        return cls(corners=corners, planes=plane_of(corners), target=target, target_from_room=target_from_room)

    def cast(self, origins: Array, ways: Array) -> tuple[NDArray[np.int64], Array]:
        """Return which triangle each ray meets first, -1 for none, and how far away it is, mm of the room."""
        matrix = self.target_from_room
        rows = origins @ matrix[:, :3].T + matrix[:, 3]
        moved = ways @ matrix[:, :3].T
        weights = rows[:, 3:]
        starts = rows[:, :3] / weights
        # The derivative of a projective map along the ray.
        index = self.target.hit(starts, (moved[:, :3] - starts * moved[:, 3:]) / weights)
        return index, distances(self.planes, index, origins, ways)


def _taken_back(built: _Skin, relief: Relief) -> _Skin:
    """Return a built skin in the imagined room."""
    depths = built.corners[..., 1]
    corners = relief.carry_back(built.corners.reshape(-1, 3)).reshape(-1, 3, 3)
    if depths.min() < relief.apron < depths.max():  # the apron's end breaks lines
        return _Skin.of(corners, Target.of(corners), np.eye(4))
    matrix = relief.built_from_imagined if depths.max() > relief.apron else np.eye(4)
    return _Skin.of(corners, built.target, built.target_from_room @ matrix)


def _seen_points(skin: _Skin, eyes: Array) -> tuple[Array, NDArray[np.int64]]:
    """Return where rays from eyes ``(k, 3)`` meet a skin first, and which triangles, over a grid that covers it."""
    low, high = skin.corners.reshape(-1, 3).min(axis=0), skin.corners.reshape(-1, 3).max(axis=0)
    shares = (np.arange(RAYS) + 0.5) / RAYS
    gx, gz = np.meshgrid(low[0] + shares * (high[0] - low[0]), low[2] + shares * (high[2] - low[2]))
    grid = np.column_stack([gx.ravel(), np.full(gx.size, low[1] + high[1]) / 2, gz.ravel()])
    origins = np.repeat(eyes, len(grid), axis=0)
    ways = np.tile(grid, (len(eyes), 1)) - origins
    index, distance = skin.cast(origins, ways)
    met = np.isfinite(distance)
    points = origins[met] + ways[met] * (distance[met] / lengths(ways[met]))[:, None]
    return points, index[met]


def _unit_normals(corners: Array) -> Array:
    normals = facet_normals(corners)
    out: Array = normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    return out


def _counts(points: Array, part: Print, relief: Relief, hall: Hall, fit: float) -> NDArray[np.bool_]:
    """Return which imagined points were meant to be where they are: of a raised face, all that is not its plate's."""
    if not isinstance(part.solid, Raised):
        own = hall
        if isinstance(part.solid, Solid):
            own = hall.standing(*depth_range(part.solid))
            own = own.below_vault if part.solid.axis == "z" else own
        return _off_the_hall(points, relief, own, fit)
    face = part.solid.face
    behind = SINGLE * stretch(relief, relief.build_points(points)) if len(points) else 0.0
    out: NDArray[np.bool_] = (points - face.imagined_from_host[:3, 2]) @ face.inward > -behind
    return out


def _off_the_hall(points: Array, relief: Relief, hall: Hall, fit: float) -> NDArray[np.bool_]:
    """Return which imagined points lie farther from the hall's surfaces than the play reaches."""
    built = relief.build_points(points)
    strip = PLAY_STRIPS * fit * stretch(relief, built) if len(built) else 0.0
    half, floor = hall.width / 2, hall.floor + min((ground.level for ground in hall.grounds), default=0.0)
    out: NDArray[np.bool_] = (
        (np.abs(points[:, 0]) < half - strip)
        & (points[:, 2] > floor + strip)
        & (points[:, 2] < hall.floor + hall.height - strip)
        & (points[:, 1] < hall.depth - strip)
    )
    return out


def _farthest(points: Array, normals: Array, skin: _Skin) -> float:
    """Return the largest distance of points from a skin: along their normals, or exactly where those pass by."""
    if len(points) == 0:
        return 0.0
    back = 1e-3
    ways = np.concatenate([normals, -normals])
    _, distance = skin.cast(np.tile(points, (2, 1)) - back * ways, ways)
    gaps = np.abs(distance - back).reshape(2, -1).min(axis=0)
    worst = float(gaps[gaps <= FINE].max(initial=0.0))
    for which in np.argsort(-gaps, kind="stable"):
        if gaps[which] <= max(worst, FINE):  # along the normal is never nearer than the nearest place
            break
        worst = max(worst, _exact(points[which], skin.corners))
    return worst


FINE = 0.05
"""mm; nearer than this along the normal is near enough to be the distance."""


def _exact(point: Array, corners: Array) -> float:
    """Return the distance of a point from the nearest of ``(m, 3, 3)`` triangles.

    The foot on the plane if it lies inside, else the nearest point of the three edges.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    n = np.cross(b - a, c - a)
    size = np.maximum((n * n).sum(1), 1e-300)
    inside = (n * n).sum(1) > 0  # what fell together to a line has no inside
    best = np.full(len(corners), np.inf)
    for p, q in ((a, b), (b, c), (c, a)):
        edge = q - p
        away = point - p
        inside &= (np.cross(edge, away) * n).sum(1) >= 0
        t = np.clip((away * edge).sum(1) / np.maximum((edge * edge).sum(1), 1e-300), 0, 1)
        best = np.minimum(best, np.linalg.norm(away - t[:, None] * edge, axis=1))
    plane = np.abs(((point - a) * n).sum(1)) / np.sqrt(size)
    return float(np.where(inside, plane, best).min())


CHECK = Check(
    id=ID,
    title="Is the visible skin of every print the imagined one?",
    rationale="A column that swells where the imagined one does not breaks the perspective as surely as a wrong wall.",
    run=run,
)
