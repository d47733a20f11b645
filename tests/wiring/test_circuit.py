"""Resistors, batteries and wire against printed figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.elements.light import LightTable
from pipeline.report.wiring_rows import battery_lasts
from pipeline.room.batteries import CELLS, Battery, battery_of, block, bundle, copper, resistance
from pipeline.room.resistor import E24, next_up, resistor, series_of
from pipeline.scene.wiring import WiringTable
from tests.refused import refusal
from tests.scene_text import changed
from tests.wiring.rooms import LAMPS


def led(supply: float, forward: float, current: float) -> LightTable:
    return LightTable(name="lamp", kind="lamp", at=(0.0, 1.0, 1.0), supply=supply, forward=forward, current=current)


@pytest.mark.parametrize(("supply", "exact", "ohm"), [(9.0, 350.0, 360.0), (5.0, 150.0, 150.0)])
def test_a_resistor_is_the_next_value_up(supply: float, exact: float, ohm: float) -> None:
    """2 V at 20 mA: from 9 V 350 and so 360 ohm, from 5 V 150 ohm, which is one of the series (IEC 60063)."""
    series = series_of(led(supply, 2.0, 0.02))
    assert series is not None
    assert series.exact == pytest.approx(exact)
    assert resistor(led(supply, 2.0, 0.02)) == ohm
    assert series.current <= 0.02 * (1 + 1e-9)


def test_the_resistor_on_nine_volts_turns_a_seventh_of_a_watt_to_heat() -> None:
    """0.14 W; rated for twice that, the next size sold is half a watt."""
    series = series_of(led(9.0, 2.0, 0.02))
    assert series is not None
    assert series.watts == pytest.approx(0.14, abs=0.005)
    assert series.rating == 0.5


@given(exact=st.floats(0.01, 1e7))
def test_every_resistor_is_of_the_series_and_none_between_would_do(exact: float) -> None:
    """Found among all values of nine decades by counting."""
    every = sorted(step * 10.0**power for power in range(-4, 8) for step in E24)
    expected = min(value for value in every if value >= exact * (1 - 1e-9))
    assert next_up(exact) == pytest.approx(expected, rel=1e-9)


def test_a_light_without_figures_has_no_resistor() -> None:
    """Nothing is guessed."""
    assert resistor(LightTable(name="lamp", kind="lamp", at=(0.0, 1.0, 1.0))) is None


def test_button_cells_are_told_to_sag_and_round_ones_are_not() -> None:
    """220 mAh at 15 mA are no 15 hours; four LR03 give the 6 V too."""
    button = Battery(name="CR2032", cells=2, size=(22.0, 22.0, 8.4), volts=6.0, capacity=220, button=True)
    said = battery_lasts(button, 15.0)
    assert said.startswith("Less than 15 hours, perhaps much less: 220 mAh at 15.0 mA in all, but button cells")
    assert "4 \N{MULTIPLICATION SIGN} LR03" in said
    assert "CR2032" not in said
    assert battery_lasts(button, 3.0).startswith("About 73 hours: ")
    round_one = Battery(name="LR03", cells=4, size=(46.5, 44.0, 12.5), volts=6.0, capacity=1100, button=False)
    assert battery_lasts(round_one, 15.0).startswith("About 73 hours: 1100 mAh at 15.0 mA in all. Cells differ")


@pytest.mark.parametrize(("gauge", "diameter", "ohm_per_km"), [(30, 0.255, 339), (28, 0.321, 213)])
def test_wire_by_its_gauge(gauge: int, diameter: float, ohm_per_km: float) -> None:
    """AWG 30: 0.255 mm, 339 ohm/km; AWG 28: 0.321 mm, 213 ohm/km."""
    assert copper(gauge) == pytest.approx(diameter, abs=5e-4)
    assert 1000 * resistance(gauge) == pytest.approx(ohm_per_km, abs=0.5)


def test_a_hole_is_wide_enough_for_its_wires() -> None:
    """The least circles round n equal ones (R. L. Graham and others, 1998): 2, 2.155, 2.414, 2.701, 3, 3, 3.305."""
    packed = {1: 1.0, 2: 2.0, 3: 2.1547, 4: 2.4142, 5: 2.7013, 6: 3.0, 7: 3.0, 8: 3.3048, 19: 4.8637}
    table = WiringTable(insulation=1.0)
    for wires, least in packed.items():
        assert least <= bundle(table, wires) + 1e-12 <= 1.25 * least + 0.35


def test_cells_are_as_large_as_the_standard_lets_them_be() -> None:
    """R6 14.5 by 50.5, R03 10.5 by 44.5 (Linden and Reddy, table 4.9); CR2032 20 by 3.2 by its name."""
    assert sorted(CELLS["LR6"].size) == [14.5, 14.5, 50.5]
    assert sorted(CELLS["LR03"].size) == [10.5, 10.5, 44.5]
    assert sorted(CELLS["CR2032"].size) == [3.2, 20.0, 20.0]
    assert sorted(block(CELLS["LR6"], 2)) == [16.5, 31.0, 52.5]
    assert sorted(block(CELLS["CR2032"], 2)) == [8.4, 22.0, 22.0]


def test_a_battery_of_ones_own() -> None:
    """Size, capacity and volts of a cell nobody knows."""
    own = WiringTable(battery="flat pack", size=(40.0, 30.0, 5.0), capacity=400.0, volts=3.7, cells=2)
    found = battery_of(own)
    assert found is not None
    assert (found.size, found.volts, found.capacity) == ((40.0, 30.0, 5.0), 7.4, 400.0)


def test_a_light_that_wants_another_voltage_is_refused() -> None:
    """What would do is said: the battery's voltage, or so many cells."""
    said = refusal(
        changed(LAMPS, "supply = 3.0\nforward = 2.0\ncurrent = 0.02", "supply = 9.0\nforward = 2.0\ncurrent = 0.02")
    )
    assert "lights[1].supply: 'lantern' wants 9 V, 2 \N{MULTIPLICATION SIGN} LR6 give 3 V" in said
    assert "cells = 6 in [wiring]" in said


def test_an_unknown_cell_is_refused_with_the_nearest() -> None:
    """Or with what a cell of one's own needs."""
    said = refusal(changed(LAMPS, '"LR6"', '"LR66"'))
    assert 'did you mean "LR6"?' in said.replace("Did", "did")
    assert "add size, capacity, volts" in said


def test_a_supply_below_the_led_is_refused() -> None:
    """2 V do not light 2 V; what would is said."""
    said = refusal(
        changed(LAMPS, "supply = 3.0\nforward = 2.0\ncurrent = 0.02", "supply = 2.0\nforward = 2.0\ncurrent = 0.02")
    )
    assert "a supply above 2 V" in said


def test_wiring_wants_lights() -> None:
    """A battery alone lights nothing."""
    assert "there are no lights to wire" in refusal(LAMPS[: LAMPS.index("[[lights]]")])


def test_two_wires_lie_side_by_side() -> None:
    """Two are twice as wide as one, copper and its insulation."""
    assert bundle(WiringTable(gauge=30), 2) == pytest.approx(2 * (0.2546 + 0.25), abs=1e-3)
    assert math.isclose(bundle(WiringTable(insulation=0.8), 1), 0.8)
