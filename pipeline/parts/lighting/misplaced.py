"""Lights that are where no light can be, or shine on nothing, and what would fit."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.light import LightTable
from pipeline.elements.problems import KeyPath, Problem
from pipeline.geometry.casting import polygon
from pipeline.geometry.enclosing import holds
from pipeline.parts.lighting.model import HALL, OUTSIDE, Setting
from pipeline.parts.lighting.ways import stands_in

Array = NDArray[np.float64]

LEVEL = 0.999
"""Of a unit normal's z; floors are level."""
SIDES = {"left-wall": "x above 0", "right-wall": "x below 0", "back-wall": "y below 0"}
"""Which ways light takes that enters through a wall."""
BEHIND = {"left-wall": "x below -{:.4g}", "right-wall": "x above {:.4g}", "back-wall": "y above {:.4g}"}
"""Where a lamp is behind a wall, m."""


def cell_of(light: LightTable, hall: Hall, setting: Setting) -> str:
    """Return where a light comes from: the hall, behind an opening that leads on, or the outside."""
    if light.kind == "beam":
        return OUTSIDE
    spot = light.spot(hall)
    if abs(spot[0]) < hall.width / 2 and spot[1] < hall.depth:
        return HALL
    source = np.append(spot, 1.0)
    for gate in setting.gates:
        if gate.leads and 0 < gate.plane @ source <= gate.length and stands_in(gate, source):
            return gate.id
    return OUTSIDE


def find_misplaced(light: LightTable, path: KeyPath, hall: Hall, setting: Setting) -> list[Problem]:
    """Return the problem of a lamp that is within a body, under a floor or above the vault."""
    if light.kind != "lamp":
        return []
    spot = light.spot(hall)
    for body in setting.bodies:
        if body.closed and holds(body.mesh, spot):
            return [_in_body(light, path, hall, body.id, body.mesh.vertices)]
    if cell_of(light, hall, setting) != HALL:
        return []
    over = _floor_over(spot, setting)
    if over is not None:
        level = hall.metres(over - hall.floor)
        return [_problem(light, path, f"lies under the floor there, {level:.4g} m up", f"a height above {level:.4g} m")]
    vault = _vault_over(spot, setting)
    if vault is not None and spot[2] >= vault:
        room = hall.metres(vault - hall.floor)
        found = f"hangs above the vault, which is {room:.4g} m up there"
        return [_problem(light, path, found, f"a height below {room:.4g} m")]
    return []


def enters_nothing(light: LightTable, path: KeyPath, hall: Hall, setting: Setting) -> Problem:
    """Return the problem of a light that enters the hall by no opening, and which would do."""
    key = "direction" if light.kind == "beam" else "at"
    open_ones = [gate for gate in setting.gates if not gate.leads]
    if not open_ones:
        return Problem(
            path=(*path, key),
            found=f"the light of {light.name!r} comes from outside the hall, and no opening lets it in",
            allowed='an opening with beyond = "bare" or "light"',
            remedy="add one, or hang a lamp in the hall",
        )
    walls: dict[str, list[str]] = {}
    for gate in open_ones:
        walls.setdefault(gate.host, []).append(repr(gate.name))
    half, depth = hall.metres(hall.width / 2), hall.metres(hall.depth)
    offers = []
    for wall, names in walls.items():
        edge = depth if wall == "back-wall" else half
        where = SIDES[wall] if light.kind == "beam" else f"{BEHIND[wall].format(edge)} m"
        offers.append(f"{where}, through {' or '.join(names)} in the {wall.replace('-', ' ')}")
    reveals = any(gate.reveal > 0 for gate in open_ones)
    return Problem(
        path=(*path, key),
        found=f"the light of {light.name!r} enters no opening",
        allowed="; ".join(offers),
        remedy="turn or move it" + (", squarer to the wall where a reveal is deep" if reveals else ""),
    )


def _in_body(light: LightTable, path: KeyPath, hall: Hall, body: str, points: Array) -> Problem:
    (x0, y0, z0), (x1, y1, z1) = points.min(axis=0), points.max(axis=0)
    ends = [hall.metres(value) for value in (x0, x1, y0, y1, z0 - hall.floor, z1 - hall.floor)]
    allowed = (
        f"a place clear of it: it reaches over x {ends[0]:.4g} to {ends[1]:.4g}, y {ends[2]:.4g} to {ends[3]:.4g}, "
        f"height {ends[4] + 0.0:.4g} to {ends[5]:.4g} m"
    )
    return _problem(light, path, f"is within {body!r}", allowed)


def _problem(light: LightTable, path: KeyPath, found: str, allowed: str) -> Problem:
    return Problem(path=(*path, "at"), found=f"{light.name!r} {found}", allowed=allowed, remedy="move the lamp")


def _floor_over(spot: Array, setting: Setting) -> float | None:
    """Return how high a floor lies that a lamp is under, imagined mm, or nothing."""
    for target in setting.targets:
        level = float(target.matrix[2, 2])
        if target.inward[2] > LEVEL and level >= spot[2]:
            u, v = np.linalg.lstsq(target.matrix[:2, :2], spot[:2] - target.matrix[:2, 2], rcond=None)[0]
            if polygon(target.loops).contains(shapely.Point(u, v)):
                return level
    return None


def _vault_over(spot: Array, setting: Setting) -> float | None:
    """Return how high the vault is over a lamp, imagined mm, or nothing where there is none."""
    heights = []
    for body in setting.bodies:
        if body.closed:
            continue
        a, b, c = body.mesh.corners.transpose(1, 0, 2)
        across = _turn(b - a, c - a)
        flat = np.abs(across) > 0
        a, b, c, across = a[flat], b[flat], c[flat], across[flat]
        s, t = _turn(spot - a, c - a) / across, _turn(b - a, spot - a) / across
        met = (s >= 0) & (t >= 0) & (s + t <= 1)
        heights += (a + s[:, None] * (b - a) + t[:, None] * (c - a))[met, 2].tolist()
    return min(heights, default=None)


def _turn(one: Array, other: Array) -> Array:
    """Return the area that two vectors span, seen from above."""
    out: Array = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return out
