"""One file for each pattern that can lie on a face, and the table that names them."""

from __future__ import annotations

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
from pipeline.elements.covers.laying import Array, Joints, Laying
from pipeline.elements.covers.table import Cover, CoverTable, Pattern, imagine_cover
from pipeline.elements.surfaces import Family

__all__ = [
    "MOST_GUIDES",
    "PATTERNS",
    "Cover",
    "CoverTable",
    "count_guides",
    "joint_widths",
    "lay_cover",
    "lay_units",
]

PATTERNS: dict[Pattern, Laying] = {
    "running": running.LAYING,
    "stack": stack.LAYING,
    "header": header.LAYING,
    "third": third.LAYING,
    "english": english.LAYING,
    "flemish": flemish.LAYING,
    "flags": flags.LAYING,
    "planks": planks.LAYING,
    "herringbone": herringbone.LAYING,
}

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
    return PATTERNS[table.pattern].lay(imagine_cover(table, hall_scale, level=level), extent_u, extent_v)


def lay_units(table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False) -> Array:
    """Return the units of a cover as ``(n, 4, 2)`` corners, counter-clockwise in (u, v), imagined mm.

    The arguments are those of ``lay_cover``, whose guides run along the middles of the joints between the units. In
    herringbone, units on the border reach past the host; elsewhere they are cut there.
    """
    return PATTERNS[table.pattern].units(imagine_cover(table, hall_scale, level=level), extent_u, extent_v)


def joint_widths(
    table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False
) -> Joints:
    """Return the way ``(2,)`` across each kind of joint of a cover, host coordinates, and its width, imagined mm.

    The arguments are those of ``lay_cover``.
    """
    return PATTERNS[table.pattern].joints(imagine_cover(table, hall_scale, level=level), extent_u, extent_v)


def count_guides(table: CoverTable, hall_scale: float, extent_u: float, extent_v: float, *, level: bool = False) -> int:
    """Return about how many guides a cover needs, never too few, without laying any."""
    count = PATTERNS[table.pattern].count(imagine_cover(table, hall_scale, level=level), extent_u, extent_v)
    return int(min(count, 1e18))
