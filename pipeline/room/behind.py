"""How far things behind the back wall reach: they settle how deep the room can be built."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.elements.opening import OpeningTable
from pipeline.relief.collineation import Relief
from pipeline.scene.model import Scene

LINING_WALLS = 1.5
"""Thickness of a printed lining over the least wall the printer makes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """What ends ``length`` imagined mm behind the back wall: a sheet ``thick`` mm, or strips of it that stand on end.

    Strips are cut square, and they lean: ``aside`` is how far the farthest is from the eye's axis, imagined mm.
    """

    length: float
    thick: float
    aside: float = 0.0

    def thickness(self, relief: Relief) -> float:
        """Return how much of the box it takes behind its visible end, built mm."""
        if self.aside == 0.0:
            return self.thick
        if relief.vanishing_depth is None:
            return 0.0
        slope = self.aside * relief.back_scale / (relief.vanishing_depth - relief.built_depth)
        return self.thick * slope / math.hypot(1.0, slope)


def ends_behind(table: OpeningTable, scene: Scene, width: float, back: float, floor: float) -> list[Ending]:
    """Return what ends behind an opening of the back wall, whose sheet is ``back``, the floor's ``floor`` mm thick."""
    wall = scene.make.printer.min_wall
    scaled = 1000 / scene.space.scale
    if table.length is not None:
        return [Ending(length=table.length * scaled, thick=max(back, LINING_WALLS * wall))]
    reveal = (table.reveal or 0.0) * scaled
    ends = []
    for filling in (table.tracery, table.door):
        if filling is not None:
            thick = scene.materials[filling.material or next(iter(scene.materials))].thickness + (
                scene.make.fit if reveal else 0.0
            )
            inset = reveal if filling.inset is None else filling.inset * scaled
            ends += [Ending(length=inset, thick=thick), Ending(length=0.0, thick=back + thick)]
    if reveal and not ends:
        middle, low = table.at * scaled - width / 2 - scene.eye.right, floor - scene.eye.height
        edges = (middle - table.width * scaled / 2, middle + table.width * scaled / 2, low + table.sill * scaled,
                 low + (table.sill + table.height) * scaled)  # fmt: skip
        sheet = max(back, floor)
        ends = [Ending(length=reveal, thick=sheet, aside=max(map(abs, edges)))]
    return ends
