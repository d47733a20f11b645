"""Is every card that was to stay in one piece laid out as a net?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.parts.nets import Net
from pipeline.stages.corners import NET

ID = "one-net"


def run(evidence: Evidence) -> list[Finding]:
    """Return what each net holds, and why other cards make none; nothing where no net is asked for."""
    if not evidence.scene.make.net:
        return []
    why = [fact.text.removesuffix(".") for fact in evidence.imagined.facts if fact.subject == NET]
    return [*(_held(net) for net in evidence.nets), *(_left(text) for text in why)]


def _held(net: Net) -> Finding:
    parts = ", ".join(panel.id for panel in net.panels)
    message = f"holds {parts} in one piece, folded along {len(net.creases)} lines"
    return Finding(id=ID, part=net.id, status="pass", value=None, limit=None, unit="", message=message)


def _left(text: str) -> Finding:
    return Finding(id=ID, part="", status="warn", value=None, limit=None, unit="", message=text)


CHECK = Check(
    id=ID,
    title="Is every card that was to stay in one piece laid out as a net?",
    rationale="Who asked for one piece to fold should not find single panels on the sheets and wonder why.",
    run=run,
)
