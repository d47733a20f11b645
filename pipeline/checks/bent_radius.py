"""Does the sheet bend as far as every bent panel asks?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ID = "bent-radius"


def run(evidence: Evidence) -> list[Finding]:
    """Return each bent panel's smallest radius against its material's ``min_bend``."""
    findings = []
    for panel in evidence.bents:
        name = panel.web.sheet.material
        least = evidence.scene.materials[name].min_bend
        bends = least > 0
        enough = bends and panel.radius >= least
        said = f"bends to {panel.radius:.2f} mm at its tightest"
        limit = f"{name} to {least:g} mm" if bends else f"{name} does not bend (min_bend = 0)"
        remedy = f"take a material that bends farther, or print it: {panel.web.offer}"
        findings.append(
            Finding(
                id=ID,
                part=panel.id,
                status="pass" if enough else "fail",
                value=panel.radius,
                limit=least,
                unit="mm",
                message=f"{said}; {limit}" if enough else f"{said}, but {limit}; {remedy}",
            )
        )
    return findings


CHECK = Check(
    id=ID,
    title="Does the sheet bend as far as every bent panel asks?",
    rationale="Card creases and wood breaks where it is bent tighter than it will go, mostly at the crown.",
    run=run,
)
