"""What is marked on the outside of a board before the box is glued."""

from __future__ import annotations

import numpy as np

from pipeline.casework.boards import Board
from pipeline.casework.hinging import Hinging
from pipeline.casework.shell import Array


def hinge_marks(board: Board, hinging: Hinging) -> Array:
    """Return the lines ``(n, 2, 2)`` that mark hinges on a board's outside, flat mm; none on others, or for a strip.

    A tick across the saw line at the middle of each, and a dash along each half's screws.
    """
    if board.id != hinging.board or board.saw is None or not hinging.screwed:
        return np.zeros((0, 2, 2))
    length, _ = board.size
    middle = float(board.corners[:, 0].min()) + length / 2
    apart = np.linspace(-1, 1, len(hinging.middles)) * (hinging.long / 2 - hinging.from_ends)
    below, above = board.saw[0] - hinging.screws, board.saw[1] + hinging.screws
    half = hinging.length / 2
    lines = []
    for x in middle + apart:
        lines.append([[x, below], [x, above]])
        lines += [[[x - half, y], [x + half, y]] for y in (below, above)]
    return np.array(lines)
