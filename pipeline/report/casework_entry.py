"""What the manifest says of a box that is to be made."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.casework.boards import Board, Casework
from pipeline.casework.fingers import lay_fingers
from pipeline.casework.shell import Array, Shell
from pipeline.report.rounded import rounded, rounded_all, rounded_matrix, rounded_rows


def casework_entry(casework: Casework | None) -> dict[str, Any] | None:
    """Return the box's measures, its saw line, hinge and boards, built mm; nothing where it is not made.

    ``closed_from_sawn`` moves the half that the scene is not in up to the other, once the saw has been through.
    """
    if casework is None:
        return None
    shell, hinging = casework.shell, casework.hinging
    make = shell.make
    entry: dict[str, Any] = {
        "part": shell.part,
        "joint": make.joint,
        "ends": make.ends,
        "inside": {
            "box": rounded_all((shell.width, shell.height, shell.depth)),
            "lid": rounded_all((shell.width, shell.height, make.room)),
        },
        "outside": rounded_all(shell.outside),
        "saw": {
            "kerf": rounded(make.saw),
            "from_back_edge": rounded(shell.saw_from_edge),
            "from_outside": rounded(shell.saw_from_outside),
        },
        "closed_from_sawn": rounded_matrix(_closing(shell)),
        "hinge": {
            "board": hinging.board,
            "line": rounded_rows(hinging.line),
            "middles": rounded_rows(hinging.middles),
            "screws": rounded(hinging.screws),
        },
        "boards": [_board(number, board) for number, board in enumerate(casework.boards, start=1)],
        "cut_list": "box/cut-list.csv",
    }
    if make.joint == "finger":
        entry["fingers"] = dict(zip(("box", "lid"), rounded_all(lay_fingers(shell).widths), strict=True))
    return entry


def _closing(shell: Shell) -> Array:
    """Return how the other half moves up to the scene's own, ``(4, 4)`` built: in either frame it lies before it."""
    out = np.eye(4)
    out[1, 3] = shell.make.saw
    return out


def _board(number: int, board: Board) -> dict[str, Any]:
    length, width = board.size
    return {
        "number": number,
        "id": board.id,
        "material": board.material or None,
        "thickness": rounded(board.thickness),
        "length": rounded(length),
        "width": rounded(width),
        "grain": "along the length",
        "files": {"dxf": f"box/{board.id}.dxf", "svg": f"box/{board.id}.svg"},
        "built_from_flat": rounded_matrix(board.built_from_flat),
        "saw": None if board.saw is None else rounded_all(board.saw),
        "rebates": [
            {"name": one.name, "low": rounded_all(one.low), "high": rounded_all(one.high), "depth": rounded(one.depth)}
            for one in board.rebates
        ],
    }
