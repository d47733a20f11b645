"""Do the boards, as they are drawn, make the box that the room was made for?"""

from __future__ import annotations

from itertools import combinations

import manifold3d
import numpy as np

from pipeline.casework.boards import Board
from pipeline.casework.bodies import cut_body
from pipeline.casework.shell import Shell
from pipeline.checks.evidence import Check, Evidence, as_manifold
from pipeline.checks.model import Finding
from pipeline.checks.written import WrittenDrawing, read_dxf
from pipeline.geometry import frames

ID = "box-boards"
FILM = 1e-5
"""mm; a film this thin over all boards is rounding of what is written."""
SAW = 1e-3
"""mm that a drawn saw line may be off: rounding."""


def run(evidence: Evidence) -> list[Finding]:
    """Return how much boards overlap, how much they leave open, and whether the saw passes at the opening.

    Outlines and saw lines are read back from the written drawings, and put together where the boards stand.
    """
    if evidence.casework is None:
        return []
    written = {board.id: evidence.files[f"box/{board.id}.dxf"] for board in evidence.boards}
    return evidence.kept.of(check_boards, evidence.casework.shell, evidence.boards, written)


def check_boards(shell: Shell, boards: tuple[Board, ...], written: dict[str, bytes]) -> list[Finding]:
    """Return what is found of boards and the DXF of each, by its id."""
    drawings = {name: read_dxf(data) for name, data in written.items()}
    bodies = {board.id: written_body(board, drawings[board.id]) for board in boards}
    limit = FILM * sum(body.surface_area() for body in bodies.values())
    findings = [_overlap(bodies, limit), _openings(shell, bodies, limit)]
    return findings + [_saw_line(shell, board, drawings[board.id]) for board in boards if board.saw]


def written_body(board: Board, drawing: WrittenDrawing) -> manifold3d.Manifold:
    """Return a board as its written drawing has it, its rebates taken out, built mm."""
    outside = drawing.layers["OUTLINE"].polylines[0].points[:, :2]
    bevels = drawing.layers["BEVEL"].polylines
    inside = bevels[0].points[:, :2] if bevels else outside
    return as_manifold(cut_body(outside, inside, board.thickness, board.rebates, board.built_from_flat))


def _overlap(bodies: dict[str, manifold3d.Manifold], limit: float) -> Finding:
    shared = {pair: float((bodies[pair[0]] ^ bodies[pair[1]]).volume()) for pair in combinations(bodies, 2)}
    (one, other), worst = max(shared.items(), key=lambda item: item[1])
    fine = worst <= limit
    return Finding(
        id=ID, part="", status="pass" if fine else "fail", value=worst, limit=limit, unit="mm3",
        message="no two boards want the same place" if fine else
        f"{one} and {other} overlap; a fault of this program, do not cut: please report it with the scene",
    )  # fmt: skip


def _openings(shell: Shell, bodies: dict[str, manifold3d.Manifold], limit: float) -> Finding:
    """Return by how much the boards differ from the outside of the box less its stated inside."""
    make = shell.make
    width, height, _ = shell.outside
    deep = shell.depth + make.saw + make.room
    inside = manifold3d.Manifold.cube((shell.width, deep, shell.height)).translate(
        (-shell.width / 2, -make.saw - make.room, 0.0)
    )
    outside = manifold3d.Manifold.cube((width, deep + 2 * make.end_thickness, height)).translate(
        (-width / 2, -make.saw - make.lid, -make.board)
    )
    wanted = (outside - inside).transform(shell.built_from_shell[:3].tolist())
    made = manifold3d.Manifold.batch_boolean(list(bodies.values()), manifold3d.OpType.Add)
    off = float((wanted - made).volume() + (made - wanted).volume())
    fine = off <= limit
    return Finding(
        id=ID, part="", status="pass" if fine else "fail", value=off, limit=limit, unit="mm3",
        message=f"the boards close round {shell.width:g} x {shell.height:g} mm, {shell.depth:g} mm deep in the box and "
        f"{make.room:g} in the lid, with no gap" if fine else
        "the boards leave gaps, or enclose another room; a fault of this program, do not cut: please report it with "
        "the scene",
    )  # fmt: skip


def _saw_line(shell: Shell, board: Board, drawing: WrittenDrawing) -> Finding:
    """Return how far the drawn saw lines are from the rims of the box and of the lid."""
    rims = sorted([0.0, -shell.make.saw])
    lines = [line.points[:, :2] for line in drawing.layers["PLACE"].polylines[:2]]
    flat = np.array([[*line.mean(axis=0), 0.0] for line in lines])
    into_shell = frames.invert_rigid(shell.built_from_shell) @ board.built_from_flat
    off = float(np.abs(np.sort(frames.apply(into_shell, flat)[:, 1]) - rims).max())
    fine = off <= SAW
    return Finding(
        id=ID, part=board.id, status="pass" if fine else "fail", value=off, limit=SAW, unit="mm",
        message="the saw line runs where box and lid are to meet" if fine else
        f"the saw line is {off:.3f} mm off; a fault of this program, do not saw: please report it with the scene",
    )  # fmt: skip


CHECK = Check(
    id=ID,
    title="Do the boards, as they are drawn, make the box that the room was made for?",
    rationale="The room is cut to the inside of the box: a board too thick, a corner not counted or a saw a kerf off, "
    "and it no longer goes in, or the lid no longer meets the box.",
    run=run,
)
