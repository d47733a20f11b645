"""What the page and the manifest say of the lights."""

from __future__ import annotations

from typing import Any

from pipeline.checks.evidence import Evidence
from pipeline.room.light_places import place_light
from pipeline.room.resistor import resistor


def light_entries(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the manifest's list of lights; places built, mm."""
    room = evidence.room
    entries = []
    for light in evidence.scene.lights:
        place = place_light(light, room.hall, room.relief, room.inside)
        entries.append(
            {
                "name": light.name,
                "kind": light.kind,
                "place": None if place.point is None else [round(value, 6) + 0.0 for value in place.point],
                "inside_box": place.inside_box,
                "resistor_ohm": resistor(light),
                "patches": [],
            }
        )
    return entries
