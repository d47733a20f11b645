"""Lights: lamps, which are points of the imagined room or of what lies behind its walls, and beams of sun or moon."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from pipeline.elements.hall_shape import ROUNDING, Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.units import Length, Metres, Name, Table

Array = NDArray[np.float64]

Spot = Annotated[tuple[Metres, Metres, Metres], Field(strict=False)]
Direction = Annotated[
    tuple[
        Annotated[float, Field(ge=-1e6, le=1e6)],
        Annotated[float, Field(ge=-1e6, le=1e6)],
        Annotated[float, Field(ge=-1e6, le=1e6)],
    ],
    Field(strict=False),
]
Volts = Annotated[float, Field(gt=0, le=60)]
"""Low voltage only: above 60 V direct current is for those licensed to work with it."""
Amperes = Annotated[float, Field(gt=0, le=5)]
Size = Annotated[float, Length("mm", 0.5, most=50.0)]


class LightTable(Table):
    """One of `[[lights]]`."""

    name: Name = Field(description="What you call it; its patches and shadows are marked by that name.")
    kind: Literal["lamp", "beam"] = Field(
        description="lamp: a point in the room or behind one of its openings. beam: parallel light of sun or moon."
    )
    at: Spot | None = Field(
        default=None,
        description="Of a lamp, [x, y, height], m: x from the hall's middle (right positive), y from the opening,"
        " height above the front floor. Beside or behind the hall it shines in through openings.",
    )
    direction: Direction | None = Field(
        default=None,
        description="Of a beam, [x, y, z]: the way its light travels, right, into the box and up; of any length.",
    )
    size: Size = Field(default=3.0, description="Diameter of the real LED, mm.")
    supply: Volts | None = Field(default=None, description="Voltage of the battery or supply, V.")
    forward: Volts | None = Field(default=None, description="Forward voltage of the LED, V, from its data sheet.")
    current: Amperes | None = Field(default=None, description="Current through the LED, A: 0.02 is 20 mA.")

    def way(self) -> Array:
        """Return the unit vector ``(3,)`` along which a beam travels."""
        vector = np.array(self.direction or (0.0, 0.0, 0.0))
        vector = vector / np.abs(vector).max()  # the squares of very small numbers are nothing
        out: Array = vector / np.linalg.norm(vector)
        return out

    def spot(self, hall: Hall) -> Array:
        """Return the place ``(3,)`` of a lamp, imagined mm."""
        x, y, height = (hall.millimetres(value) for value in self.at or (0.0, 0.0, 0.0))
        return np.array([x, y, hall.floor + height])


def imagine(table: LightTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return what is wrong with a light's own keys; where its light falls is worked out once all else stands."""
    return Imagined(problems=(*_kind_problems(table, path), *_place_problems(table, hall, path), *_volts(table, path)))


def _kind_problems(table: LightTable, path: KeyPath) -> list[Problem]:
    wanted, other = ("at", "direction") if table.kind == "lamp" else ("direction", "at")
    problems = []
    if getattr(table, wanted) is None:
        given = {"at": "at = [x, y, height] (m)", "direction": "direction = [x, y, z]"}[wanted]
        problems.append(
            Problem(
                path=(*path, "kind"),
                found=f"{table.name!r} is a {table.kind} without {wanted}",
                allowed=wanted,
                remedy=f"add {given}",
            )
        )
    if getattr(table, other) is not None:
        is_of = "a beam's, whose light comes from far away" if other == "direction" else "a lamp's"
        problems.append(
            Problem(
                path=(*path, other),
                found=f"{table.name!r} is a {table.kind}, and {other} is {is_of}",
                allowed=wanted,
                remedy=f"take {other} out, or change kind",
            )
        )
    if table.kind == "beam" and table.direction is not None and not any(table.direction):
        problems.append(
            Problem(
                path=(*path, "direction"),
                found="[0, 0, 0] leads nowhere",
                allowed="the way the light travels, as in [0.5, -0.6, -0.6]: to the right, toward the viewer, and down",
                remedy="make at least one of the three other than 0",
            )
        )
    return problems


def _place_problems(table: LightTable, hall: Hall, path: KeyPath) -> list[Problem]:
    if table.kind != "lamp" or table.at is None:
        return []
    x, y, height = table.at
    if y < -hall.metres(ROUNDING):
        return [
            Problem(
                path=(*path, "at"),
                found=f"{table.name!r} hangs {-y:.4g} m before the opening, on the viewer's side",
                allowed="y of 0 or more, from the opening into the hall",
                remedy="move it in; behind a wall it may shine through an opening",
            )
        ]
    lowest = min((ground.level for ground in hall.grounds), default=0.0)
    if hall.millimetres(height) <= lowest + ROUNDING:
        return [
            Problem(
                path=(*path, "at"),
                found=f"{table.name!r} lies {'on' if height == hall.metres(lowest) else 'under'} the floor",
                allowed=f"a height above {hall.metres(lowest) + 0.0:.4g} m",
                remedy="raise it: the third number of at",
            )
        ]
    inside = abs(hall.millimetres(x)) < hall.width / 2 and hall.millimetres(y) < hall.depth
    if inside and hall.millimetres(height) >= hall.height - ROUNDING:
        what = "ceiling" if hall.springing is None else "vault's crown"
        return [
            Problem(
                path=(*path, "at"),
                found=f"{table.name!r} hangs {height:g} m up, the {what} is at {hall.metres(hall.height):.4g} m",
                allowed=f"a height below {hall.metres(hall.height):.4g} m",
                remedy="lower it: the third number of at",
            )
        ]
    return []


def _volts(table: LightTable, path: KeyPath) -> list[Problem]:
    given = [key for key in ("supply", "forward", "current") if getattr(table, key) is not None]
    missing = [key for key in ("supply", "forward", "current") if getattr(table, key) is None]
    if given and missing:
        return [
            Problem(
                path=(*path, given[0]),
                found=f"{table.name!r} has {' and '.join(given)} without {' and '.join(missing)}",
                allowed="all three of supply, forward and current, or none of them",
                remedy=f"add {' and '.join(missing)}, from the LED's data sheet and the battery",
            )
        ]
    if table.supply is not None and table.forward is not None and table.forward >= table.supply:
        return [
            Problem(
                path=(*path, "supply"),
                found=f"{table.supply:g} V do not light an LED that needs {table.forward:g} V",
                allowed=f"a supply above {table.forward:g} V",
                remedy="take more cells, or an LED of lower forward voltage",
            )
        ]
    return []
