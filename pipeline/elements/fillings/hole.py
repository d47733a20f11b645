"""The hole that is filled, and the flat piece that fills it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from pydantic import Field

from pipeline.elements.hall_shape import Hall
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Face, Family
from pipeline.geometry import curves
from pipeline.geometry.clipping import clip
from pipeline.geometry.curves import Path
from pipeline.geometry.heads import Head, parallel_head
from pipeline.geometry.regions import Region, loop_of
from pipeline.units import NonNegativeMetres, PositiveMetres, Table, part_id

INWARD = {"left-wall": (1.0, 0.0, 0.0), "right-wall": (-1.0, 0.0, 0.0), "back-wall": (0.0, -1.0, 0.0)}
NO_LENGTH = 1e-9
"""mm; a jamb shorter than this is none."""


class FillingTable(Table):
    """What every piece that fills a hole may say of itself."""

    material: str | None = Field(
        default=None, description="Name of a table of [materials]; may be left out where there is only one."
    )
    rebate: NonNegativeMetres = Field(
        default=0.10, description="How far the piece reaches past the hole on each side, to be glued on, m."
    )
    inset: PositiveMetres | None = Field(
        default=None,
        description="How far behind the wall's face it stands, m; left out, flat on the back of the wall's sheet.",
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hole:
    """An opening's hole, host coordinates, imagined mm.

    Attributes
    ----------
    host, name, path
        Its wall, its name, and where the scene file speaks of it.
    head, width, height, rise
        Its outline; the height runs from sill to crown.
    middle, sill
        Where it stands on the wall.
    curve
        The outline itself, closed and counter-clockwise.
    reveal
        Thickness of wall that is seen in it; what fills it stands behind that.
    """

    host: str
    name: str
    path: KeyPath
    head: Head
    width: float
    height: float
    rise: float
    middle: float
    sill: float
    curve: Path
    reveal: float

    @property
    def springing(self) -> float:
        """Height of the head's springing above the floor."""
        return self.sill + self.height - self.rise


def rebate_problems(fillings: Iterable[tuple[str, FillingTable | None]], hole: Hole, hall: Hall) -> Iterator[Problem]:
    """Yield a problem for each rebate that cannot go round the hole's head."""
    for what, table in fillings:
        if table is None:
            continue
        try:
            parallel_head(hole.head, hole.width, hole.rise, hall.millimetres(table.rebate))
        except ValueError as error:
            found = f"no rebate of {table.rebate:g} m goes round this {hole.head} head"
            yield Problem(
                path=(*hole.path, what, "rebate"), found=found, allowed=str(error), remedy="make the rebate narrower"
            )


def filling(
    hole: Hole,
    what: str,
    table: FillingTable,
    hall: Hall,
    *,
    panes: tuple[Path, ...] = (),
    lines: tuple[Family, ...] = (),
) -> Face:
    """Return the flat piece of a hole, drawn on its wall; the room sets it behind the wall's sheet.

    Parameters
    ----------
    hole, what
        What is filled, and with what: ``"tracery"``, ``"door"``.
    table
        Its sheet, rebate and inset; without one it stands at the end of the reveal, or flat on the wall's sheet.
    hall
        The hall.
    panes
        Its holes, closed and counter-clockwise, host coordinates.
    lines
        Drawn on its visible face, host coordinates.
    """
    outline = clip(_grown(hole, hall.millimetres(table.rebate)), _limits(hall, hole.host))
    inset = None if table.inset is None else hall.millimetres(table.inset)
    return Face(
        id=f"{part_id(hole.name)}-{what}",
        imagined_from_host=hall.imagined_from_host(hole.host),
        inward=np.array(INWARD[hole.host]),
        up=np.array([0.0, 0.0, 1.0]),
        region=Region(loop_of(outline), tuple(loop_of(curves.reverse_path(pane)) for pane in panes)),
        sheet=hall.sheet(table.material),
        cover=None,
        extent=hall.size(hole.host),
        level=False,
        path=(*hole.path, what),
        behind=hole.host,
        inset=inset if inset is not None else hole.reveal or None,
        lines=lines,
    )


def _grown(hole: Hole, rebate: float) -> Path:
    """Return the outline ``rebate`` larger on every side."""
    shift = np.array([[1.0, 0.0, hole.middle], [0.0, 1.0, hole.springing], [0.0, 0.0, 1.0]])
    over = curves.transform_path(parallel_head(hole.head, hole.width, hole.rise, rebate), shift)
    right, left, low = over[0].start, over[-1].end, hole.sill - rebate
    around = [curves.line((left[0], low), (right[0], low))]
    if right[1] - low > NO_LENGTH:
        around.append(curves.line((right[0], low), right))
        return (*around, *over, curves.line(left, (left[0], low)))
    return (*around, *over)


def _limits(hall: Hall, host: str) -> list[tuple[float, float, float]]:
    """Return half planes that keep a piece within its wall, so that it does not meet the wall's neighbours."""
    width, height = hall.size(host)
    start = hall.front if host != "back-wall" else 0.0
    return [(1.0, 0.0, -start), (-1.0, 0.0, width), (0.0, 1.0, 0.0), (0.0, -1.0, height)]
