"""The webs of a vault, and where the walls end below them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Fact, Imagined, Web, WebEnd
from pipeline.elements.problems import KeyPath
from pipeline.elements.vault.cells import Border, Cell, Stretch, cells
from pipeline.elements.vault.shape import TOUCH, VaultShape, lines_left_out, shape_of
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.regions import Edge, Loop
from pipeline.geometry.sections import halves

Array = NDArray[np.float64]

BARE_SHARE = 8
"""Of the last bay's length one in so many behind its middle the half ribs at the back wall begin to show its webs."""
COVERED = 0.8
"""Of half the ribs' width: so far beside a groin nothing of a web is seen, from the sides either."""


def imagine(table: VaultTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the webs of a vault that has no problems over this hall."""
    shape = shape_of(table, hall)
    sheet = hall.sheet(table.material)
    printed = table.rib_width > 0 and table.ribs == "print"
    hidden = _parting(table, hall, shape) if printed else None
    bare = lines_left_out(shape, hall.millimetres(table.rib_width) / 2, hall) if printed else frozenset[int]()
    webs = tuple(
        Web(
            id=cell.id,
            near=_lifted(cell, cell.near, shape),
            far=_lifted(cell, cell.far, shape),
            section=cell.section,
            barrel=halves(shape.barrel),
            imagined_from_section=_from_section(cell, shape),
            near_ends=tuple(_built_end(border.end, hall) for border in cell.near),
            far_ends=tuple(_built_end(border.end, hall) for border in cell.far),
            ends=(_built_end(cell.ends[0], hall), _built_end(cell.ends[1], hall)),
            sheet=sheet,
            printed=table.webs == "print",
            cover=table.cover,
            extent=hall.depth if cell.along else hall.width,
            hidden_below=None if cell.along and bare & {cell.bay, cell.bay + 1} else hidden,
            path=path,
            covered=COVERED * hall.millimetres(table.rib_width) / 2,
            bare_from=_bare_from(cell, shape),
            eased=hall.web_eased if _in_hole(cell, hall) else 0.0,
        )
        for cell in cells(shape, _stretches(hall))
    )
    return Imagined(webs=webs, facts=(_fact(table, hall, shape), *_easing(hall)))


def tops(shape: VaultShape, hall: Hall) -> dict[str, Loop]:
    """Return the upper borders of the walls and of the front frame's inside, host coordinates, right to left."""
    found = cells(shape, _stretches(hall))
    raised = np.array([[1.0, 0.0, hall.width / 2], [0.0, 1.0, -hall.floor], [0.0, 0.0, 1.0]])
    ends: dict[str, list[Edge]] = {"left-wall": [], "right-wall": [], "back-wall": [], "front-frame": []}
    for cell in found:
        if cell.along:
            for curve, near, far in zip(cell.section, cell.near, cell.far, strict=True):
                edge = Edge(curves.transform(curve, raised), cell.id)
                if far.end.against == "back-wall":
                    ends["back-wall"].append(edge)
                if near.slope == 0.0 and near.offset <= hall.front + TOUCH:
                    ends["front-frame"].append(edge)
    for wall in ("left", "right"):
        ends[f"{wall}-wall"] = _side_top(shape, hall, [c for c in found if c.id.split("-web-")[-1].startswith(wall)])
    if shape.form == "barrel":
        ends["left-wall"] = ends["right-wall"] = [
            Edge(
                curves.line(
                    (max(f.at(0) for f in cell.far), level), (max(hall.front, *(n.at(0) for n in cell.near)), level)
                ),
                cell.id,
            )
            for cell in reversed(found)
            for level in (shape.springing - hall.floor,)
        ]
    ends["front-frame"] = [Edge(curves.transform(curve, raised)) for curve in halves(shape.barrel)]
    return {host: tuple(loop) for host, loop in ends.items()}


def _side_top(shape: VaultShape, hall: Hall, beside: list[Cell]) -> list[Edge]:
    """Return the wall arches in (y, height over the floor), from the back wall to the front."""
    loop = []
    for cell in sorted(beside, key=lambda cell: -_centre(cell, shape) - _first(cell) * 1e-6):
        lift = np.array(
            [
                [shape.length / shape.width, 0.0, _centre(cell, shape)],
                [0.0, 1.0, -hall.floor],
                [0.0, 0.0, 1.0],
            ]
        )
        loop += [Edge(curves.transform(curve, lift), cell.id) for curve in cell.section]
    return loop


def _centre(cell: Cell, shape: VaultShape) -> float:
    near, far = shape.bays[cell.bay]
    return (near + far) / 2


def _first(cell: Cell) -> float:
    return float(cell.section[0].start[0])


def _stretches(hall: Hall) -> tuple[Stretch, ...]:
    before = "front-frame" if "front-frame" in hall.surfaces else ""
    if hall.apron > hall.front + TOUCH:
        near = Stretch(hall.front, hall.apron, "-apron", before, min(hall.web_front, hall.front))
        return (near, Stretch(hall.apron, hall.depth, "", "", hall.apron))
    return (Stretch(hall.front, hall.depth, "", before, min(hall.web_front, hall.front)),)


def _lifted(cell: Cell, borders: tuple[Border, ...], shape: VaultShape) -> Path:
    """Return a border of a cell in space, imagined mm, exact."""
    return tuple(_lift(curve, border, cell, shape) for curve, border in zip(cell.section, borders, strict=True))


def _lift(curve: Curve, border: Border, cell: Cell, shape: VaultShape) -> Curve:
    """Lift (a, z, 1) by u = offset + slope a."""
    rows = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [border.slope, 0.0, border.offset], [0.0, 0.0, 1.0]])
    plain = _placing(cell, shape, 0.0)
    return curves.transform(curve, plain @ rows)


def _from_section(cell: Cell, shape: VaultShape) -> Array:
    """Return the matrix from (a, z, u, 1), u from the opening or from the left wall."""
    return _placing(cell, shape, 0.0 if cell.along else -shape.width / 2)


def _placing(cell: Cell, shape: VaultShape, start: float) -> Array:
    """Return the matrix from (a, z, u, 1) with u measured from ``start`` on the axis of the rulings."""
    if cell.along:
        return np.array([[1.0, 0, 0, 0], [0, 0, 1.0, start], [0, 1.0, 0, 0], [0, 0, 0, 1.0]])
    k = shape.length / shape.width
    return np.array([[0, 0, 1.0, start], [k, 0, 0, _centre(cell, shape)], [0, 1.0, 0, 0], [0, 0, 0, 1.0]])


def _built_end(end: WebEnd, hall: Hall) -> WebEnd:
    stands = end.against.startswith("vault-") or end.against in hall.surfaces
    return WebEnd(plane=end.plane, against=end.against if stands else "")


def _parting(table: VaultTable, hall: Hall, shape: VaultShape) -> float:
    """Return the height z at which the diagonal ribs part from the transverse and from the wall ribs in plan.

    A band of half width h along the diagonal, at an angle f to the rib beside it, parts from that rib's band of the
    same width h (1 + 1 / cos f) / tan f from the corner, measured along the rib.
    """
    half = hall.millimetres(table.rib_width) / 2
    heights = []
    for side, other in ((shape.width, shape.length), (shape.length, shape.width)):
        slant = np.arctan2(other, side)
        away = half * (1 + 1 / np.cos(slant)) / np.tan(slant)
        heights.append(float(shape.share(max(0.0, 1 - 2 * away / side))))
    return shape.springing + shape.rise * min(heights)


def _bare_from(cell: Cell, shape: VaultShape) -> float:
    """Return the imagined y behind which ribs hide nothing of a cell's edges.

    Across the hall the web rises from its far groin toward the viewer, who looks over the rib's flank at it.
    """
    if not cell.along:
        return sum(shape.bays[cell.bay]) / 2
    return sum(shape.bays[-1]) / 2 + shape.length / BARE_SHARE


def _in_hole(cell: Cell, hall: Hall) -> bool:
    """Return whether a cell starts within the hole of the front frame."""
    return cell.along and min(border.at(0.0) for border in cell.near) < hall.front - TOUCH


def _easing(hall: Hall) -> tuple[Fact, ...]:
    if hall.web_eased == 0.0:
        return ()
    text = f"Ease the hidden side of the first web's front edge by {hall.web_eased:.2f} mm, so that it slides into the"
    return (Fact(subject="vault", text=f"{text} front frame's hole, where it closes the gap to the frame."),)


def _fact(table: VaultTable, hall: Hall, shape: VaultShape) -> Fact:
    bay = hall.metres(shape.length)
    return Fact(
        subject="vault",
        text=f"A {table.profile} {table.form} vault of {table.bays} {'bay' if table.bays == 1 else 'bays'}, "
        f"{bay:.2f} m each, springs at {table.springing:.2f} m and has its crown at "
        f"{table.springing + table.rise:.2f} m.",
    )
