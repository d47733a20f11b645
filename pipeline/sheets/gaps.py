"""What is left between a box that is not square and what stands in it, corner by corner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.parts.model import Panel
from pipeline.room.inside import EDGES, Inside

Array = NDArray[np.float64]

TOGETHER = 1e-6
"""mm; points as far out as one another are one corner."""

CORNERS = ("lower left", "lower right", "upper right", "upper left")
OUTWARD = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
"""(x, z) toward each corner of the border."""

WORDS = {"left-wall": "left side", "right-wall": "right side", "ceiling": "top"}
"""The box's walls that a gap is left to; its bottom is stood on."""

WHERE = {"opening": "in the opening", "frame": "behind the front frame", "back": "at the back"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Between one wall of the box and the corner of what stands there.

    Attributes
    ----------
    at
        ``opening``, ``frame`` right behind the front frame, or ``back`` where the back wall stands.
    part
        The front frame, the hall's sheets in its place, or the back wall.
    corner, side
        Words for the corner, and for the box's wall.
    size
        mm, square to the wall.
    """

    at: str
    part: str
    corner: str
    side: str
    size: float


def box_gaps(panels: tuple[Panel, ...], inside: Inside) -> tuple[Gap, ...]:
    """Return the gaps of a measured box at the opening and at the back wall; none where nothing was measured."""
    if not inside.measured:
        return ()
    bodies = {panel.id: panel.body.vertices for panel in panels}
    frame = bodies.get("front-frame")
    sheets = [bodies[name] for name in ("floor", "left-wall", "right-wall", "ceiling") if name in bodies]
    gaps = [] if frame is None else _around(frame, "opening", "front frame", inside)
    walls = np.vstack([np.zeros((0, 3)), *sheets])  # the hall narrows, so what is farthest out is at the opening
    gaps += _around(walls, "opening" if frame is None else "frame", "sheets", inside)
    if "back-wall" in bodies:
        gaps += _around(bodies["back-wall"], "back", "back wall", inside)
    return tuple(gaps)


def _around(points: Array, at: str, part: str, inside: Inside) -> list[Gap]:
    """Return the gaps of the points farthest out at each corner, to the two walls that meet there."""
    if len(points) == 0:
        return []
    gaps = []
    for index, (name, way) in enumerate(zip(CORNERS, OUTWARD, strict=True)):
        reach = points[:, [0, 2]] @ way
        corner = points[reach >= reach.max() - TOGETHER]
        for host, ends in EDGES.items():
            if index in ends and host in WORDS:
                planes = inside.walls[host]
                size = float(max((corner @ plane[:3] + plane[3]).min() for plane in planes))
                gaps.append(Gap(at=at, part=part, corner=name, side=WORDS[host], size=size))
    return gaps
