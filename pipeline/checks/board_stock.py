"""Does every board of the box fit a sheet of its material?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.panel_stock import ROUNDING, best_fit

ID = "board-stock"


def run(evidence: Evidence) -> list[Finding]:
    """Return how much each board that is laid on a sheet is larger than the sheet it fits best."""
    findings = []
    for board in evidence.boards:
        if not board.material:
            continue
        table = evidence.scene.materials[board.material]
        over, best, way = best_fit(board.size, table)
        room = (best[0] - 2 * table.margin, best[1] - 2 * table.margin)
        said = f"{way[0]:.1f} x {way[1]:.1f} mm on {board.material} {room[0]:g} x {room[1]:g} mm within its margin"
        fine = over <= ROUNDING
        remedy = "use a larger sheet, or glue one up from strips along the grain"
        findings.append(
            Finding(
                id=ID, part=board.id, status="pass" if fine else "fail", value=max(way), limit=max(room), unit="mm",
                message=said if fine else f"{said}: {over:.1f} mm too large; {remedy}",
            )
        )  # fmt: skip
    return findings


CHECK = Check(
    id=ID,
    title="Does every board of the box fit a sheet of its material?",
    rationale="A board that is larger than its sheet is left out of the sheets' drawings.",
    run=run,
)
