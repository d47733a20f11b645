"""A board as a closed body."""

from __future__ import annotations

import numpy as np

from pipeline.casework.boards import Board, Rebate
from pipeline.casework.shell import Array
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.sweeping import loft, prism

PAST = 1.0
"""mm that a rebate is cut beyond the board where it is open, so that no film is left there."""
OPEN = 1e-9
"""mm; a rebate this near to the outline's end is open."""


def board_body(board: Board) -> Mesh:
    """Return a board as a closed outward mesh, built mm."""
    inner = np.array([edge.curve.start for edge in board.hidden.outline])
    return cut_body(board.corners, inner, board.thickness, board.rebates, board.built_from_flat)


def cut_body(
    outside: Array, inside: Array, thickness: float, rebates: tuple[Rebate, ...], built_from_flat: Array
) -> Mesh:
    """Return the closed outward body between two outlines, less the rebates.

    Parameters
    ----------
    outside, inside
        ``(n, 2)`` outlines on the outside (z = 0) and on the inside (z = -thickness), point by point, flat mm.
    thickness
        mm.
    rebates
        Steps in the inside.
    built_from_flat
        Rigid ``(4, 4)``.
    """
    body = body_of(loft(np.stack([inside, outside]), [-thickness, 0.0], np.eye(4)))
    ends = np.stack([outside.min(axis=0), outside.max(axis=0)])
    for rebate in rebates:
        low, high = np.array(rebate.low), np.array(rebate.high)
        low = np.where(low <= ends[0] + OPEN, ends[0] - PAST, low)
        high = np.where(high >= ends[1] - OPEN, ends[1] + PAST, high)
        x0, y0, x1, y1 = *low, *high
        ring = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
        body -= body_of(prism(ring, -thickness - PAST, rebate.depth - thickness, np.eye(4)))
    return mesh_of(body.transform(built_from_flat[:3].tolist()))
