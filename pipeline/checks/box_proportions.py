"""Are the box's boards, its lid and the saw in proportion?"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.casework.shell import Shell
from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.scene.casing import HELD, LEAST_EDGE

ID = "box-proportions"


def run(evidence: Evidence) -> list[Finding]:
    """Return five figures of a box that is made: the lid's depth, the boards, the kerf, and two of its hinges' screws.

    All of it can be made, so nothing fails; but each is what a slip of the pen makes of a usual box.
    """
    if evidence.casework is None:
        return []
    return list(_figures(evidence.casework.shell))


def _figures(shell: Shell) -> Iterator[Finding]:
    make = shell.make
    board, room, screws = make.board, make.room, make.screw_line
    least = min(shell.width, shell.height)
    yield _finding(
        room, shell.depth, room <= shell.depth,
        f"the lid is {room:g} mm deep inside, the box {shell.depth:g} mm",
        f"the lid is {room:g} mm deep inside and the box {shell.depth:g} mm: opened, it outweighs the box; make "
        f"box.make.lid {shell.depth + make.end_thickness:g} mm at the most, or put the deeper room into the box and "
        "the other into the lid",
    )  # fmt: skip
    yield _finding(
        board, least / 2, board <= least / 2,
        f"boards are {board:g} mm thick round {least:g} mm inside",
        f"boards of {board:g} mm are thicker than half of the {least:g} mm inside; {least / 2:g} mm is the most that "
        "is believable: measure the board, and write its thickness, not its width, into box.make.board",
    )  # fmt: skip
    yield _finding(
        make.saw, board, make.saw <= board,
        f"the saw takes {make.saw:g} mm, and the boards are {board:g} mm thick",
        f"the saw takes {make.saw:g} mm, more than the boards are thick ({board:g} mm); measure the slot again in a "
        "scrap, or take a finer saw: a hand saw takes about 0.5 mm, a band saw 1",
    )  # fmt: skip
    yield _finding(
        screws, LEAST_EDGE, screws >= LEAST_EDGE,
        f"the hinges' screws sit {screws:g} mm from the rim",
        f"the hinges' screws sit {screws:g} mm from the rim, and split it"
        + (
            f": the lid's sides are {room:g} mm deep; make box.make.lid {2 * LEAST_EDGE + make.end_thickness:g} mm or "
            "higher"
            if make.screws is None else
            f"; set box.make.screws to {LEAST_EDGE:g} mm or more, or leave it out"
        ),
    )  # fmt: skip
    yield _finding(
        board, HELD, board >= HELD,
        f"boards of {board:g} mm hold the hinges' screws",
        f"boards of {board:g} mm hold no screws, which want {HELD:g} mm; hang the lid on a strip of linen or leather "
        "glued along the hinge line, or glue blocks of wood inside behind the screws",
    )  # fmt: skip


def _finding(value: float, limit: float, fine: bool, said: str, told: str) -> Finding:
    return Finding(
        id=ID, part="", status="pass" if fine else "warn", value=value, limit=limit, unit="mm",
        message=said if fine else told,
    )  # fmt: skip


CHECK = Check(
    id=ID,
    title="Are the box's boards, its lid and the saw in proportion?",
    rationale="All of it can be made, but a lid deeper than its box, boards as thick as the room or a kerf wider than "
    "the board is rarely what was meant, and a lid without wood for its screws does not hang.",
    run=run,
)
