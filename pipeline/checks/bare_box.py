"""Does the eye see anything of the bare box through the opening?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.elements.model import HOSTS, Hall
from pipeline.geometry.clip import contains
from pipeline.geometry.regions import Region, loop_of
from pipeline.sight.rays import cast

Array = NDArray[np.float64]

ID = "bare-box"
PITCH = 1.0
"""mm between rays on the opening."""


def run(evidence: Evidence) -> list[Finding]:
    """Cast rays from the eye through the hall's outline on the opening; every one must end on a part or a hole."""
    hall, eye = evidence.room.hall, np.array(evidence.room.relief.eye)
    targets = _grid(hall)
    ways = targets - eye
    corners = [part.body.corners for part in evidence.parts]
    corners += [panel.visible.corners for panel in evidence.panels]  # the finish stands before the sheet
    index, _ = cast(np.concatenate(corners), np.broadcast_to(eye, ways.shape), ways)
    lost = np.flatnonzero(index < 0)
    hosts, points_host = hall_hits(hall, eye, ways[lost])
    bare, unbuilt = _bare(evidence, hosts, points_host)
    findings = []
    for host in sorted(unbuilt):
        message = f"{host} is not built, so the bare box is seen there ({unbuilt[host]} of {len(targets)} rays)"
        findings.append(_finding("warn", float(unbuilt[host]), message))
    if bare:
        where = ", ".join(f"{count} at the {host}" for host, count in sorted(bare.items()))
        message = f"of {len(targets)} rays {PITCH:g} mm apart these end on the bare box: {where}; make that part larger"
        findings.append(_finding("fail", float(sum(bare.values())), message))
    if not findings:
        message = f"{len(targets)} rays {PITCH:g} mm apart end on parts or go through openings"
        findings.append(_finding("pass", 0.0, message))
    return findings


def _finding(status: Status, value: float, message: str) -> Finding:
    return Finding(id=ID, part="", status=status, value=value, limit=0.0, unit="rays", message=message)


def _grid(hall: Hall) -> Array:
    """Return points of the opening inside the hall's outline, half a pitch off its edges, (n, 3) built."""
    counts = [max(2, round(size / PITCH)) for size in (hall.width, hall.height)]
    x = (np.arange(counts[0]) + 0.5) / counts[0] * hall.width - hall.width / 2
    z = (np.arange(counts[1]) + 0.5) / counts[1] * hall.height + hall.floor
    gx, gz = np.meshgrid(x, z)
    return np.column_stack([gx.ravel(), np.zeros(gx.size), gz.ravel()])


def hall_hits(hall: Hall, eye: Array, ways: Array) -> tuple[NDArray[np.int64], Array]:
    """Return where rays from the eye meet the imagined hall: index into HOSTS and host coordinates ``(n, 2)``.

    The relief keeps every ray through the eye, so a built ray is its own imagined one.
    """
    half = hall.width / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.column_stack(
            [
                (hall.floor - eye[2]) / ways[:, 2],
                (hall.floor + hall.height - eye[2]) / ways[:, 2],
                (-half - eye[0]) / ways[:, 0],
                (half - eye[0]) / ways[:, 0],
                (hall.depth - eye[1]) / ways[:, 1],
            ]
        )
    reach = np.where(np.isfinite(reach) & (reach > 0), reach, np.inf)
    which = reach.argmin(axis=1)
    points = eye + reach[np.arange(len(ways)), which][:, None] * ways
    out = np.empty((len(ways), 2))
    for index in range(5):
        rows = which == index
        inverse = np.linalg.pinv(hall.imagined_from_host(HOSTS[index])[:3, :2])
        offset = hall.imagined_from_host(HOSTS[index])[:3, 2]
        out[rows] = (points[rows] - offset) @ inverse.T
    return which.astype(np.int64), out


def _bare(evidence: Evidence, hosts: NDArray[np.int64], points_host: Array) -> tuple[dict[str, int], dict[str, int]]:
    built = {panel.id for panel in evidence.panels}
    bare: dict[str, int] = {}
    unbuilt: dict[str, int] = {}
    for index, host in enumerate(HOSTS[:5]):
        points = points_host[hosts == index]
        if len(points) == 0:
            continue
        if host not in built:
            unbuilt[host] = len(points)
            continue
        exempt = np.zeros(len(points), dtype=bool)
        for cut in evidence.imagined.cuts:
            if cut.host == host and cut.beyond in ("bare", "light"):
                exempt |= contains(Region(loop_of(cut.curve)), points)
        if not exempt.all():
            bare[host] = int((~exempt).sum())
    return bare, unbuilt


CHECK = Check(
    id=ID,
    title="Does the eye see anything of the bare box through the opening?",
    rationale="One strip of bare wood beside a wall, and the hall is a box again.",
    run=run,
)
