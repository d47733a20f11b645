"""Is every face that was left out hidden from all eyes in the eye box?"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.leaks import eye_grid
from pipeline.checks.model import Finding
from pipeline.elements.problems import KeyPath
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import contains
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.webs import build_web
from pipeline.sight.eye_box import EYE_PITCH
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

ID = "unseen"
SHARES = (np.arange(9) + 0.5) / 9
"""Where a face is looked at: a grid over its bounds."""

BEFORE_MM = 0.05
"""mm by which a part must stand before a point to hide it: sheets that meet in the point itself do not."""


def run(evidence: Evidence) -> list[Finding]:
    """Look from every eye of the grid, through its hole, at each face that was left out; something must hide it.

    What a ray finds through another hole is that hole's affair: a bare one shows the bare box, as was asked.
    """
    return evidence.kept.given((run, *evidence.shapes), partial(_look, evidence))


def _look(evidence: Evidence) -> list[Finding]:
    if not evidence.imagined.unseen:
        message = "every face behind an opening is seen from the eye box"
        return [Finding(id=ID, part="", status="pass", value=0.0, limit=0.0, unit="rays", message=message)]
    eyes = eye_grid(evidence.room.relief.eye, evidence.scene.eye.box)
    cuts = {cut.path: cut for cut in evidence.imagined.cuts}
    findings = []
    for part, path, points, normals in _left_out(evidence):
        seen = [_open(points, normals, eye, evidence.whole) for eye in eyes]
        through = [_through(evidence, cuts[path], eye, points) for eye in eyes]
        count = sum(int((a & b).sum()) for a, b in zip(seen, through, strict=True))
        findings.append(_finding(evidence, part, count, (len(points), len(eyes))))
    return findings


def _finding(evidence: Evidence, part: str, count: int, cast: tuple[int, int]) -> Finding:
    width, height = evidence.scene.eye.box
    rays = f"rays to {cast[0]} points of it from {cast[1]} eyes at most {EYE_PITCH:g} mm apart"
    message = f"left out: of {rays}, within {width:g} x {height:g} mm of the eye's place, none reaches it"
    if count:
        message = f"left out, yet of {rays} {count} reach it through its hole; report the scene"
    return Finding(
        id=ID, part=part, status="fail" if count else "pass", value=float(count), limit=0.0, unit="rays",
        message=message,
    )  # fmt: skip


def _open(points: Array, normals: Array, eye: Array, target: Target) -> Flags:
    """Return which points ``(n, 3)`` of a face with normals ``(n, 3)`` an eye sees."""
    ways = points - eye
    out: Flags = np.einsum("ij,ij->i", ways, normals) < 0
    if not out.any():
        return out
    ways = ways[out]
    _, reach = target.cast(np.broadcast_to(eye, ways.shape), ways)
    out[out] = reach > np.linalg.norm(ways, axis=1) - BEFORE_MM
    return out


def _through(evidence: Evidence, cut: Cut, eye: Array, points: Array) -> Flags:
    """Return which built points ``(n, 3)`` an eye looks at through a hole of a wall."""
    hall, relief = evidence.room.hall, evidence.room.relief
    host = hall.imagined_from_host(cut.host)
    near = frames.apply(host, curves.bounds(cut.curve))[:, 1].max() <= relief.apron
    matrix = np.eye(4) if near else relief.built_from_imagined
    a, b, c = frames.apply(matrix @ host, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = np.cross(b - a, c - a)
    share = ((a - eye) @ normal) / ((points - eye) @ normal)
    met, back = eye + share[:, None] * (points - eye), frames.inverse(matrix)
    out: Flags = met @ back[3, :3] + back[3, 3] > 0  # where all vanishes and behind it there is no wall, and no hole
    places = (frames.apply(back, met[out]) - host[:3, 2]) @ np.linalg.pinv(host[:3, :2]).T
    out[out] = contains(Region(loop_of(cut.curve)), places)
    return out


def _left_out(evidence: Evidence) -> list[tuple[str, KeyPath, Array, Array]]:
    """Return id, path, points ``(n, 3)`` and normals ``(n, 3)`` into the room of all that was left out, built mm."""
    said = evidence.imagined
    out: list[tuple[str, KeyPath, Array, Array]] = []
    webs = {web.id for web in said.unseen_webs}  # a web's id is also that of the plane it stands on
    for face in said.planes:
        if face.id in said.unseen and face.id not in webs:
            points = _points(evidence, face)
            out.append((face.id, face.path, points, np.broadcast_to(_normal(evidence, face), points.shape)))
    for web in said.unseen_webs:
        built = build_web(web, evidence.room.relief, 0.0)
        every = slice(None, None, len(built.pieces[0].unrolled.t) // len(SHARES))
        near = np.concatenate([piece.unrolled.near[every] for piece in built.pieces])
        ways = np.concatenate([(p.unrolled.rulings * p.unrolled.lengths[:, None])[every] for p in built.pieces])
        normals = np.concatenate([piece.unrolled.normals[every] for piece in built.pieces])
        points = (near[:, None] + SHARES[:, None] * ways[:, None]).reshape(-1, 3)
        out.append((web.id, web.path, points, np.repeat(normals, len(SHARES), axis=0)))
    return out


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
