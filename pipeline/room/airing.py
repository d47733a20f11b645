"""How hazy each depth of a room is: its imagined depth tells the haze, its built depth where to paint it."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.elements.hall_shape import Hall
from pipeline.relief.collineation import Relief
from pipeline.scene.air import AirTable
from pipeline.sight import air


@dataclass(frozen=True, slots=True, kw_only=True)
class HazeStep:
    """One depth of the room.

    Attributes
    ----------
    imagined
        From the opening, m.
    built
        From the opening, mm.
    contrast
        C / C0; what it lacks of 1 is the share of haze.
    """

    imagined: float
    built: float
    contrast: float

    @property
    def share(self) -> float:
        """How far to lighten toward the haze's colour, 0 to 1."""
        return 1 - self.contrast


@dataclass(frozen=True, slots=True, kw_only=True)
class Haze:
    """The haze of a room.

    Attributes
    ----------
    sigma
        Extinction, 1/m.
    before
        Air before the opening that counts, m.
    steps
        Equal steps of imagined depth, from the opening to the back wall.
    bands
        The same for every millimetre of built depth, each at its middle.
    """

    sigma: float
    before: float
    steps: tuple[HazeStep, ...]
    bands: tuple[HazeStep, ...]


def haze_of(table: AirTable, hall: Hall, relief: Relief) -> Haze:
    """Return the haze of a room along the eye's axis."""
    sigma = air.extinction(table.visibility, table.threshold)
    before = hall.metres(-relief.eye[1]) if table.start == "eye" else 0.0

    def step(imagined: float, built: float) -> HazeStep:
        metres = hall.metres(imagined)
        return HazeStep(imagined=metres, built=built, contrast=air.contrast(sigma, before + metres))

    depths = [hall.depth * k / table.steps for k in range(table.steps + 1)]
    middles = [k + 0.5 for k in range(int(relief.built_depth))]
    return Haze(
        sigma=sigma,
        before=before,
        steps=tuple(step(depth, relief.built_y(depth)) for depth in depths),
        bands=tuple(step(relief.imagined_depth(middle), middle) for middle in middles),
    )
