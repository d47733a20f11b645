"""Wires from the lights to their battery: straight legs, and the holes they go through."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.room.batteries import Battery

Array = NDArray[np.float64]

WIRE = "wire"
"""What lies beyond a hole for wires: the wires, which fill it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireHole:
    """A round hole in a sheet, square to its visible face.

    Attributes
    ----------
    name, part
        Its name among the cuts, and the panel it is in.
    at
        Middle, flat mm.
    diameter
        mm.
    wires
        How many go through it.
    lights
        Of which LEDs.
    how
        How it is hidden, in words; empty where an eye of the eye box sees it.
    """

    name: str
    part: str
    at: tuple[float, float]
    diameter: float
    wires: int
    lights: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """One LED's pair of wires.

    Attributes
    ----------
    light, led
        Name of its light, and its own: a beam may have an LED at each opening that it enters by.
    points
        ``(n, 3)`` corners of the way from the LED to the battery or the back of the box, built mm; none where there is
        no way.
    through
        Name of the hole that each leg goes through, empty for none, ``(n - 1,)``.
    why
        Why there is none.
    elsewhere
        Whether that is as it should be: the LED sits outside the box.
    """

    light: str
    led: str
    points: Array
    through: tuple[str, ...] = ()
    why: str = ""
    elsewhere: bool = False

    @property
    def length(self) -> float:
        """Length of the way, mm."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum()) if len(self.points) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wiring:
    """All of a scene's wires.

    Attributes
    ----------
    runs
        One for each LED.
    holes
        In the order they are met.
    radius
        Of one pair of wires, mm.
    battery
        What it is; nothing where the wires leave the box.
    place
        ``(2, 3)`` least and greatest corner of where it lies, built mm.
    """

    runs: tuple[Run, ...]
    holes: tuple[WireHole, ...]
    radius: float
    battery: Battery | None
    place: Array | None

    @property
    def block(self) -> manifold3d.Manifold:
        """The room of the battery as a body, built mm; empty without one."""
        if self.place is None:
            return manifold3d.Manifold()
        return manifold3d.Manifold.cube((self.place[1] - self.place[0]).tolist()).translate(self.place[0].tolist())
