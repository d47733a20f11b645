"""Is every face that was left out hidden from all eyes in the eye box?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.leaks import eye_grid
from pipeline.checks.model import Finding
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import contains
from pipeline.geometry.meshes import Mesh
from pipeline.sight.rays import Caster, along, caster, plane_of

Array = NDArray[np.float64]

ID = "unseen"
SHARES = (np.arange(9) + 0.5) / 9
"""Where a face is looked at: a grid over its bounds."""

BEFORE_MM = 0.05
"""mm by which a part must stand before a point to hide it: sheets that meet in the point itself do not."""


def run(evidence: Evidence) -> list[Finding]:
    """Look from every eye of the grid at points of each face that was left out; something must stand before them."""
    if not evidence.imagined.unseen:
        message = "every face behind an opening is seen from the eye box"
        return [Finding(id=ID, part="", status="pass", value=0.0, limit=0.0, unit="rays", message=message)]
    corners = np.concatenate([part.body.corners for part in evidence.parts])
    loose = Mesh(vertices=corners.reshape(-1, 3), triangles=np.arange(3 * len(corners)).reshape(-1, 3))
    first, planes = caster(loose), plane_of(corners)
    eyes = eye_grid(evidence.room.relief.eye, evidence.scene.eye.box)
    left_out = [face for face in evidence.imagined.planes if face.id in evidence.imagined.unseen]
    return [
        _finding(evidence, face, sum(_open(evidence, face, eye, first, planes) for eye in eyes)) for face in left_out
    ]


def _finding(evidence: Evidence, face: Face, count: int) -> Finding:
    width, height = evidence.scene.eye.box
    message = f"left out: no eye within {width:g} x {height:g} mm of the eye's place sees it"
    if count:
        message = f"left out, yet {count} rays from the eye box end on it; give the passage more room"
    return Finding(
        id=ID, part=face.id, status="fail" if count else "pass", value=float(count), limit=0.0, unit="rays",
        message=message,
    )  # fmt: skip


def _open(evidence: Evidence, face: Face, eye: Array, first: Caster, planes: Array) -> int:
    """Return how many points of a face an eye sees."""
    points = _points(evidence, face)
    normal = _normal(evidence, face)
    ways = (points - eye)[(points - eye) @ normal < 0]
    if len(ways) == 0:
        return 0
    starts = np.broadcast_to(eye, ways.shape)
    hit = first(starts, ways).astype(np.int64)
    reach = np.full(len(ways), np.inf)
    reach[hit >= 0] = along(planes[hit[hit >= 0]], starts[hit >= 0], ways[hit >= 0])
    return int((reach * np.linalg.norm(ways, axis=1) > np.linalg.norm(ways, axis=1) - BEFORE_MM).sum())


def _points(evidence: Evidence, face: Face) -> Array:
    low, high = curves.bounds(face.region.curves)
    u, v = np.meshgrid(*(low[i] + SHARES * (high[i] - low[i]) for i in (0, 1)))
    host = np.column_stack([u.ravel(), v.ravel()])
    host = host[contains(face.region, host)]
    return evidence.room.relief.build_points(frames.apply(face.imagined_from_host, host))


def _normal(evidence: Evidence, face: Face) -> Array:
    """Return the unit normal into the room of the built face; the relief keeps the sides of a plane."""
    corners = np.array([edge.curve.start for edge in face.region.outline])[:3]
    a, b, c = evidence.room.relief.build_points(frames.apply(face.imagined_from_host, corners))
    p, q, r = frames.apply(face.imagined_from_host, corners)
    turned = np.cross(q - p, r - p) @ face.inward
    normal = frames.unit(np.cross(b - a, c - a))
    return normal if turned > 0 else -normal


CHECK = Check(
    id=ID,
    title="Is every face that was left out hidden from all eyes in the eye box?",
    rationale="What nobody can see need not be cut; what somebody can see, and is not there, is a hole in the picture.",
    run=run,
)
