"""Does the lid close over what stands in the box?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status

ID = "lid-closes"
ROUNDING = 1e-3
"""mm; a micrometre before the opening is rounding."""


def run(evidence: Evidence) -> list[Finding]:
    """Return how far anything stands out before the rim, held against the room that the other half has for it."""
    if evidence.casework is None:
        return []
    shell, hinging = evidence.casework.shell, evidence.casework.hinging
    least = {part.id: float(part.body.vertices[:, 1].min()) for part in evidence.parts}
    part = min(least, key=lambda name: least[name], default="")
    out = max(-least.get(part, 0.0), 0.0)
    other, room = ("lid", shell.make.room) if shell.part == "box" else ("box", shell.depth)
    status: Status
    if out <= ROUNDING:
        status, said = "pass", f"nothing stands out before the rim; the {other} has {room:g} mm"
    elif out > room:
        status, said = (
            "fail",
            f"{part} stands {out:.2f} mm out before the rim, and the {other} has {room:g} mm; move it in",
        )
    else:
        status = "warn"
        said = (
            f"{part} stands {out:.2f} mm out before the rim: keep that much of the {other} free, and "
            f"{hinging.kept_clear(out):.2f} mm between it and the side opposite the hinges"
        )
    return [
        Finding(
            id=ID, part=part if out > ROUNDING else "", status=status, value=out, limit=room, unit="mm", message=said
        )
    ]


CHECK = Check(
    id=ID,
    title="Does the lid close over what stands in the box?",
    rationale="What is flush with the rims never meets anything as the lid swings; what stands out needs room in the "
    "other half, and goes into it along an arc.",
    run=run,
)
