"""Do the sheets close wherever two of them meet?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.parts.model import Panel

ID = "joint-gaps"
ROUNDING = 1e-6
"""mm; a gap that is written as the limit is within it."""


def run(evidence: Evidence) -> list[Finding]:
    """Return every joint that gapes wider than ``make.max_gap``, and how far the others part at most."""
    limit = evidence.scene.make.max_gap
    widest: dict[tuple[str, str], float] = {}
    notched: dict[tuple[str, str], tuple[str, str]] = {}
    for panel in evidence.cut_parts:
        beside = {one.against for one in panel.additions if one.kind == "notch"} if isinstance(panel, Panel) else set()
        for edge in panel.edges:
            if edge.angle_deg is not None:
                pair = (min(panel.id, edge.against), max(panel.id, edge.against))
                widest[pair] = max(widest.get(pair, 0.0), edge.gap[1])
                if edge.against in beside:
                    notched[pair] = panel.id, edge.against
    wide = {pair: gap for pair, gap in widest.items() if gap > limit + ROUNDING}
    findings = [
        _gaping(*notched.get(pair, pair), gap, limit, notched=pair in notched) for pair, gap in sorted(wide.items())
    ]
    closed = [gap for pair, gap in widest.items() if pair not in wide]
    if closed:
        message = f"{len(closed)} joints part by at most {max(closed):.2f} mm where the room sees them"
        findings.append(
            Finding(id=ID, part="", status="pass", value=max(closed), limit=limit, unit="mm", message=message)
        )
    return findings


def _gaping(part: str, other: str, gap: float, limit: float, *, notched: bool) -> Finding:
    shown, it = (f"notches of {gap:.2f} mm beside its tabs", "them") if notched else (f"a gap of {gap:.2f} mm", "it")
    message = f"shows {shown} at {other}: fill {it} before painting, take thinner sheet, or bevel the edges"
    return Finding(id=ID, part=part, status="warn", value=gap, limit=limit, unit="mm", message=message)


CHECK = Check(
    id=ID,
    title="Do the sheets close wherever two of them meet?",
    rationale="A joint that gapes shows as a black line, and light comes through it.",
    run=run,
)
