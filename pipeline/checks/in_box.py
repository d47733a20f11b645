"""Does every part lie inside the box?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.room.frame import READ
from pipeline.sheets.gaps import box_gaps

ID = "in-box"
ROUNDING = 1e-3
"""mm; a micrometre outside is rounding of the written figures, not a part that does not fit."""


def run(evidence: Evidence) -> list[Finding]:
    """Return how far each part's body reaches past the inside of the box."""
    findings = []
    for part in evidence.parts:
        past = evidence.room.inside.past(part.body)
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
    return findings + _gaping(evidence)


def _gaping(evidence: Evidence) -> list[Finding]:
    """Return how far a box that is not square gapes beside what stands in its opening, where something tells."""
    gaps = [gap for gap in box_gaps(evidence.panels, evidence.room.inside) if gap.at == "opening"]
    if not gaps:
        return []
    widest, limit = max(gaps, key=lambda gap: gap.size), evidence.scene.box.clearance + READ
    where = f"between the {widest.part} and the box's {widest.side}, {widest.corner}"
    # Left to itself the frame is built where a wedge would show; sheets that lean stand off a little more than that.
    refused = evidence.scene.front.build is False
    closed = widest.size <= limit or not refused
    remedy = "" if closed else "; build a front frame, which follows the opening"
    return [
        Finding(
            id=ID, part="", status="pass" if closed else "warn", value=widest.size, limit=limit if refused else None,
            unit="mm",
            message=f"the widest gap in the opening is {widest.size:.2f} mm, {where}{remedy}",
        )
    ]  # fmt: skip


CHECK = Check(
    id=ID,
    title="Does every part lie inside the box?",
    rationale="A part that reaches past the inside of the box cannot be put in, or keeps the lid from closing.",
    run=run,
)
