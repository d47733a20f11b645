"""What a figure becomes in the relief: how large it is built there, where its feet stand, and how far it is squashed.

With w and b of the relief at the figure's feet (both 1 on the apron), what is one long in the imagined room is built

    1 / w  upright and across,   b / w^2  along the hall,

so a figure as deep as it is tall, one of any stock scale, is w / b times too deep. Its own scale is 1 : (scale w).
A stock figure of 1:s that stands there is seen along the same rays as an imagined one scale w / s times its height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.elements.figure import FOOT, FigureTable, reach, standing_ground
from pipeline.elements.hall_shape import Hall
from pipeline.relief.collineation import Relief
from pipeline.room.leaning import rake_deg

STOCK_SCALES = (72, 56, 48, 35, 32, 24, 12)
"""n of 1:n that figures are sold in."""
EYES = 1.60 / 1.75
"""Height of the eyes over stature, as modellers reckon: 1.60 m of 1.75 m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A figure in the built room.

    Attributes
    ----------
    name
        Of the figure.
    stature
        Imagined, m.
    feet
        (x, y, z) built, mm.
    height, eyes
        Built, from the floor up to the crown and to the eyes, mm.
    scale
        n of 1:n there.
    slope_deg
        How steeply the built floor rises there, degrees; below zero it falls toward the back.
    wedge
        What levels a sole as long as the foot of a stock figure of just that scale, mm.
    horizon
        Height of the horizon over its feet, built mm; below zero it looks down on the floor from beneath.
    over_horizon
        How far its eyes lie over the horizon, imagined m.
    squashed
        Depth scale over that of height, b / w.
    depth, stock_depth
        Along the hall as turned: built in the relief, and of a stock figure of just that scale, mm.
    printed
        Whether its mesh is printed, "flat" as the relief asks or "deep" as a stock figure; else nothing.
    """

    name: str
    stature: float
    feet: tuple[float, float, float]
    height: float
    eyes: float
    scale: float
    slope_deg: float
    wedge: float
    horizon: float
    over_horizon: float
    squashed: float
    depth: float
    stock_depth: float
    printed: str = ""

    def reads_as(self, stock: float) -> float:
        """Return how tall a stock figure of 1:stock of the same stature seems there, m."""
        return self.stature * self.scale / stock

    @property
    def nearest(self) -> int:
        """The stock scale that reads nearest to right."""
        return min(STOCK_SCALES, key=lambda stock: abs(self.reads_as(stock) - self.stature))

    @property
    def off(self) -> float:
        """By which share of its stature a figure of the nearest stock scale reads too tall; below zero too small."""
        return self.scale / self.nearest - 1


def stand(table: FigureTable, hall: Hall, relief: Relief) -> Standing:
    """Return what a figure becomes in the relief.

    Raises
    ------
    ValueError
        If no one floor is under it; such a scene has been refused before.
    """
    ground = standing_ground(table, hall)
    if ground is None:
        raise ValueError(f"{table.name!r} stands on no floor")
    over = hall.over(ground)
    x, y = (hall.millimetres(value) for value in table.at)
    tall, along = hall.millimetres(table.height), hall.millimetres(reach(table)[1])
    behind = y > hall.apron
    w = 1 + relief.a * (y - relief.apron) if behind else 1.0
    slope = rake_deg(relief, over) if behind else 0.0
    feet, near, far = relief.build_points([[x, y, over.floor], [x, y - along, over.floor], [x, y + along, over.floor]])
    return Standing(
        name=table.name,
        stature=table.height,
        feet=(float(feet[0]), float(feet[1]), float(feet[2])),
        height=tall / w,
        eyes=EYES * tall / w,
        scale=hall.scale * w,
        slope_deg=slope,
        wedge=FOOT * tall / w * math.tan(math.radians(abs(slope))),
        horizon=(relief.eye[2] - over.floor) / w,
        over_horizon=hall.metres(over.floor + EYES * tall - relief.eye[2]),
        squashed=relief.b / w if behind else 1.0,
        depth=float(far[1] - near[1]),
        stock_depth=2 * along / w,
        printed="" if table.mesh is None else "deep" if table.flatten is False else "flat",
    )


def stock_depths(hall: Hall, relief: Relief, most_off: float) -> dict[int, tuple[float, float]]:
    """Return from which to which imagined y, m, a figure of each stock scale reads right but for a share ``most_off``.

    Those that nowhere in the hall do are left out. On the apron the scale is the opening's.
    """
    depths = {}
    for stock in STOCK_SCALES:
        least, most = ((stock * share / hall.scale - 1) for share in (1 - most_off, 1 + most_off))
        if relief.a == 0:
            near, far = (hall.front, hall.depth) if least <= 0 <= most else (1.0, 0.0)
        else:
            near, far = (relief.apron + over / relief.a for over in (least, most))
            near = hall.front if near <= relief.apron else near
            far = min(far, hall.depth) if most >= 0 else 0.0
        if near < far:
            depths[stock] = (hall.metres(near), hall.metres(far))
    return depths
