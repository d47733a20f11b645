"""Does every part lie inside the box?"""

from __future__ import annotations

import numpy as np

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ID = "in-box"
ROUNDING = 1e-3
"""mm; a micrometre outside is rounding of the written figures, not a part that does not fit."""


def run(evidence: Evidence) -> list[Finding]:
    """Return how far each part's body reaches past the inside of the box."""
    width, height, depth = evidence.room.box
    low, high = np.array([-width / 2, 0.0, 0.0]), np.array([width / 2, depth, height])
    findings = []
    for part in evidence.parts:
        points = part.body.vertices
        past = float(max((low - points.min(axis=0)).max(), (points.max(axis=0) - high).max()))
        inside = past <= ROUNDING
        findings.append(
            Finding(
                id=ID,
                part=part.id,
                status="pass" if inside else "fail",
                value=max(past, 0.0),
                limit=ROUNDING,
                unit="mm",
                message="lies inside the box"
                if inside
                else f"reaches {past:.2f} mm out of the box; give more clearance, or bring the eye nearer the middle",
            )
        )
    return findings


CHECK = Check(
    id=ID,
    title="Does every part lie inside the box?",
    rationale="A part that reaches past the inside of the box cannot be put in, or keeps the lid from closing.",
    run=run,
)
