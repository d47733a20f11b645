"""Does every panel fit a sheet of its material?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ID = "panel-stock"


def run(evidence: Evidence) -> list[Finding]:
    """Return how much each panel (front and hidden outline together) is larger than its sheet, either way round."""
    findings = []
    for panel in evidence.cut_parts:
        material = panel.material
        table = evidence.scene.materials[material]
        stock = sorted(side - 2 * table.margin for side in table.sheet)
        size = sorted(evidence.entries[panel.id]["size"])
        over = max(size[0] - stock[0], size[1] - stock[1])
        said = f"{size[1]:.1f} x {size[0]:.1f} mm on {material} {stock[1]:g} x {stock[0]:g} mm within its margin"
        findings.append(
            Finding(
                id=ID,
                part=panel.id,
                status="pass" if over <= 0 else "fail",
                value=size[1],
                limit=stock[1],
                unit="mm",
                message=said if over <= 0 else f"{said}: {over:.1f} mm too large; use a larger sheet or a smaller box",
            )
        )
    return findings


CHECK = Check(
    id=ID,
    title="Does every panel fit a sheet of its material?",
    rationale="A panel is cut in one piece; one that is larger than the stock has a seam where nobody planned it.",
    run=run,
)
