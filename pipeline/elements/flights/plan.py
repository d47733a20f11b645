"""The measures of one flight of steps.

Terms
-----
foot, head
    The flight's lower and upper end. Going up, the foot is the nearer one; going down, the head is.
step k
    The k-th riser from the foot, and the tread on top of it. The last riser has the upper floor on top.
head face
    The last riser with all that stands beside it in its plane: the face that carries the upper floor's edge.
flank
    The lower floor beside a flight that is narrower than the hall.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.elements.hall_shape import Ground

Side = Literal["across", "left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One flight in imagined mm; x from the left wall, y from the opening, heights over the front floor.

    Attributes
    ----------
    id
        Part id of the flight, which its parts' ids start with.
    side
        The wall it stands against, or both.
    left, right
        Its sides, from the left wall.
    hall_width
        Of the hall.
    near, far
        Where it begins and ends along the hall.
    count
        Number of risers.
    rise, going
        Of one step, both above zero.
    rises
        Whether it leads up.
    printed
        Whether its treads are one body that stands before the head face.
    before, behind
        The floors it leads from and to.
    """

    id: str
    side: Side
    left: float
    right: float
    hall_width: float
    near: float
    far: float
    count: int
    rise: float
    going: float
    rises: bool
    printed: bool
    before: Ground
    behind: Ground

    @property
    def low(self) -> Ground:
        """The floor at the foot."""
        return self.before if self.rises else self.behind

    @property
    def high(self) -> Ground:
        """The floor at the head."""
        return self.behind if self.rises else self.before

    @property
    def flanked(self) -> bool:
        """Whether the lower floor goes on beside it."""
        return self.side != "across"

    @property
    def panelled(self) -> bool:
        """Whether it has treads of sheet."""
        return not self.printed and self.count > 1

    @property
    def head(self) -> float:
        """Imagined y of the head face."""
        return self.riser_at(self.count)

    def riser_at(self, step: int) -> float:
        """Return the imagined y of a riser."""
        return self.near + (step - 1) * self.going if self.rises else self.far - (step - 1) * self.going

    def top(self, step: int) -> float:
        """Return the height of a tread over the front floor; of step 0, the lower floor's."""
        return self.low.level + step * self.rise

    @property
    def head_part(self) -> str:
        """Part id of the head face."""
        return f"{self.id}-retaining-wall" if self.flanked or self.printed else f"{self.id}-riser-{self.count}"

    @property
    def cheek_part(self) -> str:
        """Part id of the face at its free side."""
        return f"{self.id}-cheek"

    def riser_part(self, step: int) -> str:
        """Return the part id of a riser."""
        return self.head_part if step == self.count else f"{self.id}-riser-{step}"

    def top_part(self, step: int) -> str:
        """Return the part id of what lies on top of a riser; of step 0, of the lower floor."""
        if step == 0:
            return self.low.part
        return self.high.part if step == self.count else f"{self.id}-tread-{step}"

    def side_part(self, wall: Literal["left", "right"]) -> str:
        """Return the part id of what stands at the left or right side of its treads."""
        return f"{wall}-wall" if self.side in ("across", wall) else self.cheek_part

    def beside(self, wall: Literal["left", "right"]) -> bool:
        """Whether its treads of sheet meet a wall."""
        return self.panelled and self.side in ("across", wall)
