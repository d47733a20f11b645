"""Does an eye in the eye box see anything of the bare box through the opening?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.leaks import Leaks, find_leaks
from pipeline.checks.model import Finding, Status
from pipeline.elements.hall_shape import HOSTS
from pipeline.sight.eye_box import EYE_PITCH

ID = "bare-box"
ROUNDING = 1e-6
"""mm; a gap that is written as the limit is within it."""


def run(evidence: Evidence) -> list[Finding]:
    """Cast rays from every eye through the hall's outline on the opening; each must end on a part or an open hole.

    Square edges leave gaps that their joints are told to have; what is seen through one is told by its joint.
    """
    leaks = find_leaks(evidence)
    cast = f"{leaks.rays} rays {leaks.pitch:.3g} mm apart from {leaks.eyes} eyes at most {EYE_PITCH:g} mm apart"
    findings = [*_short(evidence, leaks, cast), *_bare(evidence, leaks, cast)]
    findings += _slits(leaks, evidence.scene.make.max_gap, cast)
    return findings or [_finding("pass", 0, f"{cast} end on parts or go through openings")]


def _slits(leaks: Leaks, limit: float, cast: str) -> list[Finding]:
    """Return what is seen through the gap of each joint: a warning where that is wider than ``make.max_gap``."""
    seen: dict[tuple[str, str], tuple[int, float]] = {}
    for number in leaks.slit[leaks.slit >= 0].tolist():
        slit = leaks.slits[number]
        count, gap = seen.get(slit.parts, (0, 0.0))
        seen[slit.parts] = (count + 1, max(gap, slit.gap))
    findings = []
    for (part, other), (count, gap) in sorted(seen.items()):
        wide = gap > limit + ROUNDING
        message = f"of {cast} {count} pass the gap of {gap:.2f} mm that its square edge leaves at {other}"
        message += "; fill it before painting, take thinner sheet, or bevel the edges" if wide else ""
        findings.append(_finding("warn" if wide else "pass", count, message, part))
    return findings


def _short(evidence: Evidence, leaks: Leaks, cast: str) -> list[Finding]:
    """Return a failure for each passage or niche that rays leave at its end."""
    findings = []
    hall = evidence.room.hall
    for number, reach in sorted(leaks.needed.items()):
        cut = evidence.imagined.cuts[number]
        count = int(((leaks.cut == number) & (leaks.slit < 0)).sum())
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


UNBUILT = "paint or paper the box there, or have it built"


def _bare(evidence: Evidence, leaks: Leaks, cast: str) -> list[Finding]:
    """Return what is seen beside all openings: a warning for each surface left out, a failure for all others."""
    built = {part.id for part in evidence.parts} | ({"ceiling"} if evidence.room.hall.springing is not None else set())
    beside = leaks.host[(leaks.cut < 0) & (leaks.slit < 0)]
    counts = {host: int((beside == index).sum()) for index, host in enumerate(HOSTS[:5]) if (beside == index).any()}
    findings = [
        _finding("warn", count, f"{host} is not built, so the bare box is seen there ({count} of {cast}); {UNBUILT}")
        for host, count in sorted(counts.items())
        if host not in built
    ]
    bare = {host: count for host, count in sorted(counts.items()) if host in built}
    if bare:
        where = ", ".join(f"{count} at the {host}" for host, count in bare.items())
        message = f"of {cast} these end on the bare box: {where}, see pictures/leaks.svg; make that part larger"
        findings.append(_finding("fail", sum(bare.values()), message))
    return findings


def _finding(status: Status, value: int, message: str, part: str = "") -> Finding:
    return Finding(id=ID, part=part, status=status, value=float(value), limit=0.0, unit="rays", message=message)


CHECK = Check(
    id=ID,
    title="Does an eye in the eye box see anything of the bare box through the opening?",
    rationale="One strip of bare wood beside a wall, and the hall is a box again.",
    run=run,
)
