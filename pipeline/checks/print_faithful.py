"""Is the visible skin of every print the imagined one?

The written STL is read back and placed by the manifest. What eyes before the opening see of it is taken back to the
imagined room and its distance to the imagined surface measured, and the reverse: what they would see of the imagined
surface, to the skin taken back. Only a strip as wide as the play at walls, floor and ceiling is left out; of a face
with raised units, only what lies behind that face.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.elements.bodies import Solid
from pipeline.elements.hall_shape import Hall
from pipeline.geometry.vectors import facet_normals
from pipeline.parts.model import Print, Raised
from pipeline.parts.solids import depth_range
from pipeline.relief.collineation import Relief
from pipeline.sight.rays import Target

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
        worst = evidence.kept.of(skin_distance, corners_built, pieces, relief=relief, hall=hall, fit=make.fit)
        # Raised units have flat sides only.
        curved = 0.0 if isinstance(pieces[0].solid, Raised) else make.mesh_tolerance
        limit = (curved + SINGLE) * stretch(relief, corners_built.reshape(-1, 3))
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
                else f"the skin lies {worst:.3f} mm off the imagined one, over {limit:.3f}; do not print this",
            )
            for part in pieces
        ]
    return findings


def stretch(relief: Relief, points_built: Array) -> float:
    """Return how much longer than its built image an imagined step can be at most, over ``(n, 3)`` built points."""
    behind = points_built[points_built[:, 1] >= relief.apron]
    if len(behind) == 0:
        return 1.0
    matrix = relief.imagined_from_built
    corners = np.array(
        [[x, y, z] for x in _ends(behind[:, 0]) for y in _ends(behind[:, 1]) for z in _ends(behind[:, 2])]
    )
    rows = np.column_stack([corners, np.ones(len(corners))]) @ matrix.T
    weights = rows[:, 3, None, None]
    jacobians = (matrix[:3, :3] * weights - rows[:, :3, None] * matrix[3, :3]) / weights**2
    return max(1.0, float(np.linalg.svd(jacobians, compute_uv=False).max()))


def _ends(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def skin_distance(corners_built: Array, pieces: tuple[Print, ...], *, relief: Relief, hall: Hall, fit: float) -> float:
    """Return the largest distance of two skins both ways, imagined mm.

    Parameters
    ----------
    corners_built
        ``(m, 3, 3)`` the written shell, built mm.
    pieces
        The print, or all the pieces it was cut into: their imagined skin.
    relief, hall, fit
        The room, and the play that was taken off at its surfaces, built mm.
    """
    corners_back = relief.imagine_points(corners_built.reshape(-1, 3)).reshape(-1, 3, 3)
    wanted = Target.of(np.concatenate([part.skin_imagined.corners for part in pieces]))
    written, back = Target.of(corners_built), Target.of(corners_back)
    facing_wanted, facing_back = _unit_normals(wanted.corners), _unit_normals(corners_back)
    worst = 0.0
    for aside in ASIDE_MM:
        eye = np.array(relief.eye) + np.array([aside, 0.0, 0.0])
        hit, index = _seen_points(written, eye)
        seen = relief.imagine_points(hit)
        keep = _counts(seen, pieces[0], relief, hall, fit)
        worst = max(worst, _farthest(seen[keep], facing_back[index[keep]], wanted))
        expected, index = _seen_points(wanted, eye)
        keep = _counts(expected, pieces[0], relief, hall, fit)
        worst = max(worst, _farthest(expected[keep], facing_wanted[index[keep]], back))
    return worst


def _seen_points(target: Target, eye: Array) -> tuple[Array, NDArray[np.int64]]:
    """Return where rays from an eye meet triangles first, and which ones, over a grid that covers them."""
    low, high = target.corners.reshape(-1, 3).min(axis=0), target.corners.reshape(-1, 3).max(axis=0)
    shares = (np.arange(RAYS) + 0.5) / RAYS
    gx, gz = np.meshgrid(low[0] + shares * (high[0] - low[0]), low[2] + shares * (high[2] - low[2]))
    ways = np.column_stack([gx.ravel(), np.full(gx.size, low[1] + high[1]) / 2, gz.ravel()]) - eye
    index, distance = target.cast(np.broadcast_to(eye, ways.shape), ways)
    met = (index >= 0) & np.isfinite(distance)
    points = eye + ways[met] * (distance[met] / np.linalg.norm(ways[met], axis=1))[:, None]
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


def _farthest(points: Array, normals: Array, target: Target) -> float:
    """Return the largest distance of points from triangles: along their normals, or exactly where those pass by."""
    if len(points) == 0:
        return 0.0
    back = 1e-3
    gaps = np.full(len(points), np.inf)
    for sign in (1.0, -1.0):
        way = sign * normals
        _, distance = target.cast(points - back * way, way)
        gaps = np.minimum(gaps, np.abs(distance - back))
    far = gaps > FINE
    if far.any():
        order = np.argsort(-gaps[far])
        gaps[np.flatnonzero(far)[order]] = [_exact(point, target.corners) for point in points[far][order]]
    return float(gaps.max())


FINE = 0.05
"""mm; nearer than this along the normal is near enough to be the distance."""


def _exact(point: Array, corners: Array) -> float:
    """Return the distance of a point from the nearest of ``(m, 3, 3)`` triangles.

    The foot on the plane if it lies inside, else the nearest point of the three edges.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    n = np.cross(b - a, c - a)
    size = np.maximum((n * n).sum(1), 1e-300)
    inside = np.ones(len(corners), dtype=bool)
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
