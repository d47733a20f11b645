"""Vaults with ribs, and what the tests know of them by themselves."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.elements.vault import ribs
from pipeline.elements.vault.rib_bodies import Ribs, ribs_of
from pipeline.elements.vault.shape import shape_of
from pipeline.elements.vault.table import VaultTable
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

HALL = Hall(scale=48, width=170.0, height=145.0, depth=250.0, floor=3.0, apron=0.0, front=0.0)
SQUARE = Hall(scale=50, width=160.0, height=145.0, depth=320.0, floor=3.0, apron=0.0, front=0.0)
"""Two bays of 160 mm over a hall 160 mm wide: with a rise of 4 m, semicircles of 80 mm."""
RELIEF = Relief(eye=(10.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=80.0)
IDENTITY = Relief(eye=(10.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=250.0)

GROIN = {"form": "groin", "bays": 3, "springing": 3.2, "rise": 3.0, "rib_width": 0.5, "rib_depth": 0.25}
CASES: dict[str, dict[str, Any]] = {
    "plain": {},
    "boss": {"boss": 0.8},
    "ridge": {"ridge": True},
    "boss and ridge": {"boss": 0.9, "ridge": True},
    "chamfered": {"section": "chamfered", "boss": 0.7, "bays": 2},
    "roll": {"section": "roll", "bays": 1},
    "pointed": {"profile": "pointed", "rise": 4.4, "springing": 2.2, "ridge": True, "bays": 2},
    "segmental": {"profile": "segmental", "rise": 2.0, "boss": 0.8},
    "barrel": {"form": "barrel", "ridge": True},
}


def table(**keys: Any) -> VaultTable:
    return VaultTable.model_validate({**GROIN, **keys})


def imagined(hall: Hall = HALL, /, **keys: Any) -> Imagined:
    return ribs.imagine(table(**keys), hall, ("vault",))


def blocks(hall: Hall = HALL, /, **keys: Any) -> dict[str, Block]:
    said = imagined(hall, **keys)
    assert said.problems == ()
    return {block.id: block for block in said.blocks}


def shared(hall: Hall = HALL, /, **keys: Any) -> Ribs:
    return ribs_of(table(**keys), hall, shape_of(table(**keys), hall))


def vault_height(hall: Hall, points: Array, **keys: Any) -> Array:
    """Return z of a vault over plan points ``(n, 2)`` as the design defines it: the higher of barrel and cross barrel.

    Pointed: an arc over half the span a with rise h has R = h^2 / (2 a) + a / 2 and its centre at a - R; segmental:
    R = a^2 / (2 h) + h / 2, centre R below the crown (BIA Technical Note 31).
    """
    t = table(**keys)
    a, rise = hall.width / 2, t.rise * 1000 / hall.scale
    lines = np.linspace(0, hall.depth, t.bays + 1)

    def share(u: Array) -> Array:
        x = np.abs(u) * a
        if t.profile == "round":
            return np.sqrt(np.maximum(0, 1 - u**2))
        if t.profile == "pointed":
            radius = rise**2 / (2 * a) + a / 2
            return np.sqrt(np.maximum(0, radius**2 - (x - (a - radius)) ** 2)) / rise
        radius = a**2 / (2 * rise) + rise / 2
        return (np.sqrt(np.maximum(0, radius**2 - x**2)) - radius + rise) / rise

    heights = share(points[:, 0] / a)
    if t.form == "groin":
        for near, far in pairwise(lines):
            v = (points[:, 1] - (near + far) / 2) / ((far - near) / 2)
            heights = np.maximum(heights, np.where(np.abs(v) <= 1, share(np.clip(v, -1, 1)), 0))
    return hall.floor + t.springing * 1000 / hall.scale + rise * heights
