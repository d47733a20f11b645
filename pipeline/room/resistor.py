"""The series resistor of a light's LED."""

from __future__ import annotations

from pipeline.elements.light import LightTable


def resistor(light: LightTable) -> float | None:
    """Return the resistance in series with a light's LED, ohm, or nothing where its wiring is not told."""
    return None
