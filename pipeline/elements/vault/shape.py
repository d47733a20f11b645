"""The shape of a vault: bays, profiles and what stands against them.

Terms
-----
bay
    One of n equal lengths of the hall.
bay line
    A plane y = const between two bays, or at an end.
barrel
    The tunnel along the hall, ``z = springing + rise p(2 x / width)``.
cross barrel
    The tunnel across one bay, ``z = springing + rise p(2 (y - yc) / length)``, the same profile stretched.
groin
    Where the two meet: over a diagonal of the bay, since both have one profile.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.vault.table import Form, Profile, VaultTable
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.heads import check_rise, head_path, pointed_radius, rise_limits, segmental_radius

Array = NDArray[np.float64]

LEAST_RIB = 0.01
"""mm at the opening's scale: a tenth of the thinnest layer of a printer, ten times what solids are simplified by."""
TOUCH = 1e-6
"""mm; lengths that differ by less are the same number but for rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VaultShape:
    """A vault in imagined mm.

    Attributes
    ----------
    form, profile
        As in the table.
    width
        Of the hall, which the barrel spans.
    springing
        z of the springing, the floor's level included.
    rise
        From springing to crown.
    lines
        y of the ``bays + 1`` bay lines, from the opening (0) to the back wall.
    """

    form: Form
    profile: Profile
    width: float
    springing: float
    rise: float
    lines: tuple[float, ...]

    @property
    def crown(self) -> float:
        """Return z of the crown."""
        return self.springing + self.rise

    @property
    def last(self) -> int:
        """Return the index of the bay line at the back wall."""
        return len(self.lines) - 1

    @property
    def length(self) -> float:
        """Return the length of a bay."""
        return self.lines[1] - self.lines[0]

    @property
    def bays(self) -> tuple[tuple[float, float], ...]:
        """Return (near, far) y of every bay."""
        return tuple(pairwise(self.lines))

    def share(self, u: ArrayLike) -> Array:
        """Return p(u), the height over the springing as a share of the rise, for |u| <= 1."""
        across = np.abs(np.asarray(u, dtype=np.float64))
        half = self.width / 2
        if self.profile == "round":
            ellipse: Array = np.sqrt(np.maximum(0.0, 1 - across**2))
            return ellipse
        if self.profile == "pointed":
            radius = pointed_radius(self.width, self.rise)
            over = np.sqrt(np.maximum(0.0, radius**2 - (across * half + radius - half) ** 2))
        else:
            radius = segmental_radius(self.width, self.rise)
            over = np.sqrt(np.maximum(0.0, radius**2 - (across * half) ** 2)) - (radius - self.rise)
        out: Array = over / self.rise
        return out

    @property
    def barrel(self) -> Path:
        """Return the barrel's section (x, z), from the right springing over the crown to the left one, exact."""
        raised = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, self.springing], [0.0, 0.0, 1.0]])
        return curves.transform_path(head_path(self.profile, self.width, self.rise), raised)


def shape_of(table: VaultTable, hall: Hall) -> VaultShape:
    """Return the shape of a vault over a hall; the table must have no problems."""
    count = table.bays
    return VaultShape(
        form=table.form,
        profile=table.profile,
        width=hall.width,
        springing=hall.floor + hall.millimetres(table.springing),
        rise=hall.millimetres(table.rise),
        lines=tuple(hall.depth * k / count for k in range(count + 1)),
    )


def lines_left_out(shape: VaultShape, half: float, hall: Hall) -> frozenset[int]:
    """Return the bay lines at either end of the hall whose half rib, ``half`` imagined mm wide, is too thin."""
    ends = zip((0, shape.last), hall.least_ends, strict=True)
    return frozenset(line for line, least in ends if half < least)


def find_problems(table: VaultTable, hall: Hall, path: KeyPath = ("vault",)) -> list[Problem]:
    """Return what keeps a vault from standing over a hall of this width and depth."""
    problems = []
    rise = hall.millimetres(table.rise)
    try:
        check_rise(table.profile, hall.width, rise)
    except ValueError as error:
        least, most = (hall.metres(limit) for limit in rise_limits(table.profile, hall.width))
        allowed = f"at least {least:.4g} m" if least > 0 else f"at most {most:.4g} m"
        problems.append(
            Problem(
                path=(*path, "rise"),
                found=f"{error}; {table.rise:g} m over the hall's {hall.metres(hall.width):.4g} m",
                allowed=allowed,
                remedy="another rise, or another profile",
            )
        )
    bay = hall.metres(hall.depth) / table.bays
    narrow = min(bay, hall.metres(hall.width))
    if table.rib_width >= narrow:
        problems.append(
            Problem(
                path=(*path, "rib_width"),
                found=f"ribs {table.rib_width:g} m wide over bays {bay:.4g} m long and "
                f"{hall.metres(hall.width):.4g} m wide",
                allowed=f"less than {narrow:.4g} m",
                remedy="narrower ribs or fewer bays",
            )
        )
    least = hall.metres(LEAST_RIB)
    if table.rib_width > 0 and min(table.rib_width, table.rib_depth or math.inf) < least:
        thin = "rib_width" if table.rib_width < least else "rib_depth"
        problems.append(
            Problem(
                path=(*path, thin),
                found=f"ribs {table.rib_width:g} m wide and {table.rib_depth:g} m deep",
                allowed=f"at least {least:.2g} m either way",
                remedy="make them larger, or rib_width = 0 for a vault without ribs",
            )
        )
    if table.rib_width > 0 and not 0 < table.rib_depth < table.rise:
        problems.append(
            Problem(
                path=(*path, "rib_depth"),
                found=f"ribs {table.rib_depth:g} m deep below webs that rise {table.rise:g} m",
                allowed=f"above 0 and less than {table.rise:g} m",
                remedy="give rib_depth, or rib_width = 0 for a vault without ribs",
            )
        )
    return problems
