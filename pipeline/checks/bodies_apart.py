"""Do any two parts take the same room, and have prints their play?"""

from __future__ import annotations

from functools import partial

import manifold3d
import numpy as np

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.geometry.between import parted
from pipeline.parts.model import Raised

ID = "bodies-apart"
COMMON_MM3 = 1e-3
"""mm^3; two mitred faces that lie on one another have a common volume of rounding only, far below this."""

Box = tuple[float, ...]

PLAY_ROUNDING = 5e-3
"""mm; faceting and single-precision files move a face by a few micrometres at most."""


def run(evidence: Evidence) -> list[Finding]:
    """Return one finding for each pair that clashes, and one that counts the pairs that do not."""
    wholes = {part.id: (part.solid.id, isinstance(part.solid, Raised)) for part in evidence.prints}
    cut, webs = [part.id for part in evidence.cut_parts], [web.id for web in evidence.imagined.webs]
    asked = (evidence.meshes, evidence.gaps, evidence.scene.make.fit, wholes, cut, webs)
    return evidence.kept.given((run, *asked), partial(_compared, evidence))


def _compared(evidence: Evidence) -> list[Finding]:
    panels = {part.id for part in evidence.cut_parts}
    whole = {part.id: part.solid.id for part in evidence.prints}
    panels |= {part.id for part in evidence.prints if isinstance(part.solid, Raised)}  # mitred as panels are
    panels |= {web.id for web in evidence.imagined.webs}  # printed or not, they end where their neighbours begin
    fit = evidence.scene.make.fit
    meshes = evidence.meshes
    findings = []
    for (a, b), gap in evidence.gaps.items():
        both_panels = a in panels and b in panels
        joined = a in whole and whole[a] == whole.get(b)  # pieces of one print touch all over their cut
        play = 0.0 if both_panels or joined else fit
        judge = partial(_judge, evidence, a, b, gap, play)
        finding = evidence.kept.given((_judge, a, b, meshes[a], meshes[b], gap, play), judge)
        if finding is not None:
            findings.append(finding)
    if not findings:
        pairs = len(evidence.bodies) * (len(evidence.bodies) - 1) // 2
        message = f"{pairs} pairs of parts compared; none overlap, prints stand off by {fit:g} mm"
        findings.append(
            Finding(id=ID, part="", status="pass", value=0.0, limit=COMMON_MM3, unit="mm3", message=message)
        )
    return findings


def _nested(a: Box, b: Box) -> bool:
    """Whether one of two boxes lies in the other."""
    return any(all(p[i] <= q[i] and q[i + 3] <= p[i + 3] for i in range(3)) for p, q in ((a, b), (b, a)))


def _judge(evidence: Evidence, a: str, b: str, gap: float, play: float) -> Finding | None:
    bodies = (evidence.bodies[a], evidence.bodies[b])
    # Most sheets lie on either side of a plane, which is soon seen.
    if play == 0.0 and _slab(evidence, a, b) < COMMON_MM3:
        return None
    return check_pair(a, b, bodies, gap, play)


def check_pair(
    a: str, b: str, bodies: tuple[manifold3d.Manifold, manifold3d.Manifold], gap: float, play: float
) -> Finding | None:
    """Return what is wrong between two bodies whose surfaces are ``gap`` mm apart and should be ``play``, if any is."""
    # Bodies whose surfaces stand apart have nothing in common unless one lies within the other, as its box then does.
    if gap > max(0.0, play - PLAY_ROUNDING) and not _nested(*(body.bounding_box() for body in bodies)):
        return None
    common = (bodies[0] ^ bodies[1]).volume()
    if common > COMMON_MM3:
        return Finding(
            id=ID,
            part=a,
            status="fail",
            value=common,
            limit=COMMON_MM3,
            unit="mm3",
            message=f"{a} and {b} overlap by {common:.3g} mm3; move one of them in the scene",
        )
    if play == 0.0 or gap >= play - PLAY_ROUNDING:
        return None
    return Finding(
        id=ID,
        part=a,
        status="warn",
        value=gap,
        limit=play,
        unit="mm",
        message=f"{a} stands {gap:.3f} mm from {b}, less than the play of {play:g} mm; sand a little off, or move it",
    )


def _slab(evidence: Evidence, a: str, b: str) -> float:
    """Return the most that two bodies can have in common, mm3: a slab between the planes that all but part them."""
    box_a, box_b = evidence.bodies[a].bounding_box(), evidence.bodies[b].bounding_box()
    depth = -parted(evidence.meshes[a], evidence.meshes[b], evidence.ways[a], evidence.ways[b])
    sides = [min(box_a[i + 3], box_b[i + 3]) - max(box_a[i], box_b[i]) for i in range(3)]
    return max(0.0, depth) * float(np.square(np.maximum(sides, 0.0)).sum())


CHECK = Check(
    id=ID,
    title="Do any two parts take the same room, and have prints their play?",
    rationale="Parts that overlap cannot be glued where they belong; a print without play sticks before it is home.",
    run=run,
)
