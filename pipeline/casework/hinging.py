"""Where the lid hangs, and what must keep out of its way when it swings.

Terms
-----
hinge line
    The axis: along the outside of the side that the lid hangs on, where box and lid meet.
swing
    Half a turn about it. What lies flush with the rims never meets anything; what stands out before the opening goes
    into the lid along an arc, past the inside of the lid's far side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.casework.shell import Array, Shell
from pipeline.geometry import frames
from pipeline.scene.casing import HELD

FROM_ENDS = 0.25
"""Share of a side from its ends to the middles of two hinges. A hinge a sixth as long as the side then sits its own
length in from the end, which is the joiner's rule."""
HINGE = 1 / 6
"""Length of a hinge as marked, over the side's."""
SPAN = 400.0
"""mm; longer sides want a third hinge in the middle."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hinging:
    """How the lid hangs.

    Attributes
    ----------
    board
        Id of the side it hangs on.
    line
        ``(2, 3)`` ends of the hinge line, built mm.
    middles
        ``(n, 3)`` of the hinges on it, built mm.
    from_ends
        From the side's ends to the middles of the outer hinges, mm.
    length
        Of a hinge as marked, mm.
    long
        The side it hangs on, corners and all, mm.
    screwed
        Whether the board holds screws; else the lid hangs on a strip that is glued.
    screws
        From the rims to the screws, mm.
    reach
        From the hinge line to the inside of the lid's far side, mm.
    """

    board: str
    line: Array
    middles: Array
    from_ends: float
    length: float
    long: float
    screwed: bool
    screws: float
    reach: float

    def kept_clear(self, out: float) -> float:
        """Return how far what stands ``out`` mm before the opening must stay off the far side, mm.

        Its outermost corner passes the lid's rim when it is ``reach`` from the hinge line: c = R - sqrt(R^2 - p^2).
        """
        return self.reach - math.sqrt(max(self.reach**2 - out**2, 0.0))


def hang_lid(shell: Shell) -> Hinging:
    """Return how the lid of a shell hangs."""
    make = shell.make
    width, height, _ = shell.outside
    upright = make.hinge in ("left", "right")
    long, across = (height, shell.width) if upright else (width, shell.height)
    count = 3 if long > SPAN else 2
    shares = np.linspace(FROM_ENDS, 1 - FROM_ENDS, count)
    x, low, high = shell.width / 2 + make.board, -make.board, shell.height + make.board
    line = {
        "left": [[-x, 0.0, low], [-x, 0.0, high]],
        "right": [[x, 0.0, low], [x, 0.0, high]],
        "bottom": [[-x, 0.0, low], [x, 0.0, low]],
        "top": [[-x, 0.0, high], [x, 0.0, high]],
    }[make.hinge]
    ends = frames.apply(shell.built_from_shell, line)
    return Hinging(
        board=f"box-{make.hinge}",
        line=ends,
        middles=ends[0] + shares[:, None] * (ends[1] - ends[0]),
        from_ends=FROM_ENDS * long,
        length=HINGE * long,
        long=long,
        screwed=make.board >= HELD,
        screws=make.screw_line,
        reach=make.board + across,
    )
