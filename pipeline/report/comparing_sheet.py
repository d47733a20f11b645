"""Both outlines of every part that changed, one upon the other, on one sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.panel_faithful import chords_of
from pipeline.checks.written import read_dxf
from pipeline.report import draughting as pen
from pipeline.report.comparing import CUT, Compared, standing

Array = NDArray[np.float64]
Styled = tuple[str, list[Array]]
"""Lines ``(k, 2)`` and the style they are drawn in."""

ACROSS = 3
"""Parts side by side."""
CELL, ROOM, BELOW = (82.0, 82.0), (70.0, 54.0), 20.0
"""mm of paper for a part, within it for its outlines, and from its top to them."""
LENS, SHOWN, MOST = 17.0, 4.0, 200.0
"""mm of paper across the enlarged worst place, mm that the shift is enlarged to, and how many times at most."""
TOP = 27.0
RING = 2.2
"""mm of paper, radius of the ring about the worst place."""
MOST_TRIANGLES = 30_000
"""Of a print whose silhouette is drawn; of a larger one it is the convex hull."""


def comparing_svg(found: Sequence[Compared], title: str) -> bytes:
    """Return the sheet as an SVG file; parts that are the same, new or dropped are named only."""
    shown = sorted((one for one in found if one.fit is not None), key=lambda one: one.verdict != "recut")
    rows = max(1, -(-len(shown) // ACROSS))
    words = "Dashed: the old part, laid on the new as well as it goes. Thin: the hidden face. Ringed: the worst place."
    parts = [
        pen.heading((12, 10), title, ACROSS * CELL[0] - 12),
        pen.note((12, 16.5), words, font=3.4),
        pen.note((12, 22), _others(found), font=3.2),
    ]
    for number, one in enumerate(shown):
        row, column = divmod(number, ACROSS)
        parts += _cell(one, (12 + column * CELL[0], TOP + row * CELL[1]))
    size = (12 + ACROSS * CELL[0], TOP + rows * CELL[1] + 4)
    return pen.sheet(*size, title=title, words=words, hatches=(), parts=parts)


def _others(found: Sequence[Compared]) -> str:
    """Return how many parts are not drawn, and why."""
    counts = {
        "the same": sum(one.verdict == "same" for one in found),
        "new": sum(one.verdict == "new" for one in found),
        "dropped": sum(one.verdict == "dropped" for one in found),
        "made another way": sum(one.verdict == "recut" and one.fit is None for one in found),
    }
    said = ", ".join(f"{count} {words}" for words, count in counts.items() if count)
    return f"Not drawn: {said}." if said else ""


def _cell(one: Compared, corner: tuple[float, float]) -> Iterator[str]:
    if one.fit is None or one.old is None or one.new is None:
        return
    x, y = corner
    words = f"{one.verdict}: {one.shift:.3f} mm" + (", redraw its lines" if one.redraw else "")
    yield pen.note((x, y + 5), one.id, font=3.4, bold=True)
    yield pen.note((x, y + 9.6), words, font=3.2)
    shown, near, worst = _outlines(one)
    ends = np.concatenate([line for _, lines in shown for line in lines])
    low, high = ends.min(axis=0), ends.max(axis=0)
    scale = float(np.min(np.array(ROOM) / np.maximum(high - low, 1e-6)))
    middle = np.array([x + ROOM[0] / 2, y + BELOW + ROOM[1] / 2])

    def on_paper(points: Array) -> Array:
        paper: Array = middle + (points - (low + high) / 2) * np.array([scale, -scale])
        return paper

    for style, lines in shown:
        yield from (pen.polyline(map(tuple, on_paper(line)), style) for line in _joined(lines))
    at = on_paper(worst[None])[0]
    yield (
        f'<circle cx="{pen.number(at[0])}" cy="{pen.number(at[1])}" r="{pen.number(RING)}" fill="none" '
        'stroke="#1c1c1c" stroke-width=".5"/>'
    )
    yield from _lens(one, [*shown, *near], worst, (x + ROOM[0] - LENS, y))


def _lens(one: Compared, outlines: list[Styled], worst: Array, corner: tuple[float, float]) -> Iterator[str]:
    """Yield the neighbourhood of the worst place, enlarged until the shift can be seen; nothing where no line runs."""
    scale = min(MOST, SHOWN / max(one.shift or 0.0, 1e-9))
    runs = []
    for style, lines in outlines:
        near = [line for line in lines if _comes_near(line, worst, LENS / scale)]
        paper = (np.array(corner) + LENS / 2 + (line - worst) * np.array([scale, -scale]) for line in near)
        runs += [pen.polyline(map(tuple, line), style) for line in paper]
    if not runs:
        return  # within a print, whose silhouette alone is drawn
    x, y, size = (pen.number(value) for value in (*corner, LENS))
    yield f'<svg x="{x}" y="{y}" width="{size}" height="{size}" viewBox="{x} {y} {size} {size}" overflow="hidden">'
    yield from runs
    yield "</svg>"
    yield (
        f'<rect x="{x}" y="{y}" width="{size}" height="{size}" fill="none" stroke="#444" stroke-width=".18"/>'
        + pen.note((corner[0] - 1, corner[1] + LENS), f"{scale:.0f} : 1", anchor="end", font=2.8)
    )


def _comes_near(line: Array, place: Array, reach: float) -> bool:
    low, high = line.min(axis=0) - reach, line.max(axis=0) + reach
    return bool((low <= place).all() and (place <= high).all())


def _outlines(one: Compared) -> tuple[list[Styled], list[Styled], Array]:
    """Return what is drawn, what is drawn in the enlargement only, and the worst place, all in one plane."""
    if one.fit is None or one.old is None or one.new is None:
        raise ValueError("nothing to draw")
    if not one.new.printed:
        before, after = read_dxf(one.old.data), read_dxf(one.new.data)
        old, hidden = ([one.fit.move(line) for line in chords_of(before, layers)] for layers in (CUT, ("BEVEL",)))
        shown = [("thin", list(chords_of(after, ("BEVEL",)))), ("line", list(chords_of(after, CUT))), ("axis", old)]
        return shown, [("axis", hidden)], one.fit.at
    new = standing(one.new)
    axes = sorted(np.argsort(-np.ptp(new.reshape(-1, 3), axis=0), kind="stable")[:2].tolist())
    moved = one.fit.move(standing(one.old).reshape(-1, 3)).reshape(-1, 3, 3)
    shown = [("line", silhouette(new[..., axes])), ("axis", silhouette(moved[..., axes]))]
    return shown, [], one.fit.at[axes]


def _joined(lines: list[Array]) -> list[Array]:
    """Return lines ``(k, 2)`` with those that run on from one another made one."""
    out: list[list[Array]] = []
    for line in lines:
        if out and np.array_equal(out[-1][-1][-1], line[0]):
            out[-1].append(line[1:])
        else:
            out.append([line])
    return [np.concatenate(run) for run in out]


def silhouette(triangles: Array) -> list[Array]:
    """Return the border of what triangles ``(m, 3, 2)`` cover, one straight piece ``(2, 2)`` after another."""
    if len(triangles) > MOST_TRIANGLES:
        whole = shapely.convex_hull(shapely.multipoints(triangles.reshape(-1, 2)))
    else:
        areas = shapely.polygons(triangles)
        whole = shapely.union_all(areas[shapely.area(areas) > 1e-9], grid_size=1e-4)
    pieces = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
    rings = [ring for part in pieces for ring in (part.exterior, *part.interiors)]
    around = [np.asarray(ring.coords) for ring in rings]
    return [ring[place : place + 2] for ring in around for place in range(len(ring) - 1)]
