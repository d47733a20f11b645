"""Is any half rib at an end of the vault too thin to print?

The ribs at the opening and at the back wall are halves, and the relief presses those at the back wall to a fifth of
that. One thinner than the printer's least wall is left out of the prints; this check says so, with the width it would
have by the relief's own formula for depths.
"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ID = "half-rib"


def run(evidence: Evidence) -> list[Finding]:
    """Return a warning for each half rib that is not among the prints."""
    vault, room = evidence.scene.vault, evidence.room
    if vault is None or vault.rib_width == 0 or vault.ribs != "print":
        return []
    relief, hall, printer = room.relief, room.hall, evidence.scene.make.printer
    half = hall.millimetres(vault.rib_width) / 2
    back = relief.built_depth - relief.built_y(hall.depth - half) - evidence.scene.make.fit
    printed = {part.solid.id.removesuffix("-apron") for part in evidence.prints}
    ends = ((1, "opening", relief.built_y(half)), (vault.bays + 1, "back wall", back))
    findings = []
    for (number, place, width), least in zip(ends, hall.least_ends, strict=True):
        part = f"vault-rib-transverse-{number}"
        if part in printed:
            continue
        message = (
            f"the half rib at the {place} would be {max(width, 0.0):.2f} mm thick, {printer.min_wall:g} mm is needed, "
            f"so it is not printed: {_instead(number)}, or give rib_width at least "
            f'{_upward(2 * hall.metres(least))} m, or ribs = "sheet"'
        )
        findings.append(
            Finding(id=ID, part=part, status="warn", value=width, limit=printer.min_wall, unit="mm", message=message)
        )
    return findings


def _instead(number: int) -> str:
    if number == 1:
        return "do without it"
    return "lay it up in putty or card where its outline is marked on the back wall"


def _upward(metres: float) -> str:
    return f"{int(metres * 1000) / 1000 + 0.001:.3f}"


CHECK = Check(
    id=ID,
    title="Is every half rib at the ends of the vault thick enough to print?",
    rationale="Half a rib, pressed flat by the relief, soon is thinner than a printer's least wall.",
    run=run,
)
