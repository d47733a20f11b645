"""Does every board of the box fit a sheet of its material?"""

from __future__ import annotations

import math

from pipeline.casework.boards import Board
from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.panel_stock import ROUNDING, best_fit, tightest
from pipeline.scene.materials import Material

ID = "board-stock"


def run(evidence: Evidence) -> list[Finding]:
    """Return how much each board that is laid on a sheet is larger than the sheet it fits best."""
    findings = []
    for board in evidence.boards_cut:
        if not board.material:
            continue
        table = evidence.scene.materials[board.material]
        over, best, way = best_fit(board.size, table)
        room = (best[0] - 2 * table.margin, best[1] - 2 * table.margin)
        said = f"{way[0]:.1f} x {way[1]:.1f} mm on {board.material} {room[0]:g} x {room[1]:g} mm within its margin"
        fine = over <= ROUNDING
        value, limit = tightest(way, room)
        findings.append(
            Finding(
                id=ID, part=board.id, status="pass" if fine else "fail", value=value, limit=limit, unit="mm",
                message=said if fine else f"{said}: {over:.1f} mm too large; {_remedy(board, table)}",
            )
        )  # fmt: skip
    return findings


def _remedy(board: Board, table: Material) -> str:
    """Return what would fit: strips glued side by side make a board wider, and nothing makes it longer."""
    length, width = board.size
    rooms = [(wide - 2 * table.margin, high - 2 * table.margin) for wide, high in table.sizes]
    longest = max(room[0] if table.grain else max(room) for room in rooms)
    if length <= longest + ROUNDING:
        return "use a larger sheet, or glue one up from strips along the grain"
    needed = f"use a sheet at least {math.ceil(length + 2 * table.margin - ROUNDING)} mm long"
    if not table.grain:
        return needed
    turned = any(width <= room[0] + ROUNDING and length <= room[1] + ROUNDING for room in rooms)
    free = f", or set materials.{board.material}.grain to false if its grain may run the other way" if turned else ""
    return f"{needed} along its grain{free}"


CHECK = Check(
    id=ID,
    title="Does every board of the box fit a sheet of its material?",
    rationale="A board that is larger than its sheet is left out of the sheets' drawings.",
    run=run,
)
