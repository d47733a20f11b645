"""The ribs of a vault: what hangs below its groins, bay lines, walls and crowns.

Terms
-----
arm
    The part of a diagonal rib between one pier and the crown.
springer
    The foot of all ribs at a pier, up to the bed where they have parted.
bed
    The level of the springers' tops, and where every rib above begins.
seam
    A plane where ribs meet one another; one of the two prints stands off it by the play.

Ribs fill the room between their soffit and the webs. The webs' visible face is the vault itself, so the bodies end
below it by a play of their own (`rib_bodies.PLAY_ACROSS`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from pipeline.elements.model import Block, Fact, Hall, Imagined, KeyPath, Problem
from pipeline.elements.vault import rib_bodies
from pipeline.elements.vault.rib_bodies import Ribs, Track, ribs_of
from pipeline.elements.vault.shape import find_problems, shape_of
from pipeline.elements.vault.springers import parting, springer
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry.booleans import mesh_of, trim
from pipeline.units import part_id

Array = NDArray[np.float64]

BOSS_HANG = 0.25
"""Share of the ribs' depth that a boss hangs below them."""
SIDES = {-1: "left", 1: "right"}
ENDS = {-1: "near", 1: "far"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Piece:
    """One print before it is cut to the vault: ``cuts`` bound it, ``seams`` bound it with play, all planes ``(4,)``."""

    name: str
    body: Manifold
    contacts: tuple[str, ...] = ()
    cuts: tuple[Array, ...] = ()
    seams: tuple[Array, ...] = ()


def imagine(table: VaultTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the ribs of a vault as bodies to be printed; nothing without `rib_width`, or if the vault does not fit."""
    if table.rib_width == 0 or table.ribs != "print" or find_problems(table, hall, path):
        return Imagined()
    ribs = ribs_of(table, hall, shape_of(table, hall))
    boss = hall.millimetres(table.boss) / 2
    problems = _problems(ribs, boss, table, hall, path)
    if problems:
        return Imagined(problems=tuple(problems))
    under = rib_bodies.under_vault(ribs, hall.depth)
    pieces = _groin(ribs, table, boss, hall) if table.form == "groin" else _barrel(ribs, table)
    blocks = tuple(block for piece in pieces for block in _blocks(piece, under, hall, path))
    return Imagined(blocks=blocks, facts=_facts(ribs, table, hall))


def _problems(ribs: Ribs, boss: float, table: VaultTable, hall: Hall, path: KeyPath) -> list[Problem]:
    shape, problems = ribs.shape, []
    if table.form == "groin":
        soffit = shape.rise - ribs.depth
        if ribs.depth >= shape.length / 2 or parting(ribs) >= soffit:
            found = (
                f"ribs {table.rib_width:g} m wide and {table.rib_depth:g} m deep do not part below their crowns over "
                f"bays {hall.metres(shape.length):.4g} m long"
            )
            allowed = "ribs that leave one another on their way from pier to crown"
            problems.append(
                Problem(path=(*path, "rib_width"), found=found, allowed=allowed, remedy="narrower ribs or fewer bays")
            )
    elif boss:
        problems.append(
            Problem(
                path=(*path, "boss"),
                found="a barrel vault has no diagonal ribs to meet in a boss",
                allowed="a boss under a groin vault",
                remedy="leave boss out",
            )
        )
    most = min(shape.width, shape.length) / 2 - 2 * ribs.half
    if table.form == "groin" and boss and not ribs.half < boss < most:
        problems.append(
            Problem(
                path=(*path, "boss"),
                found=f"a boss {table.boss:g} m wide where ribs {table.rib_width:g} m wide meet",
                allowed=f"more than {table.rib_width:g} m and less than {hall.metres(2 * most):.4g} m",
                remedy="another boss, or narrower ribs",
            )
        )
    return problems


def _barrel(ribs: Ribs, table: VaultTable) -> Iterator[_Piece]:
    """Return arches on every bay line and, if asked, a ridge between each two."""
    shape = ribs.shape
    last = len(shape.lines) - 1
    foot = _plane(z=1, at=shape.springing)
    for k, line in enumerate(shape.lines):
        contacts = ("left-wall", "right-wall", *(("back-wall",) if k == last else ()))
        body = rib_bodies.arched(ribs, rib_bodies.transverse(shape, line))
        yield _Piece(name=f"rib-transverse-{k + 1}", body=body, contacts=contacts, seams=(foot,))
    for k, (near, far) in enumerate(shape.bays if table.ridge else ()):
        body = rib_bodies.level(ribs, _ridge((near + far) / 2, along=True), -shape.length, shape.length)
        seams = (_plane(y=1, at=near + ribs.half), _plane(y=-1, at=ribs.half - far))
        yield _Piece(name=f"rib-ridge-{k + 1}", body=body, seams=seams)


def _groin(ribs: Ribs, table: VaultTable, boss: float, hall: Hall) -> Iterator[_Piece]:
    shape = ribs.shape
    last = len(shape.lines) - 1
    bed = shape.springing + parting(ribs)
    on_bed, foot = _plane(z=1, at=bed), _plane(z=1, at=shape.springing)
    for k, line in enumerate(shape.lines):
        behind = ("back-wall",) if k == last else ()
        for side, name in SIDES.items():
            body = springer(ribs, k, side, bed)
            yield _Piece(name=f"springer-{name}-{k + 1}", body=body, contacts=(f"{name}-wall", *behind), seams=(foot,))
        body = rib_bodies.arched(ribs, rib_bodies.transverse(shape, line))
        yield _Piece(name=f"rib-transverse-{k + 1}", body=body, contacts=behind, seams=(on_bed,))
    for k, bay in enumerate(shape.bays):
        for side, name in SIDES.items():
            body = rib_bodies.arched(ribs, rib_bodies.wall(shape, bay, side))
            yield _Piece(name=f"rib-wall-{name}-{k + 1}", body=body, contacts=(f"{name}-wall",), seams=(on_bed,))
        yield from _arms(ribs, table, boss, k, on_bed)
        if table.ridge:
            yield from _ridges(ribs, boss, k)
        if boss:
            yield _boss(ribs, table, boss, k, hall.facet)


def _arms(ribs: Ribs, table: VaultTable, boss: float, number: int, on_bed: Array) -> Iterator[_Piece]:
    """Return the four arms of a bay's diagonals, which end at the boss, at the ridge ribs, or on one another."""
    shape, bay = ribs.shape, ribs.shape.bays[number]
    middle = sum(bay) / 2
    off = ribs.half if table.ridge else 0.0
    for end, end_name in ENDS.items():
        for side, side_name in SIDES.items():
            track = rib_bodies.diagonal(shape, bay, side * end)
            body = rib_bodies.arched(ribs, track)
            beside, before = _plane(x=side, at=off), _plane(y=end, at=end * middle + off)
            seams, cuts = [on_bed], list[Array]()
            (seams if table.ridge or side < 0 else cuts).append(beside)
            (seams if table.ridge or end < 0 else cuts).append(before)
            if boss:
                seams.append(_seat(ribs, boss, middle, (end * track.way[0], end * track.way[1])))
            name = f"rib-diagonal-{number + 1}-{end_name}-{side_name}"
            yield _Piece(name=name, body=body, cuts=tuple(cuts), seams=tuple(seams))


def _ridges(ribs: Ribs, boss: float, number: int) -> Iterator[_Piece]:
    """Return the four ridge ribs of a bay: two along the hall, and two across it that end on them."""
    shape, (near, far) = ribs.shape, ribs.shape.bays[number]
    middle, half = (near + far) / 2, ribs.half
    reach = max(shape.width, shape.length)
    for end, name in ENDS.items():
        body = rib_bodies.level(ribs, _ridge(middle, along=True), -reach, reach)
        seams = [_plane(y=-end, at=half - end * (near if end < 0 else far))]
        cuts = [_plane(y=end, at=end * middle)]
        if boss:
            seams.append(_seat(ribs, boss, middle, (0.0, end)))
        elif end < 0:
            seams, cuts = [*seams, *cuts], []
        yield _Piece(name=f"rib-ridge-{number + 1}-{name}", body=body, cuts=tuple(cuts), seams=tuple(seams))
    for side, name in SIDES.items():
        body = rib_bodies.level(ribs, _ridge(middle, along=False), -reach, reach)
        seams = [_plane(x=-side, at=half - shape.width / 2), _plane(x=side, at=half)]
        if boss:
            seams.append(_seat(ribs, boss, middle, (side, 0.0)))
        yield _Piece(name=f"rib-ridge-{number + 1}-{name}", body=body, seams=tuple(seams))


def _boss(ribs: Ribs, table: VaultTable, boss: float, number: int, facet: float) -> _Piece:
    """Return a round boss with a flat for every rib that ends on it."""
    bay = ribs.shape.bays[number]
    middle = sum(bay) / 2
    ways = [rib_bodies.diagonal(ribs.shape, bay, side).way for side in SIDES]
    if table.ridge:
        ways += [(0.0, 1.0), (1.0, 0.0)]
    flats = [-_seat(ribs, boss, middle, (sign * x, sign * y)) for x, y in ways for sign in (-1, 1)]
    body = rib_bodies.post(ribs, (0.0, middle), boss, BOSS_HANG * ribs.depth, facet)
    return _Piece(name=f"boss-{number + 1}", body=body, cuts=tuple(flats))


def _seat(ribs: Ribs, boss: float, middle: float, way: tuple[float, float]) -> Array:
    """Return the plane where a rib that leaves a boss begins: its flanks meet the boss's circle there."""
    chord = math.sqrt(boss**2 - ribs.half**2)
    return np.array([*way, 0.0, -chord - way[1] * middle])


def _ridge(middle: float, *, along: bool) -> Track:
    return Track(middle=(0.0, middle), way=(0.0, 1.0) if along else (1.0, 0.0), half_span=0.0)


def _plane(*, x: float = 0.0, y: float = 0.0, z: float = 0.0, at: float) -> Array:
    """Return the plane ``(4,)`` whose positive side holds the points with (x, y, z) . p >= at."""
    return np.array([x, y, z, -at], dtype=np.float64)


def _blocks(piece: _Piece, under: Manifold, hall: Hall, path: KeyPath) -> list[Block]:
    """Return a piece cut to the vault as a block, or two where the apron's end would break it."""
    body = piece.body
    for plane in (*piece.cuts, *piece.seams):
        body = trim(body, plane)
    body ^= under
    low, high = body.bounding_box()[1], body.bounding_box()[4]
    name = f"{part_id(str(path[0]))}-{piece.name}"
    if not low < hall.apron < high:
        return [_block(name, body, piece, piece.seams, path)]
    before, behind = _plane(y=-1, at=-hall.apron), _plane(y=1, at=hall.apron)
    return [
        _block(f"{name}-apron", trim(body, before), piece, (*piece.seams, before), path),
        _block(name, trim(body, behind), piece, piece.seams, path),
    ]


def _block(name: str, body: Manifold, piece: _Piece, seams: tuple[Array, ...], path: KeyPath) -> Block:
    return Block(
        id=name, mesh=mesh_of(body), contacts=piece.contacts, joints=np.zeros((0, 2, 3)), path=path, seams=seams
    )


def _facts(ribs: Ribs, table: VaultTable, hall: Hall) -> tuple[Fact, ...]:
    if table.form == "barrel":
        return ()
    height = hall.metres(parting(ribs))
    return (Fact(subject="vault", text=f"the ribs part {height:.2f} m above the springing, where the springers end"),)
