"""How a pattern lies on a face: its guides, the units between them, its joints, and about how many guides it needs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.covers.courses import Bond, divide, lay_courses, turn
from pipeline.elements.covers.table import Cover
from pipeline.elements.covers.units import cut_units, turn_units
from pipeline.elements.surfaces import Family

Array = NDArray[np.float64]
Joints = tuple[tuple[Array, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Laying:
    """What is asked of a pattern; each takes the cover and the host's extents along u and v, imagined mm.

    Attributes
    ----------
    lay
        The guides, host coordinates.
    units
        The units between them, ``(n, 4, 2)`` host coordinates, counter-clockwise.
    joints
        The way ``(2,)`` across each kind of joint, host coordinates, and its width.
    count
        About how many guides there are, never too few, without laying any.
    """

    lay: Callable[[Cover, float, float], list[Family]]
    units: Callable[[Cover, float, float], Array]
    joints: Callable[[Cover, float, float], Joints]
    count: Callable[[Cover, float, float], float]


def in_courses(bond: Callable[[Cover], Bond]) -> Laying:
    """Return how units lie in courses of their height, one over the other."""
    return _coursed(bond, lambda cover: cover.height, lambda _: False)


def in_rows(bond: Callable[[Cover], Bond], turned: Callable[[Cover], bool] = lambda _: False) -> Laying:
    """Return how units lie in rows of their width, along v where they are turned."""
    return _coursed(bond, lambda cover: cover.width, turned)


def _coursed(
    bond: Callable[[Cover], Bond], height: Callable[[Cover], float], turned: Callable[[Cover], bool]
) -> Laying:
    def ways(cover: Cover, extent_u: float, extent_v: float) -> tuple[float, float]:
        return (extent_v, extent_u) if turned(cover) else (extent_u, extent_v)

    def lay(cover: Cover, extent_u: float, extent_v: float) -> list[Family]:
        along, up = ways(cover, extent_u, extent_v)
        families = lay_courses(height(cover), cover.joint, bond(cover), along, up, fit=cover.fit_gauge)
        return turn(families) if turned(cover) else families

    def units(cover: Cover, extent_u: float, extent_v: float) -> Array:
        along, up = ways(cover, extent_u, extent_v)
        cut = cut_units(height(cover), cover.joint, bond(cover), along, up, fit=cover.fit_gauge)
        return turn_units(cut) if turned(cover) else cut

    def joints(cover: Cover, extent_u: float, extent_v: float) -> Joints:
        beds, perpends = np.eye(2) if turned(cover) else np.eye(2)[::-1]
        _, up = ways(cover, extent_u, extent_v)
        gauge = divide(height(cover), cover.joint, up, fit=cover.fit_gauge).gauge
        return (beds, gauge - height(cover)), (perpends, cover.joint)

    def count(cover: Cover, extent_u: float, extent_v: float) -> float:
        along, up = ways(cover, extent_u, extent_v)
        gauge = height(cover) + (0.0 if cover.fit_gauge else cover.joint)
        closest = max(sum(1 / series.pitch for series in course if series.last is None) for course in bond(cover))
        return (up / gauge + 1) * (along * closest + 3)

    return Laying(lay=lay, units=units, joints=joints, count=count)
