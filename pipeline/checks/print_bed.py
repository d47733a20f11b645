"""Does every print fit the printer's bed?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.checks.written import read_stl
from pipeline.parts.model import Print

ID = "print-bed"
ROUNDING = 1e-4
"""mm; files hold single-precision numbers."""


def check_bed(part: str, stl: bytes, bed: tuple[float, float, float]) -> list[Finding]:
    """Return the size of a written STL, lying as written, against the bed's (width, depth, height), mm.

    Turned by a quarter it may fit as well.
    """
    corners = read_stl(stl).reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    x, y, z = (float(value) for value in high - low)
    asks, room = (max(x, y), min(x, y), z), (max(bed[:2]), min(bed[:2]), bed[2])
    over = np.subtract(asks, room)
    said = f"{x:.1f} x {y:.1f} x {z:.1f} mm on a bed of {bed[0]:g} x {bed[1]:g} x {bed[2]:g} mm"
    k = int(over.argmax())
    if low[2] < -ROUNDING:
        message = f"it reaches {-float(low[2]):.2f} mm under the bed; do not print this, report the scene"
        return [Finding(id=ID, part=part, status="fail", value=float(low[2]), limit=0.0, unit="mm", message=message)]
    fits = over[k] <= ROUNDING
    message = said if fits else f"{said}: {over[k]:.1f} mm too large; tilt it on the bed, or split it"
    status: Status = "pass" if fits else "fail"
    return [Finding(id=ID, part=part, status=status, value=asks[k], limit=room[k], unit="mm", message=message)]


def run(evidence: Evidence) -> list[Finding]:
    """Return the findings of every print's written file."""
    bed = evidence.scene.make.printer.bed
    found = []
    for part in evidence.prints:
        stl = evidence.files[evidence.entries[part.id]["files"]["stl"]]
        found += [
            replace(finding, message=finding.message + joined(part))
            for finding in evidence.kept.of(check_bed, part.id, stl, bed)
        ]
    return found


def joined(part: Print) -> str:
    """Return how a piece is joined to the others of its print; nothing of a whole one."""
    if not part.piece:
        return ""
    if not part.pegs:
        return f"; cut from {part.solid.id}, too thin for pegs: glue it to the others on a flat board"
    sizes = " and ".join(f"{size:g}" for size in sorted(set(part.pegs)))
    many = "a peg" if len(part.pegs) == 1 else f"{len(part.pegs)} pegs"
    return f"; cut from {part.solid.id}, joined to the others by {many} of {sizes} mm"


CHECK = Check(
    id=ID,
    title="Does every print fit the printer's bed?",
    rationale="A print is made in one piece; the slicer refuses one that stands over the edge.",
    run=run,
)
