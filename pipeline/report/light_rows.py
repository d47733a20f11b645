"""What the page and the manifest say of the lights."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Evidence
from pipeline.parts.leaves import Lie, lie_of
from pipeline.parts.lighting.flat_patches import flat_patches
from pipeline.parts.lighting.model import Patch, Shadow
from pipeline.room.light_places import place_light
from pipeline.room.resistor import resistor

Array = NDArray[np.float64]

FINE = 0.005
"""mm; how far the outlines told may stray from curves."""


def light_entries(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the manifest's list of lights; places built, outlines flat, mm."""
    room, scene = evidence.room, evidence.scene
    lies = {face.id: lie_of(face, room.relief) for face in evidence.imagined.faces} if evidence.casts else {}
    entries = []
    for light, cast in zip(scene.lights, evidence.casts, strict=True):
        place = place_light(light, room.hall, room.relief, room.inside)
        entries.append(
            {
                "name": light.name,
                "kind": light.kind,
                "place": None if place.point is None else _rounded(place.point),
                "inside_box": place.inside_box,
                "resistor_ohm": resistor(light),
                "patches": [
                    {"part": patch.part, "through": list(patch.through), **outline}
                    for patch in cast.patches
                    for outline in _outlines(patch, lies)
                ],
                "shadows": [
                    {"part": shadow.part, "by": shadow.by, **outline}
                    for shadow in cast.shadows
                    for outline in _outlines(shadow, lies)
                ],
            }
        )
    return entries


def _outlines(one: Patch | Shadow, lies: dict[str, Lie]) -> list[dict[str, Any]]:
    return [
        {
            "outline": _points(piece.outline),
            **({"holes": [_points(hole) for hole in piece.holes]} if piece.holes else {}),
        }
        for piece in flat_patches(one.loops, lies[one.part], FINE)
    ]


def _points(points: Array) -> list[list[float]]:
    return [_rounded(point) for point in points]


def _rounded(values: Iterable[float]) -> list[float]:
    return [round(float(value), 6) + 0.0 for value in values]
