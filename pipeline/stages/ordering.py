"""The order in which the parts are glued in."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.meshes import join
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.parts.order import Bench, Piece, Step, order_of_work

IN_FRONT = 1e-3
"""mm; a sheet whose visible face stands this near the opening closes it."""


def pieces_of(panels: tuple[Panel, ...], bents: tuple[BentPanel, ...], prints: tuple[Print, ...]) -> tuple[Piece, ...]:
    """Return the parts as what is glued in: the pieces of a print that was cut for the bed are joined before."""
    wholes: dict[str, list[Print]] = {}
    for part in prints:
        wholes.setdefault(part.solid.id, []).append(part)
    return (
        *(_sheet(panel) for panel in panels),
        *(Piece(id=bent.id, body=bent.body, kind=1) for bent in bents),
        *(Piece(id=name, body=join([part.body for part in whole]), kind=2) for name, whole in wholes.items()),
    )


def _sheet(panel: Panel) -> Piece:
    normal = panel.leaves[-1].built_from_flat[:3, 2]
    closing = np.abs(panel.visible.vertices[:, 1]).max() < IN_FRONT
    return Piece(id=panel.id, body=panel.body, kind=3 if closing else 0, normal=normal)


def plan_work(bench: Bench, prints: tuple[Print, ...]) -> tuple[Step, ...]:
    """Return one step for each part, in the order of work; pieces of one print follow one another."""
    pieces: dict[str, list[str]] = {}
    for part in prints:
        pieces.setdefault(part.solid.id, []).append(part.id)
    return tuple(
        Step(id=name, held_off=step.held_off)
        for step in order_of_work(bench)
        for name in pieces.get(step.id, [step.id])
    )
