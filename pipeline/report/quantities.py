"""How much of everything a scene takes: sheets, prints, coats, units by hand, filler, glue and paint.

Terms
-----
given
    Said by the scene. Densities that are not are common figures of the trade.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pipeline.casework.boards import Board
from pipeline.checks.clashes import layers
from pipeline.checks.evidence import Evidence
from pipeline.elements.vault.shape import shape_of
from pipeline.geometry.curves import signed_area
from pipeline.geometry.meshes import Mesh, normals, signed_volume
from pipeline.geometry.regions import Region, path_of
from pipeline.report.efforts import Effort, efforts
from pipeline.scene.made_of import MadeOf
from pipeline.stages.filling import behind_vault
from pipeline.stages.hand_work import HandWork, hand_work

Kind = Literal["sheet", "board", "print", "coat", "units", "filler", "glue", "paint", "fittings"]

MM3_PER_CM3 = 1000.0
SCREWS = 4
"""Of a small hinge, both leaves together."""
TRACE = 1.0
"""mm^3 of filler; less is what bodies that touch leave between them."""
FILAMENT = 1.75
"""mm; the diameter that most filament is drawn to."""
VAT = "supports and what the vat keeps come on top"
COVERS = 1e7
"""mm^2 that a litre of paint covers once, 10 m^2 (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """One line of the bill of materials.

    Attributes
    ----------
    kind, name, of
        What it is for, what the scene calls it, and what it is made of; nothing where nobody can tell.
    parts
        How many parts are made of it, or take it.
    area, volume
        mm^2 and mm^3; nothing where it has none or nobody reckons it.
    sheets, offcuts
        How many whole sheets of stock are begun, and how many smaller pieces are used up.
    density, given
        g/cm^3, and whether the scene gives it.
    mass
        g, of what stays in the model.
    cost
        In the scene's currency: of whole sheets, or of the mass.
    note
        What else to know.
    """

    kind: Kind
    name: str
    of: str = ""
    parts: int = 0
    area: float | None = None
    volume: float | None = None
    sheets: int = 0
    offcuts: int = 0
    density: float | None = None
    given: bool = False
    mass: float | None = None
    cost: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantities:
    """Everything a scene takes.

    Attributes
    ----------
    amounts
        The bill of materials.
    by_hand
        What each panel takes by hand.
    efforts
        By the key of ``[work.rates]``.
    currency
        As the scene gives it.
    """

    amounts: tuple[Amount, ...]
    by_hand: tuple[HandWork, ...]
    efforts: dict[str, Effort]
    currency: str

    @property
    def mass(self) -> float:
        """Of everything whose mass is known, g."""
        return math.fsum(amount.mass or 0.0 for amount in self.amounts)

    @property
    def cost(self) -> float | None:
        """Of everything that has a price, or nothing if nothing has."""
        costs = [amount.cost for amount in self.amounts if amount.cost is not None]
        return math.fsum(costs) if costs else None

    @property
    def hours(self) -> float | None:
        """Of all work that has a rate, or nothing if none has."""
        hours = [effort.hours for effort in self.efforts.values() if effort.hours is not None]
        return math.fsum(hours) if hours else None


def quantities(evidence: Evidence) -> Quantities:
    """Return what a scene takes; its sheets must have been filled."""
    scene, made = evidence.scene, MadeOf(evidence.scene)
    by_hand = hand_work(scene, evidence.room, evidence.panels, evidence.bents, evidence.kept)
    amounts = [*_sheets(evidence, made), *_boards(evidence), *_prints(evidence, made), *_laid(by_hand, made)]
    amounts += [*_filler(evidence, made), *_glues(evidence, made), *_paint(evidence, made)]
    amounts += _fittings(evidence)
    work = efforts(evidence, by_hand, painted_area(evidence))
    return Quantities(amounts=tuple(amounts), by_hand=by_hand, efforts=work, currency=scene.work.currency)


def words_used(evidence: Evidence) -> frozenset[str]:
    """Return the words for all that is used: stuff and kinds of it, in lower case."""
    made = MadeOf(evidence.scene)
    materials = dict.fromkeys(part.material for part in evidence.cut_parts)
    stuffs = [made.sheet(name).stuff for name in materials] + [made.paint, made.filler]
    stuffs += [made.prints.stuff] if evidence.prints else []
    stuffs += [stuff for part in evidence.cut_parts for stuff in layers(evidence, made, part)]
    stuffs += [made.named(amount.name) for amount in _glues(evidence, made)]
    return frozenset(word for stuff in stuffs if stuff is not None for word in stuff.kinds)


def cut_area(region: Region) -> float:
    """Return what a cut region holds, its holes taken out, mm^2."""
    outline, *holes = (abs(signed_area(path_of(loop))) for loop in region.loops)
    return float(outline - math.fsum(holes))


def _sheets(evidence: Evidence, made: MadeOf) -> Iterable[Amount]:
    for material, table in evidence.scene.materials.items():
        parts = [part for part in evidence.cut_parts if part.material == material]
        boards = [board for board in evidence.boards_cut if board.material == material]
        if not (parts or boards):
            continue
        filled = [sheet for sheet in evidence.sheets if sheet.stock.name == material]
        whole = sum(sheet.size == sheet.stock.size for sheet in filled)
        density, given = made.sheet_density(material)
        volume = math.fsum(signed_volume(part.body) for part in parts) + math.fsum(map(_board_volume, boards))
        side = made.sheet(material)
        yield Amount(
            kind="sheet",
            name=material,
            of="" if side.stuff is None else side.stuff.name,
            parts=len(parts) + len(boards),
            area=math.fsum(cut_area(part.cut) for part in (*parts, *boards)),
            volume=volume,
            sheets=whole,
            offcuts=len(filled) - whole,
            density=density,
            given=given,
            mass=_mass(volume, density),
            cost=None if table.price is None else table.price * whole,
            note="" if side.said or side.stuff is None else "told from its name",
        )


def _boards(evidence: Evidence) -> Iterable[Amount]:
    """Yield the boards of the box that lie on no sheet."""
    boards = [board for board in evidence.boards_cut if not board.material]
    if boards:
        thickness = ", ".join(dict.fromkeys(f"{board.thickness:g} mm" for board in boards))
        yield Amount(
            kind="board",
            name="the box",
            parts=len(boards),
            area=math.fsum(cut_area(board.cut) for board in boards),
            volume=math.fsum(map(_board_volume, boards)),
            note=f"{thickness} thick; rebates and the lid's saw cut are not taken off",
        )


def _board_volume(board: Board) -> float:
    """Return a board's volume before it is rebated and sawn, mm^3; a mitred end is halfway between its two faces."""
    return board.thickness * (cut_area(board.cut) + cut_area(board.hidden)) / 2


def _prints(evidence: Evidence, made: MadeOf) -> Iterable[Amount]:
    if not evidence.prints:
        return
    volume = math.fsum(part.volume for part in evidence.prints)
    density, given = made.print_density
    stuff, hollow = made.prints.stuff, sum(part.hollow for part in evidence.prints)
    mass = _mass(volume, density)
    price = evidence.scene.make.printer.price
    built = f"{hollow} of them hollow, as built" if hollow else "solid, as built"
    yield Amount(
        kind="print",
        name="prints",
        of="" if stuff is None else stuff.name,
        parts=len(evidence.prints),
        volume=volume,
        density=density,
        given=given,
        mass=mass,
        cost=_cost(mass, price if price is not None or stuff is None else stuff.price),
        note=f"{built}; {_beside(volume) if evidence.scene.make.printer.process == 'filament' else VAT}",
    )


def _beside(volume: float) -> str:
    """Return what to know of filament that makes a volume in mm^3."""
    metres = volume / (math.pi * (FILAMENT / 2) ** 2) / 1000
    return (
        f"{metres:.1f} m of {FILAMENT:g} mm filament where nothing is left hollow by the slicer; supports come on top"
    )


def _laid(by_hand: tuple[HandWork, ...], made: MadeOf) -> Iterable[Amount]:
    coats: dict[tuple[Kind, str], list[tuple[HandWork, float]]] = {}
    for work in by_hand:
        if work.coat > 0:
            stuff = made.coat(work.material)
            coats.setdefault(("coat", "" if stuff is None else stuff.name), []).append((work, work.coat))
        if work.units > 0:
            stuff = made.units(work.cover or "", work.material)
            coats.setdefault(("units", "" if stuff is None else stuff.name), []).append((work, work.units))
    for (kind, name), works in coats.items():
        stuff = made.named(name) if name else None
        density, given = made.density(stuff)
        volume = math.fsum(volume for _, volume in works)
        mass = _mass(volume, density)
        where = "the finish" if kind == "coat" else "units laid by hand"
        yield Amount(
            kind=kind,
            name=name or where,
            of=name,
            parts=len(works),
            area=None if kind == "coat" else math.fsum(work.units_area for work, _ in works),
            volume=volume,
            density=density,
            given=given,
            mass=mass,
            cost=_cost(mass, None if stuff is None else stuff.price),
            note=f"{where}; take a quarter more" if name else f'{where}; say what of with coat = "..."',
        )


def _filler(evidence: Evidence, made: MadeOf) -> Iterable[Amount]:
    stuff, volume = made.filler, filler_volume(evidence)
    if stuff is None or not volume:
        return
    density, given = made.density(stuff)
    mass, level = _mass(volume, density), evidence.scene.work.fill_to
    to = "the box's top" if level is None else f"{level:g} mm above the box's bottom"
    yield Amount(
        kind="filler",
        name=stuff.name,
        of=stuff.name,
        volume=volume,
        density=density,
        given=given,
        mass=mass,
        cost=_cost(mass, stuff.price),
        note=f"behind the vault, from the springing to {to}",
    )


def filler_volume(evidence: Evidence) -> float | None:
    """Return the volume of the filler behind the vault, mm^3; nothing where none is asked for."""
    scene, room = evidence.scene, evidence.room
    if scene.vault is None or scene.work.filler is None:
        return None
    shape, level = shape_of(scene.vault, room.hall), scene.work.fill_to
    cuts = evidence.imagined.cuts
    meshes = tuple(part.body for part in evidence.parts)
    walls = (room.inside.opening, room.inside.back)
    volume = evidence.kept.given(
        (behind_vault, shape, room.hall.shape, room.relief, walls, meshes, cuts, level),
        lambda: behind_vault(shape, room.hall, room.relief, room.inside, bodies=meshes, cuts=cuts, level=level),
    )
    return volume if volume >= TRACE else 0.0


def _glues(evidence: Evidence, made: MadeOf) -> Iterable[Amount]:
    joints: dict[str, int] = {}
    material = {part.id: part.material for part in evidence.cut_parts}
    for one, other in evidence.touching:
        name = made.glue(made.side(material.get(one)), made.side(material.get(other))).glue.name
        joints[name] = joints.get(name, 0) + 1
    for name, count in joints.items():
        stuff = made.named(name)
        yield Amount(kind="glue", name=name, of=name, density=stuff.density, note=f"{count} joints")


def _paint(evidence: Evidence, made: MadeOf) -> Iterable[Amount]:
    paint = made.paint
    count, area = len(evidence.cut_parts) + len(evidence.prints), painted_area(evidence)
    note = f"about {math.ceil(area / COVERS * 1000)} ml for each coat"
    yield Amount(kind="paint", name=paint.name, of=paint.name, parts=count, area=area, note=note)


def _fittings(evidence: Evidence) -> Iterable[Amount]:
    """Yield what the lid hangs on."""
    if evidence.casework is None or not evidence.boards_cut:
        return
    hinging, board = evidence.casework.hinging, evidence.casework.shell.make.board
    if not hinging.screwed:
        strip = f"linen or leather, {hinging.long:.0f} mm long, glued over the hinge line"
        yield Amount(kind="fittings", name="strip", parts=1, note=strip)
        return
    count = len(hinging.middles)
    holes = f"up to {hinging.length:.0f} mm long, their holes about {hinging.screws:g} mm from the pin"
    yield Amount(kind="fittings", name="hinges", parts=count, note=holes)
    yield Amount(kind="fittings", name="screws", parts=SCREWS * count, note=f"within the board's {board:g} mm")


def painted_area(evidence: Evidence) -> float:
    """Return the area of what may be seen: visible faces of panels, and the outsides of prints all round, mm^2."""
    relief = evidence.room.relief
    prints = (
        Mesh(vertices=relief.build_points(part.skin_imagined.vertices), triangles=part.skin_imagined.triangles)
        for part in evidence.prints
        if part.piece <= 1
    )
    outsides = math.fsum(float(np.linalg.norm(normals(mesh), axis=1).sum()) / 2 for mesh in prints)
    return math.fsum(float(part.area) for part in evidence.cut_parts) + outsides


def _mass(volume: float, density: float | None) -> float | None:
    """Return the mass in g of a volume in mm^3."""
    return None if density is None else volume / MM3_PER_CM3 * density


def _cost(mass: float | None, price: float | None) -> float | None:
    """Return what a mass in g costs at a price for the kilogram."""
    return None if mass is None or price is None else mass / 1000 * price
