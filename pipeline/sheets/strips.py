"""Parts packed into strips by spyrrow, an optional extra: closer than the grid, but only along one direction.

It packs strips of a fixed height as short as it can, knows no holes, and panics on outlines it cannot take. So a sheet
is a strip of its own height that has to come out no longer than the sheet; parts that lie on two sheets are tried on
one; and whatever it says is checked before it is used. It is not reproducible, not even with a seed.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec

import numpy as np
import shapely

from pipeline.sheets.layouts import misfit
from pipeline.sheets.nesting import Layout, Placed, corner_matrix
from pipeline.sheets.searching import worth
from pipeline.sheets.stock import Stock

GROWN = 0.03
"""mm by which outlines are grown, to be drawn with fewer corners."""


def available() -> bool:
    """Return whether the extra is installed."""
    return find_spec("spyrrow") is not None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Job:
    """A material, what each part takes up, the seed, and the seconds each try takes."""

    stock: Stock
    shapes: list[shapely.Polygon]
    seed: int
    seconds: int


def squeeze(stock: Stock, shapes: list[shapely.Polygon], start: Layout, seed: int, seconds: float) -> Layout:
    """Return a layout that takes less stock than ``start``, or ``start``.

    Parameters
    ----------
    stock, shapes
        The material, and what each part takes up, mm.
    start
        A layout that fits.
    seed
        Handed on.
    seconds
        What all tries may take together, about; each takes one at least.
    """
    best, count = start, len(start.sheets)
    job = _Job(stock=stock, shapes=shapes, seed=seed, seconds=max(1, int(seconds / (count + (count > 1)))))
    if count > 1:
        best = _better(best, _merged(job, best), job)
    for number in range(len(best.sheets)):
        parts = [p.part for p in best.placed if p.sheet == number]
        laid = _strip(job, parts, best.sheets[number], number)
        if laid is not None:
            others = [p for p in best.placed if p.sheet != number]
            best = _better(best, _layout([*others, *laid], best), job)
    return best


def _merged(job: _Job, start: Layout) -> Layout | None:
    """Return a layout with the two emptiest whole sheets made one."""
    stock, shapes = job.stock, job.shapes
    whole = [n for n, size in enumerate(start.sheets) if size == stock.size]
    filled = {n: sum(shapes[p.part].area for p in start.placed if p.sheet == n) for n in whole}
    pair = sorted(sorted(whole, key=lambda n: filled[n])[:2])
    if len(pair) < 2 or sum(filled[n] for n in pair) > 0.9 * stock.size[0] * stock.size[1]:
        return None
    keep, gone = pair
    parts = [p.part for p in start.placed if p.sheet in pair]
    laid = _strip(job, parts, stock.size, keep)
    if laid is None:
        return None
    others = [
        Placed(part=p.part, sheet=p.sheet - (p.sheet > gone), sheet_from_flat=p.sheet_from_flat)
        for p in start.placed
        if p.sheet not in pair
    ]
    sheets = tuple(size for n, size in enumerate(start.sheets) if n != gone)
    return Layout(placed=(*others, *laid), sheets=sheets, left_over=start.left_over)


def _layout(placed: list[Placed], like: Layout) -> Layout:
    return Layout(placed=tuple(placed), sheets=like.sheets, left_over=like.left_over)


def _better(one: Layout, other: Layout | None, job: _Job) -> Layout:
    """Return the other if it fits and takes less."""
    if other is None:
        return one
    other = Layout(
        placed=tuple(sorted(other.placed, key=lambda p: p.part)), sheets=other.sheets, left_over=other.left_over
    )
    if misfit(other, job.stock, [str(i) for i in range(len(job.shapes))], job.shapes):
        return one
    return other if worth(other, job.stock, job.shapes) < worth(one, job.stock, job.shapes) else one


def _strip(job: _Job, parts: list[int], size: tuple[float, float], sheet: int) -> list[Placed] | None:
    """Return parts packed on one sheet, as far to the left as was found, or nothing where they do not fit."""
    import spyrrow

    stock, shapes = job.stock, job.shapes
    inside = (size[0] - 2 * stock.margin, size[1] - 2 * stock.margin)
    turns = [0.0, 180.0] if stock.grain else [0.0, 90.0, 180.0, 270.0]
    items = []
    for part in parts:
        outline = shapely.Polygon(shapes[part].exterior).buffer(GROWN).simplify(GROWN / 2)
        low_x, low_y, high_x, high_y = outline.bounds
        if min(high_x - low_x, high_y - low_y) > min(inside) or max(high_x - low_x, high_y - low_y) > max(inside):
            return None
        items.append(spyrrow.Item(str(part), list(outline.exterior.coords), 1, turns))
    try:
        problem = spyrrow.StripPackingInstance("sheet", inside[1], items)
        config = spyrrow.StripPackingConfig(
            total_computation_time=job.seconds, min_items_separation=stock.gap, num_workers=1, seed=job.seed
        )
        found = problem.solve(config)
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException:  # its panics are no Exceptions
        return None
    if found.width > inside[0]:
        return None
    placed = []
    for item in found.placed_items:
        part, turn = int(item.id), round(item.rotation) % 360
        cos, sin = [(1, 0), (0, 1), (-1, 0), (0, -1)][turn // 90]
        shift = np.array([[cos, -sin, item.translation[0]], [sin, cos, item.translation[1]], [0, 0, 1]])
        matrix = np.array([[1.0, 0, stock.margin], [0, 1, stock.margin], [0, 0, 1]]) @ shift
        corner = corner_matrix(shapes[part], turn)
        # The same turn of the same part: only where its corner lies is taken over.
        at = matrix[:2, 2] - corner[:2, 2]
        placed.append(
            Placed(
                part=part, sheet=sheet, sheet_from_flat=np.array([[1.0, 0, at[0]], [0, 1, at[1]], [0, 0, 1]]) @ corner
            )
        )
    return placed
