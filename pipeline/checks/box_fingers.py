"""Are the fingers of the box's corners wide enough to hold?"""

from __future__ import annotations

from pipeline.casework.fingers import lay_fingers
from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ID = "box-fingers"


def run(evidence: Evidence) -> list[Finding]:
    """Return the narrowest finger, held against the thickness of the board."""
    if evidence.casework is None or evidence.casework.shell.make.joint != "finger":
        return []
    shell = evidence.casework.shell
    narrow, board = min(lay_fingers(shell).widths), shell.make.board
    fine = narrow >= board
    return [
        Finding(
            id=ID, part="", status="pass" if fine else "warn", value=narrow, limit=board, unit="mm",
            message=f"fingers are {narrow:.2f} mm wide in boards of {board:g} mm" if fine else
            f"fingers {narrow:.2f} mm wide are narrower than the boards' {board:g} mm, and break out easily; make "
            "box.make.finger wider or the lid higher, or take another joint",
        )
    ]  # fmt: skip


CHECK = Check(
    id=ID,
    title="Are the fingers of the box's corners wide enough to hold?",
    rationale="Fingers narrower than the board is thick are short grain: they break when they are cut or knocked in.",
    run=run,
)
