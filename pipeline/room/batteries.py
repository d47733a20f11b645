"""Batteries and wire: how large, how strong, how long they last.

Sizes of round cells are the greatest that IEC 60086 allows (D. Linden and T. B. Reddy, *Handbook of Batteries*, table
4.9); those of lithium button cells are what their names say (IEC 60086-3: diameter, and height in tenths of a mm). What
cells hold differs from maker to maker; the figures here are common practice, and can be set.

Wire: d = 0.127 * 92^((36 - n) / 39) mm for gauge n (ASTM B258), copper of 1/58 ohm mm^2 / m (IEC 60028).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.elements.light import LightTable
from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.model import Scene
from pipeline.scene.nearest import nearest
from pipeline.scene.values import show_choices
from pipeline.scene.wiring import WiringTable

COPPER = 1 / 58
"""ohm mm^2 / m at 20 degrees (IEC 60028)."""
COATING = 0.25
"""mm that insulation adds to the copper of thin hook-up wire (common practice)."""
BUTTON_MOST = 3.0
"""mA that button cells give for long (common practice); what they hold is told at a tenth of that."""
HOLDER = 1.0
"""mm of a holder round its cells (common practice)."""
SAME = 1e-6
"""V; nearer than this two voltages are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell, or block of them that is sold as one: mm, V, mAh."""

    size: tuple[float, float, float]
    volts: float
    capacity: float
    button: bool = False


def _round(diameter: float, height: float, volts: float, capacity: float) -> Cell:
    flat = height < diameter
    size = (diameter, diameter, height) if flat else (height, diameter, diameter)
    return Cell(size=size, volts=volts, capacity=capacity, button=flat)


CELLS = {
    "LR6": _round(14.5, 50.5, 1.5, 2500),
    "LR03": _round(10.5, 44.5, 1.5, 1100),
    "LR1": _round(12.0, 30.2, 1.5, 900),
    "LR14": _round(26.2, 50.0, 1.5, 7000),
    "LR20": _round(34.2, 61.5, 1.5, 15000),
    "6LR61": Cell(size=(48.5, 26.5, 17.5), volts=9.0, capacity=550),
    "CR2025": _round(20.0, 2.5, 3.0, 160),
    "CR2032": _round(20.0, 3.2, 3.0, 220),
    "CR2450": _round(24.5, 5.0, 3.0, 600),
    "LR44": _round(11.6, 5.4, 1.5, 110),
}
"""By IEC name: AA, AAA, N, C, D, the 9 V block (its size from memory), and button cells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """The battery of a scene.

    Attributes
    ----------
    name, cells
        Of its cells, and how many.
    size
        With its holder, the longest side first, mm.
    volts, capacity
        Of all of it, V and mAh.
    button
        Whether it is of button cells.
    """

    name: str
    cells: int
    size: tuple[float, float, float]
    volts: float
    capacity: float
    button: bool


def battery_of(table: WiringTable) -> Battery | None:
    """Return the battery of a scene; nothing where its wires leave the box."""
    if table.battery is None:
        return None
    return _battery(table.battery, table, table.cells)


def _battery(name: str, table: WiringTable, count: int) -> Battery:
    cell = CELLS.get(name) or Cell(size=table.size or (0.0, 0.0, 0.0), volts=table.volts or 0.0, capacity=0.0)
    size = block(cell, count) if table.size is None else table.size
    long, wide, high = sorted(size, reverse=True)
    return Battery(
        name=name,
        cells=count,
        size=(long, wide, high),
        volts=count * (cell.volts if table.volts is None else table.volts),
        capacity=cell.capacity if table.capacity is None else table.capacity,
        button=cell.button,
    )


def block(cell: Cell, count: int) -> tuple[float, float, float]:
    """Return the size of cells side by side, button cells on one another, in their holder, mm."""
    long, wide, high = cell.size
    sides = (long, wide, high * count) if cell.button else (long, wide * count, high)
    return (sides[0] + 2 * HOLDER, sides[1] + 2 * HOLDER, sides[2] + 2 * HOLDER)


def as_strong(volts: float) -> dict[str, Battery]:
    """Return each known cell in the number that gives a voltage, where one does."""
    plain = WiringTable()
    out = {}
    for name, cell in CELLS.items():
        count = round(volts / cell.volts)
        if count >= 1 and abs(count * cell.volts - volts) < SAME:
            out[name] = _battery(name, plain, count)
    return out


def copper(gauge: int) -> float:
    """Return the diameter of a wire's copper, mm."""
    return float(0.127 * 92.0 ** ((36 - gauge) / 39))


def resistance(gauge: int) -> float:
    """Return the resistance of a wire, ohm/m."""
    return COPPER / (math.pi / 4 * copper(gauge) ** 2)


def insulated(table: WiringTable) -> float:
    """Return the diameter of one wire with its insulation, mm."""
    return table.insulation if table.insulation is not None else copper(table.gauge) + COATING


def bundle(table: WiringTable, wires: int) -> float:
    """Return the diameter of the least round hole that a number of wires go through, or a little more, mm.

    Two lie side by side; more of them take at most 1.25 sqrt(n) diameters: 2.155 for three, 2.414 for four, 3 for six
    and seven, 3.305 for eight (the densest packings of equal circles in a circle).
    """
    return insulated(table) * (1.0 if wires == 1 else max(2.0, 1.25 * math.sqrt(wires)))


def wiring_problems(scene: Scene) -> tuple[Problem, ...]:
    """Return what is wrong with a scene's wiring: a battery unknown, or of another voltage than its lights want."""
    table = scene.wiring
    if table is None:
        return ()
    if not scene.lights:
        return (
            Problem(
                path=("wiring",), found="there are no lights to wire", allowed="[[lights]] beside it",
                remedy="add a lamp, or take [wiring] out",
            ),
        )  # fmt: skip
    if table.battery is None:
        given = [key for key in ("size", "capacity", "volts") if getattr(table, key) is not None]
        return tuple(
            Problem(
                path=("wiring", key), found=f"{key} of a battery, but no battery is named", allowed="battery beside it",
                remedy=f'add battery = "LR6" or a name of your own, or take {key} out',
            )
            for key in given
        )  # fmt: skip
    unknown = table.battery not in CELLS
    missing = [key for key in ("size", "capacity", "volts") if unknown and getattr(table, key) is None]
    if missing:
        guess = nearest(table.battery, list(CELLS))
        remedy = f"add {', '.join(missing)} for a cell of your own"
        return (
            Problem(
                path=("wiring", "battery"), found=f'no cell "{table.battery}" is known',
                allowed=show_choices(list(CELLS)),
                remedy=f'did you mean "{guess}"? Else {remedy}' if guess else remedy,
            ),
        )  # fmt: skip
    battery = _battery(table.battery, table, table.cells)
    return tuple(
        _other_voltage(light, battery, ("lights", number, "supply"))
        for number, light in enumerate(scene.lights)
        if light.supply is not None and abs(light.supply - battery.volts) > SAME
    )


def _other_voltage(light: LightTable, battery: Battery, path: KeyPath) -> Problem:
    each = battery.volts / battery.cells
    count = round((light.supply or 0.0) / each)
    would = f", or cells = {count} in [wiring]" if count >= 1 and abs(count * each - (light.supply or 0)) < SAME else ""
    return Problem(
        path=path,
        found=f"{light.name!r} wants {light.supply:g} V, {battery.cells} \N{MULTIPLICATION SIGN} {battery.name} "
        f"give {battery.volts:g} V",
        allowed=f"supply = {battery.volts:g}",
        remedy=f"write that{would}",
    )
