"""Do any two parts take the same room, and have prints their play?"""

from __future__ import annotations

from functools import partial
from itertools import combinations

import manifold3d

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.parts.model import Raised

ID = "bodies-apart"
COMMON_MM3 = 1e-3
"""mm^3; two mitred faces that lie on one another have a common volume of rounding only, far below this."""

PLAY_ROUNDING = 5e-3
"""mm; faceting and single-precision files move a face by a few micrometres at most."""


def run(evidence: Evidence) -> list[Finding]:
    """Return one finding for each pair that clashes, and one that counts the pairs that do not."""
    panels = {part.id for part in evidence.cut_parts}
    whole = {part.id: part.solid.id for part in evidence.prints}
    panels |= {part.id for part in evidence.prints if isinstance(part.solid, Raised)}  # mitred as panels are
    panels |= {web.id for web in evidence.imagined.webs}  # printed or not, they end where their neighbours begin
    fit = evidence.scene.make.fit
    boxes = {part: body.bounding_box() for part, body in evidence.bodies.items()}
    meshes = {part.id: part.body for part in evidence.parts}
    findings, pairs = [], 0
    for a, b in combinations(evidence.bodies, 2):
        pairs += 1
        if _apart(boxes[a], boxes[b], fit):
            continue
        both_panels = a in panels and b in panels
        joined = a in whole and whole[a] == whole.get(b)  # pieces of one print touch all over their cut
        play = 0.0 if both_panels or joined else fit
        pair = partial(_pair, a, b, evidence.bodies[a], evidence.bodies[b], play)
        finding = evidence.kept.given((_pair, a, b, meshes[a], meshes[b], play), pair)
        if finding is not None:
            findings.append(finding)
    if not findings:
        message = f"{pairs} pairs of parts compared; none overlap, prints stand off by {fit:g} mm"
        findings.append(
            Finding(id=ID, part="", status="pass", value=0.0, limit=COMMON_MM3, unit="mm3", message=message)
        )
    return findings


def _apart(a: tuple[float, ...], b: tuple[float, ...], play: float) -> bool:
    return any(a[i] > b[i + 3] + play or b[i] > a[i + 3] + play for i in range(3))


def _nested(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    """Whether one of two boxes lies in the other."""
    return any(all(p[i] <= q[i] and q[i + 3] <= p[i + 3] for i in range(3)) for p, q in ((a, b), (b, a)))


def _pair(a: str, b: str, body_a: manifold3d.Manifold, body_b: manifold3d.Manifold, play: float) -> Finding | None:
    # Bodies whose surfaces stand apart have nothing in common unless one lies within the other, as its box then does.
    gap = body_a.min_gap(body_b, play * 1.5) if play else 0.0
    if play and gap >= play - PLAY_ROUNDING and not _nested(body_a.bounding_box(), body_b.bounding_box()):
        return None
    common = (body_a ^ body_b).volume()
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
    if play == 0.0:
        return None
    if gap >= play - PLAY_ROUNDING:
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


CHECK = Check(
    id=ID,
    title="Do any two parts take the same room, and have prints their play?",
    rationale="Parts that overlap cannot be glued where they belong; a print without play sticks before it is home.",
    run=run,
)
