"""Where the fingers of a finger joint begin and end along the depth of the box.

The saw must not pass where two fingers meet: a hair beside the line it would leave a sliver that breaks out. So one
finger spans it, as wide as a whole finger of either half and the kerf between, and both rims end in a whole finger.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.casework.shell import Array, Shell


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fingers:
    """The fingers of every corner.

    Attributes
    ----------
    edges
        ``(n + 1,)`` falling shell y where fingers begin and end, mm, from the back to the front.
    sawn
        Number of the finger that the saw passes through, from the back. Top and bottom have it, and every second one.
    widths
        Of the fingers of the box and of the lid, mm.
    """

    edges: Array
    sawn: int
    widths: tuple[float, float]

    def of_top(self, number: int) -> bool:
        """Return whether top and bottom have this finger, rather than left and right."""
        return (number - self.sawn) % 2 == 0


def lay_fingers(shell: Shell) -> Fingers:
    """Return the fingers of a shell: at least two to each half, all alike within it but for the sawn one."""
    make = shell.make
    wanted = make.finger_width(shell.depth)
    deep = (shell.back, -shell.front - make.saw)
    box, lid = (max(2, round(side / wanted)) for side in deep)
    behind = np.linspace(deep[0], 0.0, box + 1)[:-1]
    before = np.linspace(-make.saw, shell.front, lid + 1)[1:]
    return Fingers(edges=np.concatenate([behind, before]), sawn=box - 1, widths=(deep[0] / box, deep[1] / lid))
