"""Is every print's file one closed body, the right way out?

The written file is read back and welded where corners are equal to the last bit, as a slicer does it.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.checks.written import read_stl
from pipeline.geometry.meshes import Mesh, signed_volume, weld

Indices = NDArray[np.int64]

ID = "print-closed"
MOST_HANDLES = 8
"""Through-holes of one print; more than an arch or column could mean, so more is a torn surface."""


def check_closed(
    part: str, stl: bytes, *, drains: tuple[float, ...] = (), process: Literal["resin", "filament"] = "resin"
) -> list[Finding]:
    """Return whether a written STL is closed, outward, in one piece, without a sealed hollow or needless tunnels.

    Parameters
    ----------
    part, stl
        Its id and its file.
    drains
        Diameters of the holes cut in its hollows, mm.
    process
        What it is printed with: a sealed hollow holds liquid resin, but no filament.
    """
    try:
        corners = read_stl(stl)
    except ValueError as error:
        return [_finding(part, "fail", f"the file cannot be read: {error}")]
    if len(corners) == 0 or not np.isfinite(corners).all():
        return [_finding(part, "fail", "the file holds no triangles, or points that are no numbers")]
    mesh = _whole(weld(corners))
    torn = open_edges(mesh.triangles)
    if torn:
        return [
            _finding(
                part, "fail", f"{torn} edges lack a neighbour: the surface is torn", value=torn, limit=0, unit="edges"
            )
        ]
    surfaces = components(mesh.triangles)
    volumes = [signed_volume(Mesh(vertices=mesh.vertices, triangles=piece)) for piece in surfaces]
    return _verdict(part, mesh, volumes, drains, process)


def _verdict(part: str, mesh: Mesh, volumes: list[float], drains: tuple[float, ...], process: str) -> list[Finding]:
    total, bodies, sealed = sum(volumes), sum(v > 0 for v in volumes), sum(v < 0 for v in volumes)
    if not total > 0:
        return [
            _finding(part, "fail", "the surface is inside out: no volume above zero", value=total, limit=0, unit="mm3")
        ]
    if bodies != 1:
        return [_finding(part, "fail", f"the print is {bodies} separate bodies", value=bodies, limit=1, unit="bodies")]
    handles = tunnels(mesh, len(volumes))
    most = MOST_HANDLES + len(drains)
    if not 0 <= handles <= most:
        message = f"{handles} tunnels: the surface is torn"
        return [_finding(part, "fail", message, value=handles, limit=most, unit="tunnels")]
    said = f"closed, outward, one body of {total / 1000:.2f} cm3"
    if sealed:
        many = "a sealed hollow" if sealed == 1 else f"{sealed} sealed hollows"
        if process == "filament":
            return [_finding(part, "pass", f"{said}, with {many}", value=total, limit=0, unit="mm3")]
        message = (
            f"{said}, with {many}: liquid resin stays inside; ask for holes (make.printer.drains), or, where there was "
            "no room for them on a hidden side, drill two at its low points"
        )
        return [_finding(part, "warn", message, value=sealed, limit=0, unit="hollows")]
    if drains:
        holes = "a hole" if len(drains) == 1 else f"{len(drains)} holes"
        said += f", its hollow drained by {holes} of {min(drains):.3g} mm"
    return [_finding(part, "pass", said, value=total, limit=0, unit="mm3")]


def _whole(mesh: Mesh) -> Mesh:
    """Return the mesh without triangles that fell together to a line when they were welded."""
    t = mesh.triangles
    kept = (t[:, 0] != t[:, 1]) & (t[:, 1] != t[:, 2]) & (t[:, 2] != t[:, 0])
    return Mesh(vertices=mesh.vertices, triangles=t[kept])


def open_edges(triangles: Indices) -> int:
    """Return how many directed edges of triangles ``(n, 3)`` are not met by exactly one edge the other way."""
    half = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    count = int(triangles.max()) + 1
    forward, back = half[:, 0] * count + half[:, 1], half[:, 1] * count + half[:, 0]
    ahead, behind = np.sort(forward), np.sort(back)
    if np.array_equal(ahead, behind) and (ahead[1:] != ahead[:-1]).all():
        return 0  # found in a third of the time that it takes to count them
    keys, times = np.unique(forward, return_counts=True)
    return int((times > 1).sum() + (~np.isin(keys, back)).sum())


def components(triangles: Indices) -> list[Indices]:
    """Return each connected surface of triangles ``(n, 3)``, by spreading the least vertex number until it stays."""
    label = np.arange(int(triangles.max()) + 1)
    while True:
        least = label[triangles].min(axis=1)
        spread = label.copy()
        for k in range(3):
            np.minimum.at(spread, triangles[:, k], least)
        spread = spread[spread]
        if np.array_equal(spread, label):
            break
        label = spread
    owner = label[triangles[:, 0]]
    return [triangles[owner == name] for name in np.unique(owner)]


def tunnels(mesh: Mesh, surfaces: int) -> int:
    """Return the genus summed over all surfaces: surfaces - (V - E + F) / 2 (Euler), E = 3 F / 2."""
    vertices, faces = len(np.unique(mesh.triangles)), len(mesh.triangles)
    return surfaces - (vertices - faces // 2) // 2


def _finding(
    part: str, status: Status, message: str, *, value: float | None = None, limit: float | None = None, unit: str = ""
) -> Finding:
    said = f"{message}; do not print this, report the scene" if status == "fail" else message
    return Finding(id=ID, part=part, status=status, value=value, limit=limit, unit=unit, message=said)


def run(evidence: Evidence) -> list[Finding]:
    """Return the findings of every print's written file."""
    found = []
    for part in evidence.prints:
        stl = evidence.files[evidence.entries[part.id]["files"]["stl"]]
        process = evidence.scene.make.printer.process
        found += evidence.kept.of(check_closed, part.id, stl, drains=part.drains, process=process)
    return found


CHECK = Check(
    id=ID,
    title="Is every print's file one closed body, the right way out?",
    rationale="A slicer guesses at a torn or inside-out surface: walls vanish, or a hollow is filled with resin.",
    run=run,
)
