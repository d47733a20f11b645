"""Where plan and section lie on paper: which scale, what is left out, how much room dimensions need.

Terms
-----
along
    Depth y, to the right on paper; the eye stands at the left.
up
    The other way on paper: in the section the height z, in the plan the viewer's left (-x), so that the plan is seen
    from above.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.geometry.meshes import Mesh
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]
Spot = tuple[float, float]
Places = tuple[Spot, ...]

SCALES = ((2.0, "2:1"), (1.0, "1:1"), (0.5, "1:2"), (0.2, "1:5"), (0.1, "1:10"), (0.05, "1:20"), (0.02, "1:50"),
          (0.01, "1:100"), (0.001, "1:1000"))  # fmt: skip
"""Of technical drawings (ISO 5455)."""
PAPER = (400.0, 277.0)
"""mm: A3 across (ISO 216: 420 x 297) less a border of 10."""
LEAST_BOX = 25.0
"""mm of paper under which the box's depth would not read; lengths are broken then."""
LEFT, RIGHT, TOP, BOTTOM = 26.0, 16.0, 30.0, 62.0
"""mm of paper around the drawn room, for dimensions and title."""
ROW = 8.5
"""mm between dimension lines."""
STUB = 50.0
"""mm of paper kept at either end of a broken length."""
BEHIND = 60.0
"""mm of paper kept behind the box where the imagined room is broken off."""
POINT_LABEL = 30.0
"""mm of paper for the words beside the vanishing point."""
LEAST_WIDTH = 270.0
"""mm of paper the title block needs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Inside of the real box, mm."""

    width: float
    height: float
    depth: float
    back_gap: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """What is drawn.

    Attributes
    ----------
    title
        Of the scene.
    box, relief, hall
        Their figures.
    panels, prints
        Closed bodies, built mm.
    plan, section
        Outline of a box that is not square in either drawing, (along, up) mm, from the opening round the back; else
        nothing.
    """

    title: str
    box: Box
    relief: Relief
    hall: Hall
    panels: tuple[Mesh, ...]
    prints: tuple[Mesh, ...]
    plan: Places = ()
    section: Places = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One of the two drawings: (low, high) of box and hall, and the eye, all in ``up``, mm; ``most`` adds to a size."""

    kind: Literal["plan", "section"]
    heading: str
    box: tuple[float, float]
    hall: tuple[float, float]
    eye: float
    across: str
    outline: Places
    most: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where things lie on paper.

    ``near`` mm before the opening and ``near`` behind the eye are shown, ``missing`` between them left out; ``end``
    is the last depth shown.
    """

    scale: float
    name: str
    origin: Spot
    size: Spot
    near: float
    missing: float
    end: float

    def spot(self, along: float, up: float) -> Spot:
        """Return the paper point of a place."""
        short = self.missing if along < -self.near - self.missing / 2 else 0.0
        return self.origin[0] + self.scale * (along + short), self.origin[1] - self.scale * up

    def loops(self, loops: list[Array]) -> list[Array]:
        """Return loops ``(k, 2)`` (along, up), all behind the opening, on paper."""
        return [np.array(self.origin) + self.scale * loop * [1.0, -1.0] for loop in loops]


def lay_out(subject: Subject, view: View) -> Layout:
    """Return the largest standard scale at which a drawing fits, breaking lengths where the box would not read."""
    distance = -subject.relief.eye[1]
    end = max(subject.hall.depth, subject.box.depth)
    beyond = max(end, subject.relief.vanishing_depth or 0.0)
    low, high = min(view.box[0], view.eye), max(view.box[1], view.eye)
    room = (PAPER[0] - LEFT - RIGHT, PAPER[1] - TOP - BOTTOM)

    def largest(long: float) -> tuple[float, str]:
        return next((s for s in SCALES if long * s[0] <= room[0] and (high - low) * s[0] <= room[1]), SCALES[-1])

    scale, name = largest(distance + end)
    if largest(distance + beyond + POINT_LABEL / scale)[0] == scale:
        end = beyond
    missing = 0.0
    if scale * subject.box.depth < LEAST_BOX:
        scale, name = next(
            s for s in SCALES
            if (subject.box.depth * s[0] + 2 * STUB + BEHIND <= room[0] and (high - low) * s[0] <= room[1])
            or s is SCALES[-1]
        )  # fmt: skip
        end = min(end, subject.box.depth + max(BEHIND / scale, (room[0] - 2 * STUB) / scale - subject.box.depth))
        missing = max(0.0, distance - (room[0] / scale - end))
    wide = LEFT + RIGHT + scale * (distance - missing + end)
    if end > subject.hall.depth and not missing:
        wide += POINT_LABEL
    return Layout(
        scale=scale,
        name=name,
        origin=(LEFT + scale * (distance - missing), TOP + scale * high),
        size=(max(wide, LEAST_WIDTH), TOP + BOTTOM + scale * (high - low)),
        near=(distance - missing) / 2,
        missing=missing,
        end=end,
    )
