"""One file for each pattern that can lie on a face, and the table that names them."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.covers import (
    english,
    flags,
    flemish,
    header,
    herringbone,
    planks,
    running,
    stack,
    third,
)
from pipeline.elements.covers.courses import divide
from pipeline.elements.covers.table import Cover, CoverTable, Pattern, imagine_cover
from pipeline.elements.surfaces import Family

__all__ = [
    "MOST_GUIDES",
    "PATTERNS",
    "UNITS",
    "Cover",
    "CoverTable",
    "count_guides",
    "joint_widths",
    "lay_cover",
    "lay_units",
]

Array = NDArray[np.float64]
Lay = Callable[[Cover, float, float], list[Family]]
Units = Callable[[Cover, float, float], Array]

PATTERNS: dict[Pattern, Lay] = {
    "running": running.lay,
    "stack": stack.lay,
    "header": header.lay,
    "third": third.lay,
    "english": english.lay,
    "flemish": flemish.lay,
    "flags": flags.lay,
    "planks": planks.lay,
    "herringbone": herringbone.lay,
}

UNITS: dict[Pattern, Units] = {
    "running": running.units,
    "stack": stack.units,
    "header": header.units,
    "third": third.units,
    "english": english.units,
    "flemish": flemish.units,
    "flags": flags.units,
    "planks": planks.units,
    "herringbone": herringbone.units,
}
"""The rectangles between the lines of each pattern."""

MOST_GUIDES = 400_000
"""More guides of a scene than this are a slip of the pen: a face of the largest sheets, full of lines 0.4 mm apart."""


def lay_cover(
    table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False
) -> list[Family]:
    """Return the guides of a cover on a host of ``extent_u`` by ``extent_v``, host coordinates, imagined mm.

    Parameters
    ----------
    table
        The cover.
    hall_scale
        n of 1:n at the opening.
    extent_u, extent_v
        Size of the host, imagined mm.
    level
        Whether the host lies level (floor or ceiling), where v runs along the hall.

    Raises
    ------
    ValueError
        If there would be more than ``MOST_GUIDES``; ask ``count_guides`` first.
    """
    count = count_guides(table, hall_scale, extent_u, extent_v, level=level)
    if count > MOST_GUIDES:
        raise ValueError(f"the cover would need about {count} guides; at most {MOST_GUIDES} are laid on a face")
    return PATTERNS[table.pattern](imagine_cover(table, hall_scale, level=level), extent_u, extent_v)


def lay_units(table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False) -> Array:
    """Return the units of a cover as ``(n, 4, 2)`` corners, counter-clockwise in (u, v), imagined mm.

    The arguments are those of ``lay_cover``, whose guides run along the middles of the joints between the units. In
    herringbone, units on the border reach past the host; elsewhere they are cut there.
    """
    return UNITS[table.pattern](imagine_cover(table, hall_scale, level=level), extent_u, extent_v)


def joint_widths(
    table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False
) -> tuple[tuple[Array, float], ...]:
    """Return the way ``(2,)`` across each kind of joint of a cover, host coordinates, and its width, imagined mm.

    The arguments are those of ``lay_cover``.
    """
    cover = imagine_cover(table, hall_scale, level=level)
    if table.pattern == "herringbone":
        return tuple((way, cover.joint) for way in herringbone.UV_FROM_XY.T)
    beds, perpends = np.eye(2)[::-1]
    up = extent_v
    if table.pattern == "planks" and level != table.across:
        beds, perpends, up = perpends, beds, extent_u
    height = cover.width if table.pattern in ("flags", "planks") else cover.height
    gauge = divide(height, cover.joint, up, fit=table.fit_gauge).gauge
    return (beds, gauge - height), (perpends, cover.joint)


def count_guides(table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False) -> int:
    """Return about how many guides a cover needs, never too few, without laying any."""
    cover = imagine_cover(table, hall_scale, level=level)
    length, width = cover.length + cover.joint, cover.width + cover.joint
    if table.pattern == "herringbone":
        reach = (length + width) / math.sqrt(2)
        places = ((extent_u + reach) / (length * math.sqrt(2)) + 1) * ((extent_v + reach) / (width * math.sqrt(2)) + 1)
        return _whole(2 * places)
    along, up = (extent_v, extent_u) if table.pattern == "planks" and level != table.across else (extent_u, extent_v)
    gauge = width if table.pattern in ("flags", "planks") else cover.height + cover.joint
    if table.fit_gauge:
        gauge -= cover.joint
    pitch = {"header": width, "english": width, "flemish": 1.5 * width}.get(table.pattern, length)
    return _whole((up / gauge + 1) * (along / pitch + 3))


def _whole(count: float) -> int:
    return int(min(count, 1e18))
