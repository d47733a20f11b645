"""What can be dragged: the numbers that make the relief.

A scene gives two of eye distance, apparent depth and back scale, and the third is solved; so only those that stand in
the scene can be dragged, and what is solved follows.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.room.measure import BareRoom
from pipeline.scene.model import Scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """One number of the scene file.

    Attributes
    ----------
    keys
        Its table and its own name.
    step
        What one press of an arrow key changes; values are rounded to it.
    """

    keys: tuple[str, str]
    label: str
    unit: str
    step: float

    @property
    def key(self) -> str:
        """As ``--set`` takes it."""
        return ".".join(self.keys)

    def rounded(self, value: float) -> float:
        """Return the nearest value on the knob's steps, free of binary tails."""
        return round(round(value / self.step) * self.step, 4) + 0.0


KNOBS = (
    Knob(keys=("eye", "distance"), label="Eye before the opening", unit="mm", step=1.0),
    Knob(keys=("eye", "height"), label="Eye above the floor of the box", unit="mm", step=0.5),
    Knob(keys=("eye", "right"), label="Eye right of the middle", unit="mm", step=0.5),
    Knob(keys=("space", "depth"), label="Apparent depth", unit="m", step=0.05),
    Knob(keys=("space", "scale"), label="Scale at the opening, one to", unit="", step=0.5),
)

BY_KEY = {knob.key: knob for knob in KNOBS}

Values = tuple[tuple[str, float], ...]
"""Value by key, in the order of the knobs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """Where a knob stands and how far it goes.

    Attributes
    ----------
    given
        Whether the scene gives the number; otherwise it is solved from others and cannot be dragged.
    """

    key: str
    value: float
    low: float
    high: float
    given: bool


def values_of(scene: Scene) -> Values:
    """Return the numbers a scene gives."""
    found = {knob.key: getattr(getattr(scene, knob.keys[0]), knob.keys[1]) for knob in KNOBS}
    return tuple((key, float(value)) for key, value in found.items() if value is not None)


def settings(moved: Values) -> tuple[tuple[str, str], ...]:
    """Return values as the settings of a build."""
    return tuple((key, f"{value:g}" if abs(value) < 1e5 else repr(value)) for key, value in moved)


def turned(scene: Scene, bare: BareRoom) -> tuple[Turned, ...]:
    """Return how all knobs stand for a scene, and how far each goes before the scene would be refused."""
    hall, relief = bare.hall, bare.relief
    metres = hall.scale / 1000
    given = dict(values_of(scene))
    stands = {
        "eye.distance": (-relief.eye[1], 0.3 * -relief.eye[1], 3 * -relief.eye[1]),
        "eye.height": (relief.eye[2], hall.floor + 1, hall.floor + hall.height - 1),
        "eye.right": (relief.eye[0], 1 - hall.width / 2, hall.width / 2 - 1),
        "space.depth": (
            relief.apparent_depth * metres,
            1.02 * relief.built_depth * metres,
            max(3 * relief.apparent_depth, 6 * relief.built_depth) * metres,
        ),
        "space.scale": (hall.scale, hall.scale / 2, hall.scale * 2),
    }
    return tuple(
        Turned(
            key=key,
            value=given.get(key, value),
            low=BY_KEY[key].rounded(low),
            high=BY_KEY[key].rounded(high),
            given=key in given,
        )
        for key, (value, low, high) in stands.items()
    )
