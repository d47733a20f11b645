"""The series resistor of a light's LED.

R = (Vs - Vf) / I, the next value up of the E24 series (IEC 60063), so that the current comes out a little lower. What
it turns to heat is (Vs - Vf)^2 / R; resistors are rated for a good deal more than they are given (common practice:
twice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.elements.light import LightTable

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""Of IEC 60063, per decade."""
RATINGS = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0, 50.0, 100.0, 300.0)
"""W, as resistors are sold."""
RESERVE = 2.0
"""Rating over dissipation (common practice)."""
ROUNDING = 1e-9
"""Share by which a value may miss one of the series and still be it: a quotient is a value but for rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A resistor in series with an LED.

    Attributes
    ----------
    exact, ohm
        What is needed, and what is sold.
    current
        That flows with it, A.
    watts, rating
        What it turns to heat, and the least rating to buy.
    """

    exact: float
    ohm: float
    current: float
    watts: float
    rating: float


def next_up(exact: float) -> float:
    """Return the least value of the E24 series that is not below a resistance, ohm."""
    decade = math.floor(math.log10(exact)) - 1
    for power in (decade, decade + 1):
        for step in E24:
            value = step * 10**power if power >= 0 else step / 10**-power
            if value >= exact * (1 - ROUNDING):
                return float(value)
    raise ValueError(f"{exact} is no resistance")


def series_of(light: LightTable) -> Series | None:
    """Return the resistor of a light's LED, or nothing where its wiring is not told."""
    if light.supply is None or light.forward is None or light.current is None:
        return None
    over = light.supply - light.forward
    exact = over / light.current
    ohm = next_up(exact)
    watts = over**2 / ohm
    rating = next((one for one in RATINGS if one >= RESERVE * watts), RATINGS[-1])
    return Series(exact=exact, ohm=ohm, current=over / ohm, watts=watts, rating=rating)


def resistor(light: LightTable) -> float | None:
    """Return the resistance in series with a light's LED, ohm, or nothing where its wiring is not told."""
    series = series_of(light)
    return None if series is None else series.ohm
