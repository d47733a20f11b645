"""Does an eye in the eye box see anything of the bare box through the opening?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.leaks import EYE_PITCH, PITCH, Leaks, find_leaks
from pipeline.checks.model import Finding, Status
from pipeline.elements.hall_shape import HOSTS

ID = "bare-box"


def run(evidence: Evidence) -> list[Finding]:
    """Cast rays from every eye through the hall's outline on the opening; each must end on a part or an open hole."""
    leaks = find_leaks(evidence)
    cast = f"{leaks.rays} rays {PITCH:g} mm apart from {leaks.eyes} eyes at most {EYE_PITCH:g} mm apart"
    findings = [*_short(evidence, leaks, cast), *_bare(evidence, leaks, cast)]
    return findings or [_finding("pass", 0, f"{cast} end on parts or go through openings")]


def _short(evidence: Evidence, leaks: Leaks, cast: str) -> list[Finding]:
    """Return a failure for each passage or niche that rays leave at its end."""
    findings = []
    hall = evidence.room.hall
    for number, reach in sorted(leaks.needed.items()):
        cut = evidence.imagined.cuts[number]
        count = int((leaks.cut == number).sum())
        wanted = f"{hall.metres(reach):.2f} m"
        remedy = f"make it at least {wanted} long"
        if cut.length >= reach:
            remedy = (
                f"it needs {wanted} clear; the box ends it before, or they pass its play: move it back, or fill the gap"
            )
        where = f"run out of the {cut.beyond} {cut.name!r} into the bare box, see pictures/leaks.svg"
        message = f"of {cast} {count} {where}; {remedy}"
        findings.append(_finding("fail", count, message))
    return findings


def _bare(evidence: Evidence, leaks: Leaks, cast: str) -> list[Finding]:
    """Return what is seen beside all openings: a warning for each surface left out, a failure for all others."""
    built = {part.id for part in evidence.parts} | ({"ceiling"} if evidence.room.hall.springing is not None else set())
    beside = leaks.host[leaks.cut < 0]
    counts = {host: int((beside == index).sum()) for index, host in enumerate(HOSTS[:5]) if (beside == index).any()}
    findings = [
        _finding("warn", count, f"{host} is not built, so the bare box is seen there ({count} of {cast})")
        for host, count in sorted(counts.items())
        if host not in built
    ]
    bare = {host: count for host, count in sorted(counts.items()) if host in built}
    if bare:
        where = ", ".join(f"{count} at the {host}" for host, count in bare.items())
        message = f"of {cast} these end on the bare box: {where}, see pictures/leaks.svg; make that part larger"
        findings.append(_finding("fail", sum(bare.values()), message))
    return findings


def _finding(status: Status, value: int, message: str) -> Finding:
    return Finding(id=ID, part="", status=status, value=float(value), limit=0.0, unit="rays", message=message)


CHECK = Check(
    id=ID,
    title="Does an eye in the eye box see anything of the bare box through the opening?",
    rationale="One strip of bare wood beside a wall, and the hall is a box again.",
    run=run,
)
