"""The measures of a box that is glued shut and then sawn apart.

Terms
-----
shell
    The box glued shut: four sides (bottom, top, left, right) round the depth, a back board and a lid board.
saw line
    What the saw takes out of the shell: the slab of its kerf in front of the opening.
box, lid
    The two halves the saw leaves.
rim
    Where a half was sawn: the box's lies in the opening. Closed, the lid's rim lies on it.

Frames: ``shell`` is the built frame of the half "box" (origin in the middle of the inside bottom edge of the opening, x
right, y into the box, z up), the lid not yet moved by the kerf.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.scene.box import Box
from pipeline.scene.casing import BoxMake

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """A box to be made.

    Attributes
    ----------
    width, height, depth
        Inside measures of the half "box", mm.
    make
        How it is made.
    part
        The half that the scene is in.
    """

    width: float
    height: float
    depth: float
    make: BoxMake
    part: str

    @property
    def front(self) -> float:
        """Where the sides begin, shell y, mm."""
        return -self.make.saw - self.make.sides_of(self.make.room)

    @property
    def back(self) -> float:
        """Where the sides end, shell y, mm."""
        return self.make.sides_of(self.depth)

    @property
    def outside(self) -> tuple[float, float, float]:
        """Outside width and height, and depth once sawn and closed, mm."""
        twice = 2 * self.make.board
        return self.width + twice, self.height + twice, self.depth + self.make.room + 2 * self.make.end_thickness

    @property
    def sides_deep(self) -> float:
        """How deep the four sides are cut, mm: both halves and the saw's kerf."""
        return self.back - self.front

    @property
    def saw_from_edge(self) -> float:
        """From the back edge of the sides to the box's rim, mm."""
        return self.back

    @property
    def saw_from_outside(self) -> float:
        """From the outside of the back board to the box's rim, mm."""
        return self.depth + self.make.end_thickness

    @property
    def built_from_shell(self) -> Array:
        """Rigid ``(4, 4)`` into the built frame of the half that the scene is in.

        The scene in the lid looks the other way: swung open by half a turn it stands beside the box, or over or under
        it, and its up is up then.
        """
        matrix = np.eye(4)
        if self.part == "lid":
            if self.make.hinge in ("left", "right"):
                matrix[0, 0] = -1
            else:
                matrix[2, 2], matrix[2, 3] = -1, self.height
            matrix[1, 1], matrix[1, 3] = -1, -self.make.saw
        return matrix


def shell_of(box: Box) -> Shell | None:
    """Return the shell of a box that is to be made, or nothing."""
    if box.make is None:
        return None
    return Shell(width=box.width, height=box.height, depth=box.depth, make=box.make, part=box.part)
