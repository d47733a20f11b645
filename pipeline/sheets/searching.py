"""A longer search for a better layout: the same nesting, tried with other orders of the parts.

Parts are laid one after the other, so the order decides. The search starts from the largest first, and then exchanges
and moves parts in the best order found so far, now and then shaking all of it. With one seed the n-th try is always the
same; how many there is time for is not, so what is found is written down.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import shapely

from pipeline.geometry.frames import moved
from pipeline.sheets.nesting import Layout
from pipeline.sheets.stock import Stock, lay

Worth = tuple[int, float, float]

SHAKE = 8
"""Every so many tries the whole order is shaken."""
WILD = 0.6
"""How far: sizes are taken for up to about twice or half what they are."""


def worth(layout: Layout, stock: Stock, shapes: list[shapely.Polygon]) -> Worth:
    """Return how much a layout takes, less being better.

    The whole sheets begun; the stock begun, mm^2; and less what stays whole of it: on each sheet the larger of the
    rectangles above and to the right of all parts, mm^2.
    """
    whole = sum(size == stock.size for size in layout.sheets) - sum(size == stock.size for size in stock.offcuts)
    begun = sum(width * height for width, height in layout.sheets)
    left = 0.0
    for number, (width, height) in enumerate(layout.sheets):
        boxes = [moved(shapes[p.part], p.sheet_from_flat).bounds for p in layout.placed if p.sheet == number]
        right, top = max(box[2] for box in boxes), max(box[3] for box in boxes)
        left += max((width - right) * height, width * (height - top))
    return whole, round(begun, 3), round(-left, 3)


def search(
    stock: Stock, shapes: list[shapely.Polygon], start: Layout, seed: int, goes_on: Callable[[], bool]
) -> tuple[Layout, int]:
    """Return the best layout found and the number of tries.

    Parameters
    ----------
    stock, shapes
        The material, and what each part takes up, mm.
    start
        The layout to better, of the largest first.
    seed
        Of the tries.
    goes_on
        Asked before each try.
    """
    chance = random.Random(seed)
    fitting = sorted((p.part for p in start.placed), key=lambda i: (-shapes[i].area, i))
    best, best_order, least, tries = start, fitting, worth(start, stock, shapes), 0
    while len(fitting) > 1 and goes_on():
        tries += 1
        order = _changed(best_order, shapes, chance, tries)
        layout = lay(stock, shapes, order)
        now = worth(layout, stock, shapes)
        if now <= least:  # an equal one too, to wander on from
            best_order = order
            best = layout if now < least else best
            least = now
    return Layout(placed=best.placed, sheets=best.sheets, left_over=start.left_over), tries


def _changed(order: list[int], shapes: list[shapely.Polygon], chance: random.Random, tries: int) -> list[int]:
    if tries % SHAKE == 0:
        sizes = {i: shapes[i].area * 2 ** chance.uniform(-WILD, WILD) for i in sorted(order)}
        return sorted(order, key=lambda i: -sizes[i])
    order = order.copy()
    for _ in range(chance.choice((1, 1, 2, 3))):
        part = order.pop(chance.randrange(len(order)))
        order.insert(chance.randrange(len(order) + 1), part)
    return order
