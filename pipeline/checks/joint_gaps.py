"""Do the sheets close wherever two of them meet?"""

from __future__ import annotations

import math

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ID = "joint-gaps"
ROUNDING = 1e-6
"""mm; a gap that is written as the limit is within it."""


def run(evidence: Evidence) -> list[Finding]:
    """Return every joint that gapes wider than ``make.max_gap``, and how far the others part at most."""
    limit = evidence.scene.make.max_gap
    widest: dict[tuple[str, str], float] = {}
    for panel in evidence.cut_parts:
        for edge in panel.edges:
            if edge.angle_deg is not None:
                pair = (min(panel.id, edge.against), max(panel.id, edge.against))
                widest[pair] = max(widest.get(pair, 0.0), edge.gap[1])
    wide = {pair: gap for pair, gap in widest.items() if gap > limit + ROUNDING}
    findings = [_gaping(*pair, gap, limit) for pair, gap in sorted(wide.items())]
    if evidence.scene.make.edges == "square":
        findings += [_leaning(*one, limit) for one in _undercut(evidence) if one[3] > limit + ROUNDING]
    closed = [gap for pair, gap in widest.items() if pair not in wide]
    if closed:
        message = f"{len(closed)} joints part by at most {max(closed):.2f} mm where the room sees them"
        findings.append(
            Finding(id=ID, part="", status="pass", value=max(closed), limit=limit, unit="mm", message=message)
        )
    return findings


def _gaping(part: str, other: str, gap: float, limit: float) -> Finding:
    message = f"shows a gap of {gap:.2f} mm at {other}: fill it before painting, take thinner sheet, or bevel the edges"
    return Finding(id=ID, part=part, status="warn", value=gap, limit=limit, unit="mm", message=message)


def _undercut(evidence: Evidence) -> list[tuple[str, str, float, float]]:
    """Return (part, against, degrees, mm) of edges that lean under all the same, as those between tabs do.

    Left square such an edge rests on its hidden arris, and stands off by t sin(bevel) where the room sees it.
    """
    worst: dict[tuple[str, str], tuple[float, float]] = {}
    for panel in evidence.cut_parts:
        for edge in panel.edges:
            lean = max(0.0, -min(edge.bevel_deg))
            if edge.angle_deg is not None and lean > 0:
                off = panel.thickness * math.sin(math.radians(lean))
                worst[panel.id, edge.against] = max(worst.get((panel.id, edge.against), (0.0, 0.0)), (lean, off))
    return [(part, against, *figures) for (part, against), figures in sorted(worst.items())]


def _leaning(part: str, other: str, lean: float, off: float, limit: float) -> Finding:
    message = (
        f"between its tabs the edge at {other} leans {lean:.0f} degrees under, which no machine cuts square: file it "
        f"off behind, else it stands off by {off:.2f} mm"
    )
    return Finding(id=ID, part=part, status="warn", value=off, limit=limit, unit="mm", message=message)


CHECK = Check(
    id=ID,
    title="Do the sheets close wherever two of them meet?",
    rationale="A joint that gapes shows as a black line, and light comes through it.",
    run=run,
)
