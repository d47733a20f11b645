"""The wires drawn on a plan and a section of the box, with the battery and the holes.

Terms
-----
view
    One of the two drawings: which built directions run right and up on paper, and where its lower left corner lies.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.parts.wires import Wiring
from pipeline.report import draughting as pen
from pipeline.report.sections import outline

Array = NDArray[np.float64]
Size = tuple[float, float, float]

PAPER = 270.0
"""mm, width of the sheet."""
MARGIN, BETWEEN = 12.0, 16.0
HEAD, FOOT = 26.0, 24.0
WIRE = "#a3300b"
LABEL = 3.2
EDGE = 3.0
"""mm of paper kept white at the right edge."""
CLEAR = 4.0
"""mm of paper between two lines of lettering."""
ALL = 1e6
"""mm; a plane that far before everything leaves everything behind it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _View:
    heading: str
    axes: Array
    corner: tuple[float, float]
    left: float
    scale: float

    def spots(self, points: Array) -> list[tuple[float, float]]:
        """Return built points ``(n, 3)`` on paper."""
        x, y = self.corner
        flat = points @ self.axes.T
        return [(x + self.scale * (a - self.left), y - self.scale * b) for a, b in flat.tolist()]


def wiring_svg(wiring: Wiring, panels: tuple[Mesh, ...], box: Size, title: str) -> bytes:
    """Return the drawing as an SVG file."""
    width, height, depth = box
    scale = min((PAPER - 2 * MARGIN - BETWEEN) / (width + depth), 1.6)
    high = scale * max(depth, height)
    base = HEAD + high
    plan = _View(
        heading="Plan, from above; the opening below",
        axes=np.array([[1.0, 0, 0], [0, 1, 0]]),
        corner=(MARGIN, base),
        left=-width / 2,
        scale=scale,
    )
    section = _View(
        heading="From the right; the opening at the left",
        axes=np.array([[0.0, 1, 0], [0, 0, 1]]),
        corner=(MARGIN + scale * width + BETWEEN, base),
        left=0.0,
        scale=scale,
    )
    words = "The wires' ways from each light to the battery, on a plan and seen from the right."
    parts = [
        pen.heading((MARGIN, 10), f"{title}: wires", PAPER - 2 * MARGIN),
        *_view(plan, wiring, panels, np.array([[-width / 2, 0, 0], [width / 2, depth, height]])),
        *_view(section, wiring, panels, np.array([[-width / 2, 0, 0], [width / 2, depth, height]])),
        *_key(base + 10, scale),
    ]
    return pen.sheet(PAPER, base + FOOT, title=f"{title}: wires", words=words, hatches=(_hatch(),), parts=parts)


def _hatch() -> pen.Hatch:
    return pen.Hatch(id="battery", angle_deg=45, spacing=1.4, stroke="#555", ground="#eee")


def _view(view: _View, wiring: Wiring, panels: tuple[Mesh, ...], box: Array) -> Iterator[str]:
    low, high = view.spots(box)
    yield pen.note((low[0], high[1] - 3), view.heading, font=3.6, bold=True)
    right, up = view.axes
    for mesh in panels:
        loops = [np.array(view.spots(loop @ view.axes)) for loop in outline(mesh, right, up, ALL)]
        yield pen.faint_area(loops)
    yield pen.polyline([low, (high[0], low[1]), high, (low[0], high[1])], "heavy", closed=True)
    if wiring.place is not None:
        (x0, y0), (x1, y1) = view.spots(wiring.place)
        yield pen.area([np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])], _hatch())
    for run in wiring.runs:
        if len(run.points):
            yield from _run(view, run.points, run.through, run.led)


def _run(view: _View, points: Array, through: tuple[str, ...], light: str) -> Iterator[str]:
    spots = view.spots(points)
    way = "L".join(f"{pen.number(x)} {pen.number(y)}" for x, y in spots)
    yield f'<path d="M{way}" fill="none" stroke="{WIRE}" stroke-width=".7" stroke-linejoin="round"/>'
    for number, hole in enumerate(through):
        if hole:
            (x0, y0), (x1, y1) = spots[number], spots[number + 1]
            x, y = (x0 + x1) / 2, (y0 + y1) / 2
            yield _hole((x, y))
            if abs(y - spots[0][1]) > CLEAR:  # else the light's own name stands there
                yield pen.note((x + 2.2, y + 1.1), hole, font=LABEL)
    x, y = spots[0]
    yield f'<circle cx="{pen.number(x)}" cy="{pen.number(y)}" r="2" fill="#fff" stroke="#222" stroke-width=".4"/>'
    cross = 1.41
    yield pen.polyline([(x - cross, y - cross), (x + cross, y + cross)], "line")
    yield pen.polyline([(x - cross, y + cross), (x + cross, y - cross)], "line")
    fits = x + 3 + pen.width_of(light, LABEL) < PAPER - EDGE
    yield pen.note((x + (3 if fits else -3), y - 1.6), light, anchor="start" if fits else "end", font=LABEL, bold=True)


def _hole(at: tuple[float, float]) -> str:
    style = f'fill="#fff" stroke="{WIRE}" stroke-width=".4"'
    return f'<circle cx="{pen.number(at[0])}" cy="{pen.number(at[1])}" r="1.3" {style}/>'


def _key(y: float, scale: float) -> Iterator[str]:
    """Yield what each sign means."""
    x = MARGIN
    yield f'<circle cx="{pen.number(x + 2)}" cy="{pen.number(y)}" r="2" fill="#fff" stroke="#222" stroke-width=".4"/>'
    yield pen.polyline([(x + 0.6, y - 1.4), (x + 3.4, y + 1.4)], "line")
    yield pen.polyline([(x + 0.6, y + 1.4), (x + 3.4, y - 1.4)], "line")
    yield pen.note((x + 6, y + 1.1), "LED", font=LABEL)
    yield f'<path d="M{pen.number(x + 20)} {pen.number(y)}h10" stroke="{WIRE}" stroke-width=".7"/>'
    yield pen.note((x + 32, y + 1.1), "pair of wires", font=LABEL)
    yield _hole((x + 58, y))
    yield pen.note((x + 61, y + 1.1), "hole in a panel", font=LABEL)
    yield pen.area([np.array([(x + 92, y - 2), (x + 100, y - 2), (x + 100, y + 2), (x + 92, y + 2)])], _hatch())
    yield pen.note((x + 102, y + 1.1), "battery", font=LABEL)
    yield pen.scale_bar((PAPER - MARGIN - 60 * scale, y), scale, 50.0)
