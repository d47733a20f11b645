"""Does every figure have the room it takes, and a stock one, which is deeper, too?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.room.figure_room import FigureRoom, find_room
from pipeline.units import part_id

ID = "figure-room"
NEAR = 0.05
"""mm; so much is rounding."""


def run(evidence: Evidence) -> list[Finding]:
    """Return for each figure how deep one of its scale may be where it stands."""
    scene, room = evidence.scene, evidence.room
    rooms = find_room(evidence.imagined, scene.figures, scene.lights, room.hall, room.relief)
    return [_finding(one) for one in rooms]


def _finding(one: FigureRoom) -> Finding:
    stock, name = one.standing.stock_depth, one.standing.name
    fits = one.depth >= stock - NEAR
    wrong = one.shares is not None or bool(one.carries)
    return Finding(
        id=ID,
        part=part_id(name),
        status="fail" if wrong else "pass" if fits else "warn",
        value=one.depth,
        limit=stock,
        unit="mm",
        message=_clash(one) if wrong else _words(one, fits=fits),
    )


def _clash(one: FigureRoom) -> str:
    if one.shares is not None:
        other, offer = one.shares
        return f"takes the same room as {other!r}: move one of the two, this one as to {offer}"
    return f"the lamp {one.carries!r} hangs within it: move one of the two; a lamp that it carries hangs beside it"


def _words(one: FigureRoom, *, fits: bool) -> str:
    stock = one.standing.stock_depth
    if one.standing.printed:
        return "its print is held against all parts like theirs"
    if fits:
        return f"a stock figure, {stock:.1f} mm deep along the hall, has room"
    return (
        f"a stock figure is {stock:.1f} mm deep along the hall and would reach {one.against}: thin it to "
        f"{one.depth:.1f} mm, take a flatter pose, or move it away from there"
    )


CHECK = Check(
    id=ID,
    title="Does every figure have the room it takes, and a stock one, which is deeper, too?",
    rationale="The relief squashes depth more than height, so a bought figure of the right height is too deep by two "
    "or three times, and meets what the imagined person stands clear of.",
    run=run,
)
