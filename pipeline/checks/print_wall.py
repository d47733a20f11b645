"""Is every wall of every print at least as thick as the printer needs?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.checks.written import read_stl
from pipeline.geometry.meshes import weld
from pipeline.parts.thickness import thinnest_wall

ID = "print-wall"


def check_wall(part: str, stl: bytes, min_wall: float) -> list[Finding]:
    """Return the thinnest wall of a written STL against the printer's least, mm."""
    found = thinnest_wall(weld(read_stl(stl)))
    if found is None:
        message = "no two sides of it face each other; nothing to measure"
        return [Finding(id=ID, part=part, status="warn", value=None, limit=min_wall, unit="mm", message=message)]
    thick = found.thickness >= min_wall
    where = ", ".join(f"{value:.1f}" for value in found.enters)
    message = f"walls of {found.thickness:.2f} mm and more"
    if not thick:
        message = (
            f"{found.thickness:.2f} mm thin at ({where}) on the bed, {min_wall:g} mm is needed; "
            "make the imagined piece thicker, or move it forward where the relief leaves it more"
        )
    status: Status = "pass" if thick else "fail"
    return [Finding(id=ID, part=part, status=status, value=found.thickness, limit=min_wall, unit="mm", message=message)]


def run(evidence: Evidence) -> list[Finding]:
    """Return the findings of every print's written file."""
    least = evidence.scene.make.printer.min_wall
    found = []
    for part in evidence.prints:
        found += check_wall(part.id, evidence.files[evidence.entries[part.id]["files"]["stl"]], least)
    return found


CHECK = Check(
    id=ID,
    title="Is every wall of every print at least as thick as the printer needs?",
    rationale="A thinner wall prints with holes, warps as it cures, or breaks when the supports come off.",
    run=run,
)
