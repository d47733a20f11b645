"""Lights that are where no light can be, or shine on nothing, and what would fit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.light import LightTable
from pipeline.elements.problems import KeyPath, Problem
from pipeline.geometry.casting import polygon
from pipeline.geometry.enclosing import holds
from pipeline.parts.lighting.model import HALL, OUTSIDE, Gate, Setting
from pipeline.parts.lighting.ways import opened, stands_in
from pipeline.room.measure import Room

Array = NDArray[np.float64]

LEVEL = 0.999
"""Of a unit normal's z; floors are level."""
SIDES = {"left-wall": "x above 0", "right-wall": "x below 0", "back-wall": "y below 0"}
"""Which ways light takes that enters through a wall."""
BEHIND = {"left-wall": "x below -{:.4g}", "right-wall": "x above {:.4g}", "back-wall": "y above {:.4g}"}
"""Where a lamp is behind a wall, m."""
OFFERED = (1.0, 0.5, 0.25, 0.1, 0.0)
"""How far behind a hole a lamp is offered, m, and how steeply a beam comes down for its way inward: the first to do."""
OPEN_ENOUGH = 0.3
"""Share of a hole that what is offered must pass."""


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


def enters_nothing(light: LightTable, path: KeyPath, room: Room, setting: Setting) -> Problem:
    """Return the problem of a light that enters the hall by no opening, and which would do."""
    key = "direction" if light.kind == "beam" else "at"
    hall = room.hall
    open_ones = [gate for gate in setting.gates if not gate.leads]
    offers = _offers(light, hall, open_ones)
    inside = _in_wall(light, room)
    if inside is not None:
        wall, sheet = inside
        thick = sheet.thickness + sheet.finish
        return Problem(
            path=(*path, "at"),
            found=f"an LED for {light.name!r} would sit within the {wall.replace('-', ' ')}, which is {thick:g} mm "
            "thick",
            allowed="; ".join([f"a place in the hall, {_within_hall(hall)}", *offers]),
            remedy="move the lamp",
        )
    if not open_ones:
        return Problem(
            path=(*path, key),
            found=f"the light of {light.name!r} comes from outside the hall, and no opening lets it in",
            allowed='an opening with beyond = "bare" or "light"',
            remedy="add one, or hang a lamp in the hall",
        )
    reveals = any(gate.reveal > 0 for gate in open_ones)
    return Problem(
        path=(*path, key),
        found=f"the light of {light.name!r} enters no opening",
        allowed="; ".join(offers),
        remedy="turn or move it" + (", squarer to the wall where a reveal is deep" if reveals else ""),
    )


def _offers(light: LightTable, hall: Hall, gates: Sequence[Gate]) -> list[str]:
    """Return for each wall with openings which light they let in, and one that the largest of them does."""
    walls: dict[str, list[Gate]] = {}
    for gate in gates:
        walls.setdefault(gate.host, []).append(gate)
    offers = []
    for wall, there in walls.items():
        edge = hall.metres(hall.depth if wall == "back-wall" else hall.width / 2)
        where = SIDES[wall] if light.kind == "beam" else f"{BEHIND[wall].format(edge)} m"
        names = " or ".join(repr(gate.name) for gate in there)
        such = _such_as(light, hall, max(there, key=lambda gate: polygon(gate.loops).area))
        offers.append(f"{where}, through {names} in the {wall.replace('-', ' ')}{such}")
    return offers


def _such_as(light: LightTable, hall: Hall, gate: Gate) -> str:
    """Return words for a light that a hole lets in well: before its middle, or aslant from above."""
    u, v = polygon(gate.loops).centroid.coords[0]
    middle = gate.matrix @ [u, v, 1.0]
    for aside in OFFERED:
        if light.kind == "beam":
            way = -gate.outward - [0.0, 0.0, aside]
            source = np.append(-way, 0.0)
            words = "direction = " + _listed(way)
        else:
            spot = middle[:3] + hall.millimetres(aside) * gate.outward
            rounded = [round(hall.metres(float(value)), 2) for value in spot - [0.0, 0.0, hall.floor]]
            source = np.append([hall.millimetres(value) for value in rounded] + np.array([0.0, 0.0, hall.floor]), 1.0)
            words = "at = " + _listed(np.array(rounded))
        if opened(gate, source).share > OPEN_ENOUGH:
            return f", as {words} does"
    return ""


def _listed(values: Array) -> str:
    return "[" + ", ".join(f"{value + 0.0:g}" for value in values) + "]"


def _in_wall(light: LightTable, room: Room) -> tuple[str, SurfaceSheet] | None:
    """Return the wall of the hall whose sheet a lamp's LED would be in, and that sheet."""
    if light.kind != "lamp":
        return None
    hall, spot = room.hall, light.spot(room.hall)
    built = room.relief.build_points(spot[None])[0]
    half, along, low = hall.width / 2, spot[1] < hall.depth, spot[2] < hall.floor + hall.height
    walls = {
        "left-wall": (spot[0] <= -half and along, [1.0, 0.0, 0.0, half]),
        "right-wall": (spot[0] >= half and along, [-1.0, 0.0, 0.0, half]),
        "back-wall": (abs(spot[0]) < half and not along, [0.0, -1.0, 0.0, hall.depth]),
    }
    for wall, (beyond, plane) in walls.items():
        sheet = hall.surfaces.get(wall)
        if not (beyond and low) or sheet is None:
            continue
        front = room.relief.build_plane(np.array(plane))
        behind = -float(front[:3] @ built + front[3]) / float(np.linalg.norm(front[:3]))
        if behind <= sheet.thickness + sheet.finish + light.size / 2:
            return wall, sheet
    return None


def _within_hall(hall: Hall) -> str:
    half, depth, high = (hall.metres(value) for value in (hall.width / 2, hall.depth, hall.height))
    return f"x between -{half:.4g} and {half:.4g} m, y below {depth:.4g} m, height below {high:.4g} m"


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
