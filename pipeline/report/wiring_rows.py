"""What the page and the manifest say of the wiring: resistors, battery, wires, and the holes they go through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.checks.evidence import Evidence
from pipeline.elements.light import LightTable
from pipeline.geometry.curves import bounds
from pipeline.parts.model import Panel
from pipeline.parts.wires import Run, WireHole, Wiring
from pipeline.report.rounded import rounded
from pipeline.room.batteries import BUTTON_MOST, Battery, as_strong, copper, insulated, resistance
from pipeline.room.resistor import series_of
from pipeline.scene.wiring import WiringTable

MIDDLE = 0.05
"""mm; nearer than this to the middle nothing is left or right of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightWireRow:
    """A light's line: its resistor, what that is given and rated for, its current, its wires, and what they cost."""

    name: str
    resistor: str
    power: str
    current: str
    wire: str
    drop: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """A hole's line: its name, its panel, where on it, its drill, whose wires, and how it is hidden."""

    name: str
    part: str
    at: str
    drill: str
    lights: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringWords:
    """Everything the section of the page says; ``button`` tells that its battery is of button cells."""

    lead: str
    lights: tuple[LightWireRow, ...]
    holes: tuple[HoleRow, ...]
    ways: tuple[tuple[str, str], ...]
    battery: tuple[tuple[str, str], ...]
    button: bool
    picture: bytes


def wiring_words(evidence: Evidence, picture: bytes) -> WiringWords | None:
    """Return the section's content; ``picture`` is the drawing's file."""
    wiring, table = evidence.wiring, evidence.scene.wiring
    if wiring is None or table is None:
        return None
    lights = {light.name: light for light in evidence.scene.lights}
    return WiringWords(
        lead=_lead(wiring, table),
        lights=tuple(_light(lights[run.light], run, table) for run in wiring.runs),
        holes=tuple(_hole(hole, evidence.panels) for hole in wiring.holes),
        ways=tuple((run.led, _way(run, wiring)) for run in wiring.runs),
        battery=tuple(_battery(wiring, [lights[run.light] for run in wiring.runs])),
        button=wiring.battery is not None and wiring.battery.button,
        picture=picture,
    )


def _lead(wiring: Wiring, table: WiringTable) -> str:
    pair = (
        f"Wire of AWG {table.gauge}: copper {copper(table.gauge):.3f} mm thick, {insulated(table):.2f} mm with its "
        f"insulation, {1000 * resistance(table.gauge):.0f} ohm per km. "
    )
    several = (
        "All lights hang side by side on the one supply, each with a resistor of its own: LEDs on one resistor share "
        "their current unevenly. "
        if len(wiring.runs) > 1
        else ""
    )
    return (
        f"{pair}{several}Solder the resistor to the LED's longer leg, the positive one, and put a sleeve over every "
        "joint. Lead the wires before anything over them is glued in, tape them down at every bend, and light the "
        "lamps once before you close the room."
    )


def _light(light: LightTable, run: Run, table: WiringTable) -> LightWireRow:
    series = series_of(light)
    cut = run.length + 2 * table.spare
    drop = None if series is None else 2 * cut / 1000 * resistance(table.gauge) * series.current
    return LightWireRow(
        name=run.led,
        resistor="not told" if series is None else f"{ohms(series.ohm)} (from {series.exact:.4g} ohm)",
        power="" if series is None else f"{_watts(series.watts)}, rated {series.rating:g} W",
        current="" if series is None else f"{1000 * series.current:.1f} mA",
        wire=f"two of {cut:.0f} mm" if len(run.points) else "\N{EN DASH}",
        drop="" if drop is None or not len(run.points) else f"{1000 * drop:.2g} mV",
    )


def ohms(value: float) -> str:
    """Return a resistance as resistors bear it."""
    if value >= 1e6:
        return f"{value / 1e6:g} Mohm"
    return f"{value / 1e3:g} kohm" if value >= 1e3 else f"{value:g} ohm"


def _watts(value: float) -> str:
    return f"{value:.2f} W" if value >= 0.01 else f"{1000 * value:.1f} mW"


def _hole(hole: WireHole, panels: tuple[Panel, ...]) -> HoleRow:
    panel = next(panel for panel in panels if panel.id == hole.part)
    low = bounds([edge.curve for edge in panel.cut.outline])[0]
    return HoleRow(
        name=hole.name,
        part=hole.part,
        at=f"{hole.at[0] - low[0]:.1f} mm from the left, {hole.at[1] - low[1]:.1f} mm from below",
        drill=f"{hole.diameter:.1f} mm",
        lights=f"{hole.wires} wires: {', '.join(hole.lights)}",
        how=hole.how or "in sight: close it round the wires with filler in the surface's colour",
    )


def _way(run: Run, wiring: Wiring) -> str:
    if len(run.points) == 0:
        return f"{run.why[0].upper()}{run.why[1:]}."
    corners = []
    for number, point in enumerate(run.points[1:]):
        hole = run.through[number]
        corners.append(f"{f'through {hole} ' if hole else ''}to {place_words(point)}")
    end = "the battery" if wiring.battery is not None else "the back of the box, where they leave it"
    return f"{run.length:.0f} mm from the LED ({place_words(run.points[0])}) {'; '.join(corners)}: {end}."


def place_words(point: np.ndarray[Any, np.dtype[np.float64]]) -> str:
    """Return a built place ``(3,)`` as a person measures it in the box."""
    x, y, z = (float(value) for value in point)
    side = "on the middle line" if abs(x) < MIDDLE else f"{abs(x):.0f} mm {'right' if x > 0 else 'left'}"
    return f"{side}, {y:.0f} mm deep, {z:.0f} mm up"


def total_current(lights: list[LightTable]) -> float:
    """Return what LEDs of these lights take with their resistors, A; a light of several LEDs is told as often."""
    return sum(series.current for light in lights if (series := series_of(light)) is not None)


def _battery(wiring: Wiring, lights: list[LightTable]) -> list[tuple[str, str]]:
    current = total_current(lights)
    told = [light for light in lights if series_of(light) is None]
    out = []
    if wiring.battery is None:
        out.append(("Supply", "The wires leave through the back of the box: drill it there, and fuse the supply."))
    elif wiring.place is not None:
        one = wiring.battery
        long, wide, high = one.size
        out.append(
            (
                "Battery",
                f"{one.cells} \N{MULTIPLICATION SIGN} {one.name}, {one.volts:g} V, {long:g} \N{MULTIPLICATION SIGN} "
                f"{wide:g} \N{MULTIPLICATION SIGN} {high:g} mm with its holder: {_between(wiring.place)}. Leave a way "
                "to change it, and a switch.",
            )
        )
        if current > 0:
            out.append(("How long it lasts", battery_lasts(one, 1000 * current)))
    if told:
        names = ", ".join(dict.fromkeys(light.name for light in told))
        out.append(("Not told", f"Of {names} supply, forward and current are missing: no resistor, no hours."))
    if current > 0:
        out.append(
            (
                "Resistors",
                "The next value up of the E24 series (IEC 60063), so a little less current flows than asked for; rated "
                "for at least twice what they are given. LEDs differ: the data sheet of yours goes first.",
            )
        )
    return out


def battery_lasts(battery: Battery, current: float) -> str:
    """Return how long a battery lasts at a current, mA, in words; button cells are asked for little."""
    hours = _hours(battery.capacity / current)
    held = f"{battery.capacity:g} mAh at {current:.1f} mA in all"
    if not battery.button or current <= BUTTON_MOST:
        return f"About {hours}: {held}. Cells differ, and toward the end the light grows dim."
    round_ones = [(name, one) for name, one in as_strong(battery.volts).items() if not one.button]
    others = " or ".join(f"{one.cells} \N{MULTIPLICATION SIGN} {name}" for name, one in round_ones)
    instead = f", such as {others} for the same {battery.volts:g} V" if others else ""
    return (
        f"Less than {hours}, perhaps much less: {held}, but button cells hold that only at a fraction of a "
        f"milliampere, and at more than about {BUTTON_MOST:g} mA their voltage sags. Take round cells{instead}, or "
        "LEDs that are bright enough at less current."
    )


def _hours(hours: float) -> str:
    return f"{hours:.0f} hours" if hours >= 10 else f"{hours:.1f} hours"


def _between(place: np.ndarray[Any, np.dtype[np.float64]]) -> str:
    (x0, y0, z0), (x1, y1, z1) = place.tolist()
    return (
        f"between {_aside(x0)} and {_aside(x1)}, {y0:.0f} to {y1:.0f} mm deep, {z0:.0f} to {z1:.0f} mm above the "
        "inside bottom"
    )


def _aside(x: float) -> str:
    return "the middle line" if abs(x) < MIDDLE else f"{abs(x):.0f} mm {'right' if x > 0 else 'left'}"


def wiring_entry(evidence: Evidence) -> dict[str, Any] | None:
    """Return the manifest's entry: places built, holes flat, mm; ohm, A, mAh and hours."""
    wiring, table = evidence.wiring, evidence.scene.wiring
    if wiring is None or table is None:
        return None
    lights = {light.name: light for light in evidence.scene.lights}
    current = total_current([lights[run.light] for run in wiring.runs])
    battery = wiring.battery
    return {
        "wire": {
            "gauge": table.gauge,
            "copper": rounded(copper(table.gauge)),
            "insulated": rounded(insulated(table)),
            "ohm_per_m": rounded(resistance(table.gauge)),
            "radius": rounded(wiring.radius),
        },
        "battery": None
        if battery is None or wiring.place is None
        else {
            "name": battery.name,
            "cells": battery.cells,
            "volts": battery.volts,
            "capacity_mah": battery.capacity,
            "size": list(battery.size),
            "place": [[rounded(value) for value in corner] for corner in wiring.place.tolist()],
            "hours": rounded(battery.capacity / (1000 * current)) if current > 0 else None,
        },
        "current": rounded(current),
        "runs": [
            {
                "light": run.light,
                "led": run.led,
                "points": [[rounded(value) for value in point] for point in run.points.tolist()],
                "through": list(run.through),
                "length": rounded(run.length),
                "why_none": run.why or None,
            }
            for run in wiring.runs
        ],
        "holes": [
            {
                "name": hole.name,
                "part": hole.part,
                "at": [rounded(value) for value in hole.at],
                "diameter": rounded(hole.diameter),
                "wires": hole.wires,
                "lights": list(hole.lights),
                "hidden": hole.how or None,
            }
            for hole in wiring.holes
        ],
    }
