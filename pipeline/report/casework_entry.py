"""What the manifest says of a box that is to be made."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from pipeline.casework.boards import Board, Casework
from pipeline.casework.fingers import lay_fingers
from pipeline.casework.shell import Array, Shell

DECIMALS, MATRIX_DECIMALS = 6, 12
"""Of lengths, mm, and of matrices, as everywhere in the manifest."""


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
            "box": _mm((shell.width, shell.height, shell.depth)),
            "lid": _mm((shell.width, shell.height, make.room)),
        },
        "outside": _mm(shell.outside),
        "saw": {
            "kerf": _mm([make.saw])[0],
            "from_back_edge": _mm([shell.saw_from_edge])[0],
            "from_outside": _mm([shell.saw_from_outside])[0],
        },
        "closed_from_sawn": _matrix(_closing(shell)),
        "hinge": {
            "board": hinging.board,
            "line": [_mm(end) for end in hinging.line],
            "middles": [_mm(middle) for middle in hinging.middles],
            "screws": _mm([hinging.screws])[0],
        },
        "boards": [_board(number, board) for number, board in enumerate(casework.boards, start=1)],
        "cut_list": "box/cut-list.csv",
    }
    if make.joint == "finger":
        entry["fingers"] = dict(zip(("box", "lid"), _mm(lay_fingers(shell).widths), strict=True))
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
        "thickness": _mm([board.thickness])[0],
        "length": _mm([length])[0],
        "width": _mm([width])[0],
        "grain": "along the length",
        "files": {"dxf": f"box/{board.id}.dxf", "svg": f"box/{board.id}.svg"},
        "built_from_flat": _matrix(board.built_from_flat),
        "saw": None if board.saw is None else _mm(board.saw),
        "rebates": [
            {"name": one.name, "low": _mm(one.low), "high": _mm(one.high), "depth": _mm([one.depth])[0]}
            for one in board.rebates
        ],
    }


def _mm(values: Iterable[float]) -> list[float]:
    return [round(float(value), DECIMALS) + 0.0 for value in values]


def _matrix(matrix: Array) -> list[list[float]]:
    return [[round(float(x), MATRIX_DECIMALS) + 0.0 for x in row] for row in matrix]
