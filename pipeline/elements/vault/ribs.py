"""The ribs of a vault: what hangs below its groins, bay lines, walls and crowns.

Terms
-----
arm
    The part of a diagonal rib between one pier and the crown.
springer
    The foot of all ribs at a pier, up to the bed where they have parted.
left out
    Half ribs, at either end of the hall, that the relief makes too thin to print. Their outline is marked on the wall.
bed
    The level of the springers' tops, and where every rib above begins.
seam
    A plane where ribs meet one another; one of the two prints stands off it by the play.

The webs' visible face is the vault itself, so ribs end below it by a play of their own (`rib_bodies.PLAY_ACROSS`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Mark
from pipeline.elements.vault import crowns, rib_bodies
from pipeline.elements.vault.rib_bodies import Ribs, ribs_of
from pipeline.elements.vault.shape import find_problems, lines_left_out, shape_of
from pipeline.elements.vault.sheet_ribs import laminate
from pipeline.elements.vault.springers import framed_wall_rib, parting, springer
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry import curves
from pipeline.geometry.booleans import mesh_of, trim
from pipeline.keeping.kept import around
from pipeline.units import part_id

Array = NDArray[np.float64]

SIMPLE = 1e-3
"""mm; what cutting left smaller than this is taken out: single-precision files would tear there."""
SIDES = {-1: "left", 1: "right"}
ENDS = {-1: "near", 1: "far"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Form:
    """What a body is made by, and what of."""

    make: Callable[..., Manifold]
    given: tuple[Any, ...]
    named: tuple[tuple[str, Any], ...]


def _form(make: Callable[..., Manifold], *given: object, **named: object) -> _Form:
    return _Form(make=make, given=given, named=tuple(named.items()))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Piece:
    """One print before it is cut to the vault: ``cuts`` bound it, ``seams`` bound it with play, all planes ``(4,)``."""

    name: str
    form: _Form
    contacts: tuple[str, ...] = ()
    cuts: tuple[Array, ...] = ()
    seams: tuple[Array, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """What the hall is to its ribs, imagined mm."""

    width: float
    depth: float
    apron: float


def imagine(table: VaultTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return a vault's ribs, to be printed or laminated; nothing without `rib_width`, or if the vault does not fit."""
    if table.rib_width == 0 or find_problems(table, hall, path):
        return Imagined()
    ribs = ribs_of(table, hall, shape_of(table, hall))
    if table.ribs == "sheet":
        return laminate(ribs, table, hall, path)
    boss = hall.millimetres(table.boss) / 2
    problems = _problems(ribs, boss, table, hall, path)
    if problems:
        return Imagined(problems=tuple(problems))
    left_out = lines_left_out(ribs.shape, ribs.half, hall)
    pieces = _groin(ribs, table, boss, hall, left_out) if table.form == "groin" else _barrel(ribs, table, left_out)
    room = _Room(width=hall.width, depth=hall.depth, apron=hall.apron)
    # Most pieces stay as they are while the opening, or what one end of the hall can carry, changes.
    blocks = tuple(block for piece in pieces for block in around().of(_blocks, piece, room, path))
    marks = (_mark(ribs, hall, path),) if ribs.shape.last in left_out and "back-wall" in hall.surfaces else ()
    return Imagined(blocks=blocks, marks=marks, facts=_facts(ribs, table, hall))


def _mark(ribs: Ribs, hall: Hall, path: KeyPath) -> Mark:
    """Return where the half rib at the back wall is laid up by hand: between the vault and the rib's soffit."""
    shape, host = ribs.shape, np.array([[1.0, 0.0, hall.width / 2], [0.0, 1.0, -hall.floor], [0.0, 0.0, 1.0]])
    thinner = [1 - 2 * ribs.depth / shape.width, 1 - ribs.depth / shape.rise]
    inward = np.diag([*thinner, 1.0])
    inward[1, 2] = shape.springing * (1 - thinner[1])
    outer = curves.transform_path(shape.barrel, host)
    inner = curves.transform_path(shape.barrel, host @ inward)
    back = tuple(curves.reverse(curve) for curve in reversed(inner))
    ends = curves.line(outer[-1].end, back[0].start), curves.line(back[-1].end, outer[0].start)
    name = f"{part_id(str(path[0]))}-rib-transverse-{shape.last + 1}"
    return Mark(host="back-wall", name=name, curve=(*outer, ends[0], *back, ends[1]))


def _problems(ribs: Ribs, boss: float, table: VaultTable, hall: Hall, path: KeyPath) -> list[Problem]:
    """Return what keeps ribs from leaving one another, and from meeting again."""
    if table.form == "barrel":
        return _barrel_problems(ribs, table, hall, path)
    if 0 < boss <= ribs.half:
        found = f"a boss {table.boss:g} m wide where ribs {table.rib_width:g} m wide meet"
        allowed, remedy = f"more than {table.rib_width:g} m", "a wider boss, or narrower ribs"
        return [Problem(path=(*path, "boss"), found=found, allowed=allowed, remedy=remedy)]
    if _parted(ribs, boss, ridge=table.ridge):
        return []
    found = (
        f"ribs {table.rib_width:g} m wide and {table.rib_depth:g} m deep do not leave one another between pier and "
        f"crown of bays {hall.metres(ribs.shape.length):.4g} m long"
    )
    allowed = "ribs that part below their crowns"
    remedy = "narrower or shallower ribs, a smaller boss, or fewer bays"
    return [Problem(path=(*path, "rib_width"), found=found, allowed=allowed, remedy=remedy)]


def _barrel_problems(ribs: Ribs, table: VaultTable, hall: Hall, path: KeyPath) -> list[Problem]:
    """Return what keeps a barrel's ribs from being ribs: a boss without diagonals, a ridge wider than its crown."""
    problems = []
    if table.boss:
        found = "a barrel vault has no diagonal ribs to meet in a boss"
        allowed, remedy = "a boss under a groin vault", "leave boss out"
        problems.append(Problem(path=(*path, "boss"), found=found, allowed=allowed, remedy=remedy))
    top = rib_bodies.ridge_top(ribs, ribs.shape.width)
    if table.ridge and top <= ribs.shape.crown - ribs.depth / 2:
        found = (
            f"over the sides of a ridge rib {table.rib_width:g} m wide and {table.rib_depth:g} m deep the barrel is "
            f"{hall.metres(ribs.shape.crown - top):.4g} m lower than its crown"
        )
        allowed, remedy = "at most half the rib's depth lower", "narrower or deeper ribs, or leave ridge out"
        problems.append(Problem(path=(*path, "rib_width"), found=found, allowed=allowed, remedy=remedy))
    return problems


def _parted(ribs: Ribs, boss: float, *, ridge: bool) -> bool:
    """Whether every rib has room between its springers and its crown."""
    shape, bed, rise = ribs.shape, parting(ribs), ribs.shape.rise - ribs.depth
    if ribs.depth >= shape.length / 2 or bed >= rise:
        return False
    if not (boss or ridge):
        return True
    diagonals, long, cross = crowns.seats(ribs, boss, ridge=ridge)
    share = diagonals / (math.hypot(shape.width, shape.length) / 2 - ribs.depth)
    if share >= 1 or float(shape.share(share)) * rise <= bed:
        return False
    if not ridge:
        return True
    level = shape.crown - ribs.depth / 2
    deep = all(rib_bodies.ridge_top(ribs, span) > level for span in (shape.width, shape.length))
    return deep and long + ribs.half < shape.length / 2 and cross + ribs.half < shape.width / 2


def _barrel(ribs: Ribs, table: VaultTable, left_out: frozenset[int]) -> Iterator[_Piece]:
    """Return arches on every bay line and, if asked, a ridge between each two."""
    shape = ribs.shape
    foot = _plane(z=1, at=shape.springing)
    for k, line in enumerate(shape.lines):
        if k in left_out:
            continue
        contacts = ("left-wall", "right-wall", *(("back-wall",) if k == shape.last else ()))
        form = _form(rib_bodies.arched, ribs, rib_bodies.transverse(shape, line))
        yield _Piece(name=f"rib-transverse-{k + 1}", form=form, contacts=contacts, seams=(foot,))
    for k, (near, far) in enumerate(shape.bays if table.ridge else ()):
        form = _form(rib_bodies.level, ribs, rib_bodies.long_ridge(shape, (near, far)), shape.width)
        arches = {k: _arch(ribs, (near, far), -1), k + 1: _arch(ribs, (near, far), 1)}
        seams = tuple(plane for line, plane in arches.items() if line not in left_out)
        contacts = ("back-wall",) if k + 1 == shape.last and shape.last in left_out else ()
        yield _Piece(name=f"rib-ridge-{k + 1}", form=form, contacts=contacts, seams=seams)


def _groin(ribs: Ribs, table: VaultTable, boss: float, hall: Hall, left_out: frozenset[int]) -> Iterator[_Piece]:
    shape = ribs.shape
    bed = shape.springing + parting(ribs)
    on_bed, foot = _plane(z=1, at=bed), _plane(z=1, at=shape.springing)
    for k, line in enumerate(shape.lines):
        behind = ("back-wall",) if k == shape.last else ()
        for side, name in SIDES.items():
            form = _form(springer, ribs, k, side, bed, hall.front if k == 0 else 0.0, alone=k in left_out)
            yield _Piece(name=f"springer-{name}-{k + 1}", form=form, contacts=(f"{name}-wall", *behind), seams=(foot,))
        if k in left_out:
            continue
        form = _form(rib_bodies.arched, ribs, rib_bodies.transverse(shape, line))
        yield _Piece(name=f"rib-transverse-{k + 1}", form=form, contacts=behind, seams=(on_bed,))
    for k, bay in enumerate(shape.bays):
        for side, name in SIDES.items():
            seams: tuple[Array, ...] = (on_bed,)
            form = _form(rib_bodies.arched, ribs, rib_bodies.wall(shape, bay, side))
            if k == 0 and hall.front > 0:
                form, seams = _form(framed_wall_rib, ribs, side, bed, hall.front), ()
            yield _Piece(name=f"rib-wall-{name}-{k + 1}", form=form, contacts=(f"{name}-wall",), seams=seams)
        yield from _arms(ribs, boss, k, on_bed, ridge=table.ridge)
        if table.ridge:
            yield from _ridges(ribs, boss, k, left_out)
        if boss or table.ridge:
            form = _form(crowns.crown_block, ribs, boss, bay, ridge=table.ridge, facet=hall.facet)
            yield _Piece(name=f"boss-{k + 1}", form=form)


def _arms(ribs: Ribs, boss: float, number: int, on_bed: Array, *, ridge: bool) -> Iterator[_Piece]:
    """Return the four arms of a bay's diagonals, which end at the crown block, or on one another."""
    shape, bay = ribs.shape, ribs.shape.bays[number]
    distance = crowns.seats(ribs, boss, ridge=ridge)[0]
    for end, end_name in ENDS.items():
        for side, side_name in SIDES.items():
            track = rib_bodies.diagonal(shape, bay, side * end)
            seams, cuts = [on_bed], list[Array]()
            if boss or ridge:
                seams.append(crowns.seat(track, distance, end))
            else:
                (seams if side < 0 else cuts).append(_plane(x=side, at=0.0))
                (seams if end < 0 else cuts).append(_plane(y=end, at=end * sum(bay) / 2))
            name = f"rib-diagonal-{number + 1}-{end_name}-{side_name}"
            form = _form(rib_bodies.arched, ribs, track)
            yield _Piece(name=name, form=form, cuts=tuple(cuts), seams=tuple(seams))


def _ridges(ribs: Ribs, boss: float, number: int, left_out: frozenset[int]) -> Iterator[_Piece]:
    """Return the four ridge ribs of a bay, from the crown block to the arches on bay lines and walls."""
    shape, bay = ribs.shape, ribs.shape.bays[number]
    _, long, cross = crowns.seats(ribs, boss, ridge=True)
    along, across = rib_bodies.long_ridge(shape, bay), rib_bodies.cross_ridge(shape, bay)
    for end, name in ENDS.items():
        line, form = number + (end > 0), _form(rib_bodies.level, ribs, along, shape.width)
        arches = () if line in left_out else (_arch(ribs, bay, end),)
        contacts = ("back-wall",) if line in left_out and line == shape.last else ()
        seams = (*arches, crowns.seat(along, long, end))
        yield _Piece(name=f"rib-ridge-{number + 1}-{name}", form=form, contacts=contacts, seams=seams)
    for side, name in SIDES.items():
        arch = _plane(x=-side, at=ribs.half - shape.width / 2)
        seams = (arch, crowns.seat(across, cross, side))
        form = _form(rib_bodies.level, ribs, across, shape.length)
        yield _Piece(name=f"rib-ridge-{number + 1}-{name}", form=form, seams=seams)


def _arch(ribs: Ribs, bay: tuple[float, float], end: int) -> Array:
    """Return the plane in which the arch on a bay line ends, at the near (-1) or the far end of a bay."""
    return _plane(y=-end, at=ribs.half - end * bay[end > 0])


def _plane(*, x: float = 0.0, y: float = 0.0, z: float = 0.0, at: float) -> Array:
    """Return the plane ``(4,)`` whose positive side holds the points with (x, y, z) . p >= at."""
    return np.array([x, y, z, -at], dtype=np.float64)


def _blocks(piece: _Piece, room: _Room, path: KeyPath) -> list[Block]:
    """Return a piece as a block kept in the hall, or as two where the apron's end would break it."""
    body = piece.form.make(*piece.form.given, **dict(piece.form.named))
    for plane in (*piece.cuts, *piece.seams, *_outside(body, room)):
        body = trim(body, plane)
    low, high = body.bounding_box()[1], body.bounding_box()[4]
    name = f"{part_id(str(path[0]))}-{piece.name}"
    if not low < room.apron < high:
        return [_block(name, body, piece, piece.seams, path)]
    before, behind = _plane(y=-1, at=-room.apron), _plane(y=1, at=room.apron)
    return [
        _block(f"{name}-apron", trim(body, before), piece, (*piece.seams, before), path),
        _block(name, trim(body, behind), piece, piece.seams, path),
    ]


def _outside(body: Manifold, room: _Room) -> list[Array]:
    """Return the planes of the hall that a body crosses."""
    left, near, _, right, far, _ = body.bounding_box()
    half = room.width / 2
    planes = (
        (left < -half, _plane(x=1, at=-half)),
        (right > half, _plane(x=-1, at=-half)),
        (near < 0, _plane(y=1, at=0)),
        (far > room.depth, _plane(y=-1, at=-room.depth)),
    )
    return [plane for crossed, plane in planes if crossed]


def _block(name: str, body: Manifold, piece: _Piece, seams: tuple[Array, ...], path: KeyPath) -> Block:
    return Block(
        id=name,
        mesh=mesh_of(body.simplify(SIMPLE)),
        contacts=piece.contacts,
        joints=np.zeros((0, 2, 3)),
        path=path,
        seams=seams,
    )


def _facts(ribs: Ribs, table: VaultTable, hall: Hall) -> tuple[Fact, ...]:
    if table.form == "barrel":
        return ()
    height = hall.metres(parting(ribs))
    return (Fact(subject="vault", text=f"the ribs part {height:.2f} m above the springing, where the springers end"),)
