"""Do the lights' wires and their battery lie free of all parts?"""

from __future__ import annotations

from itertools import pairwise

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.parts.wire_search import in_the_way, tube
from pipeline.parts.wires import Run, Wiring
from pipeline.units import part_id

ID = "wires-free"
COMMON_MM3 = 1e-3
"""mm^3; two bodies that only touch have a common volume of rounding, far below this."""


def run(evidence: Evidence) -> list[Finding]:
    """Return for each light, and for the battery, what of the built parts stands in its wires' or its own room."""
    wiring = evidence.wiring
    if wiring is None:
        return []
    findings = [_run(one, wiring, evidence) for one in wiring.runs]
    if wiring.battery is not None:
        taken = in_the_way(wiring.block, evidence.bodies)
        findings.append(_finding("", taken, "the battery lies free of all parts, out of sight", "the battery"))
    return findings


def _run(one: Run, wiring: Wiring, evidence: Evidence) -> Finding:
    if len(one.points) == 0:
        status: Status = "pass" if one.elsewhere else "warn"
        return Finding(id=ID, part=part_id(one.led), status=status, value=None, limit=None, unit="", message=one.why)
    taken: dict[str, float] = {}
    for start, end in pairwise(one.points):
        for part, common in in_the_way(tube(start, end, wiring.radius), evidence.bodies):
            taken[part] = taken.get(part, 0.0) + common
    holes = [name for name in one.through if name]
    through = f", through {' and '.join(holes)}" if holes else ""
    free = f"{one.length:.0f} mm of wire in {len(one.points) - 1} straight legs, free of all parts{through}"
    return _finding(part_id(one.led), list(taken.items()), free, "its wires")


def _finding(part: str, taken: list[tuple[str, float]], free: str, what: str) -> Finding:
    common = sum(size for _, size in taken)
    clash = common > COMMON_MM3
    names = " and ".join(name for name, _ in taken)
    return Finding(
        id=ID,
        part=part,
        status="fail" if clash else "pass",
        value=common,
        limit=COMMON_MM3,
        unit="mm3",
        message=f"{what} and {names} take the same room; report the scene" if clash else free,
    )


CHECK = Check(
    id=ID,
    title="Do the lights' wires and their battery lie free of all parts?",
    rationale="A wire that is found to be in the way once the walls are glued in can no longer be led round anything.",
    run=run,
)
