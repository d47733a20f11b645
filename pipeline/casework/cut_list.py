"""The cut list of a box as a table for a spreadsheet."""

from __future__ import annotations

import shapely

from pipeline.casework.boards import THROUGH, Board, Rebate
from pipeline.casework.shell import Shell

COLUMNS = ("no", "board", "count", "length along grain", "width", "thickness", "material", "ends", "rebates", "dxf")
TOLD = 0.005
"""mm; half the last digit."""
FAR, HAIR = 1e7, 1e-6
"""mm; beyond any board, and less than any tool cuts."""


def cut_list_csv(shell: Shell, boards: tuple[Board, ...]) -> bytes:
    """Return the cut list as CSV, mm, sizes over all."""
    rows = [",".join(COLUMNS)]
    for number, board in enumerate(boards, start=1):
        length, width = board.size
        steps = "; ".join(rebate_words(board))
        rows.append(
            f'{number},{board.id},1,{length:.2f},{width:.2f},{board.thickness:g},{board.material},"'
            f'{end_words(shell, board)}","{steps}",box/{board.id}.dxf'
        )
    return ("\r\n".join(rows) + "\r\n").encode()


def end_words(shell: Shell, board: Board) -> str:
    """Return how a board's ends are worked."""
    make, name = shell.make, board.id.removeprefix("box-")
    if name in ("back", "lid"):
        return "square, laid on" if make.ends == "laid on" else "square, let in"
    if make.joint == "mitre":
        return "mitred 45 deg; length is the long point's, outside"
    if make.joint == "finger":
        return "fingers as drawn"
    if name in THROUGH:
        return "square, over the other sides" if make.joint == "butt" else "square, rebated to take the other sides"
    return "square, between top and bottom" if make.joint == "butt" else "square, into the rebates"


def rebate_words(board: Board) -> list[str]:
    """Return the rebates in a board's inside: what for, how wide and deep, and how far they stop short of the ends."""
    found: dict[tuple[str, str], list[str]] = {}
    for rebate in board.rebates:
        (x0, y0), (x1, y1) = rebate.low, rebate.high
        kind, wide, more = "end", x1 - x0, ""
        if rebate.name in ("back", "lid"):
            kind, wide, short = "board", y1 - y0, stopped(board, rebate)
            more = f", stopped {short:.2f} mm short of the ends" if short > TOLD else ""
        found.setdefault((kind, f"{wide:.2f} wide, {rebate.depth:.2f} deep{more}"), []).append(rebate.name)
    return [
        f"at both ends {size}"
        if kind == "end"
        else f"for the {' and '.join(names)} board{'s' * (len(names) > 1)} {size}"
        for (kind, size), names in found.items()
    ]


def stopped(board: Board, rebate: Rebate) -> float:
    """Return how far a rebate stops short of the board's end where it lies, mm; 0 where it runs out."""
    band = shapely.box(-FAR, rebate.low[1] + HAIR, FAR, rebate.high[1] - HAIR)  # not the finger that only touches it
    outer, inner = (
        shapely.intersection(shapely.Polygon([edge.curve.start for edge in loop]), band).bounds[0]
        for loop in (board.cut.outline, board.hidden.outline)
    )
    share = rebate.depth / board.thickness  # a mitred end lies farther in the nearer the inside
    return float(rebate.low[0] - (inner + share * (outer - inner)))
