"""Is every print hollow that was asked to be?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.elements.bodies import Block
from pipeline.parts.model import Print

ID = "print-hollow"


def check_hollow(part: Print, min_wall: float, min_cavity: float) -> list[Finding]:
    """Return whether a print that was asked to be hollow is, and how much material it takes, cm3; mm given."""
    if not isinstance(part.solid, Block) or not part.solid.hollow:
        return []
    volume = part.volume / 1000
    if part.hollow:
        message = f"hollowed to walls of {min_wall:g} mm and a little more: {volume:.2f} cm3 of material"
        return [Finding(id=ID, part=part.id, status="pass", value=volume, limit=None, unit="cm3", message=message)]
    message = (
        f"no hollow {min_cavity:g} mm wide has room within walls of {min_wall:g} mm, so it is printed solid: "
        f"{volume:.2f} cm3; make it larger, lessen make.printer.min_cavity, or leave out hollow"
    )
    return [Finding(id=ID, part=part.id, status="warn", value=volume, limit=None, unit="cm3", message=message)]


def run(evidence: Evidence) -> list[Finding]:
    """Return a finding for every print that was asked to be hollow."""
    printer = evidence.scene.make.printer
    return [finding for part in evidence.prints for finding in check_hollow(part, printer.min_wall, printer.min_cavity)]


CHECK = Check(
    id=ID,
    title="Is every print hollow that was asked to be?",
    rationale="A solid print takes many times the resin, pulls harder on its supports, and may crack as it cures.",
    run=run,
)
