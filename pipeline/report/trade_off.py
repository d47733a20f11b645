"""The trade-off between eye distance and apparent depth as one picture: back scale, floor and smallest unit.

Terms
-----
chart
    One figure over the eye distance; the charts stand one above another over one row of distances.
curve
    What a chart's figure is for one apparent depth, over all the distances.
own curve, own spot
    The scene's apparent depth, and its eye.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pipeline.report import draughting as pen

WIDE, HIGH = 250.0, 252.0
LEFT, RIGHT = 28.0, 38.0
TOP, CHART, BETWEEN = 27.0, 60.0, 13.0
"""mm of paper: the sheet, its margins, the height of a chart and the room between two."""
LABEL = 3.0
"""Font of the numbers on the axes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The figures of one apparent depth at each distance; nothing where there is none.

    Attributes
    ----------
    label
        The depth as people say it.
    own
        Whether it is the scene's.
    figures
        For each chart, one value for each distance.
    """

    label: str
    own: bool
    figures: tuple[tuple[float | None, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOff:
    """Everything the picture shows.

    Attributes
    ----------
    title
        Of the scene.
    distances
        mm, rising.
    charts
        Heading of each.
    curves
        One for each apparent depth.
    own_distance, own_figures
        The scene's eye, mm, and its figure in each chart.
    goals
        For each chart the figure wanted, or nothing.
    """

    title: str
    distances: tuple[float, ...]
    charts: tuple[str, ...]
    curves: tuple[Curve, ...]
    own_distance: float
    own_figures: tuple[float | None, ...]
    goals: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axes:
    """Where the numbers of one chart lie on the paper."""

    top: float
    x: tuple[float, float]
    y: tuple[float, float]

    def spot(self, x: float, y: float) -> tuple[float, float]:
        wide = WIDE - LEFT - RIGHT
        (x0, x1), (y0, y1) = self.x, self.y
        return LEFT + wide * (x - x0) / (x1 - x0), self.top + CHART * (y1 - y) / (y1 - y0)


def trade_off_svg(seen: TradeOff) -> bytes:
    """Return the picture as an SVG file."""
    parts = [
        pen.note((LEFT, 10), f"{seen.title}: how deep, from where", font=5, bold=True),
        pen.note((LEFT, 16.5), "One curve for each apparent depth; thick and ringed: the scene's own.", font=3.4),
    ]
    for number, heading in enumerate(seen.charts):
        parts += _chart(seen, number, heading)
    parts.append(pen.note((WIDE - RIGHT, HIGH - 4), "eye distance from the opening, mm", anchor="end", font=3.4))
    words = f"{', '.join(seen.charts)}, each over the eye distance, one curve for each apparent depth"
    return pen.sheet(WIDE, HIGH, title=f"{seen.title}: how deep, from where", words=words, hatches=(), parts=parts)


def _chart(seen: TradeOff, number: int, heading: str) -> Iterator[str]:
    values = [v for curve in seen.curves for v in curve.figures[number] if v is not None]
    top = TOP + number * (CHART + BETWEEN)
    if not values:
        yield pen.note((LEFT, top + CHART / 2), f"{heading}: none, as no surface has a cover")
        return
    goal = seen.goals[number]
    most = max(values if goal is None else [*values, goal])
    marks = ticks(0.0, most)
    axes = _Axes(top=top, x=(seen.distances[0], seen.distances[-1]), y=(0.0, max(most, marks[-1])))
    yield pen.note((LEFT, top - 2.2), heading, font=3.8, bold=True)
    yield from _ruled(axes, marks, last=number == len(seen.charts) - 1)
    ends: list[tuple[Curve, tuple[float, float]]] = []
    for curve in sorted(seen.curves, key=lambda one: not one.own):
        runs = _runs(seen.distances, curve.figures[number], axes.spot)
        yield from (pen.polyline(run, "heavy" if curve.own else "ray") for run in runs)
        if runs:
            ends.append((curve, runs[-1][-1]))
    for (curve, end), foot in zip(ends, _apart([end[1] for _, end in ends]), strict=True):
        yield pen.note((end[0] + 1.5, foot + 1.2), curve.label, font=3.2, bold=curve.own)
    if goal is not None:
        x0, y = axes.spot(seen.distances[0], goal)
        x1, _ = axes.spot(seen.distances[-1], goal)
        yield pen.polyline([(x0, y), (x1, y)], "axis")
        yield pen.note((x0 + 1, y - 1 if y - axes.top > pen.FONT else y + 3.4), f"wanted: {_short(goal)}", font=3.2)
    own = seen.own_figures[number]
    if own is not None and seen.distances[0] <= seen.own_distance <= seen.distances[-1]:
        across, down = (pen.number(value) for value in axes.spot(seen.own_distance, own))
        yield f'<circle cx="{across}" cy="{down}" r="1.5" fill="#fff" stroke="#1c1c1c" stroke-width=".7"/>'


def _apart(downs: list[float]) -> list[float]:
    """Return where labels stand that would begin so far down: the first where it is, others pushed away from it."""
    stand = dict.fromkeys(range(len(downs)), 0.0)
    taken: list[float] = []
    for i in sorted(stand, key=lambda i: abs(downs[i] - downs[0])):
        way = 1.0 if downs[i] > downs[0] else -1.0
        stand[i] = downs[i]
        for other in sorted(taken, key=lambda down: way * down):
            if abs(stand[i] - other) < pen.FONT:
                stand[i] = other + way * pen.FONT
        taken.append(stand[i])
    return list(stand.values())


def _ruled(axes: _Axes, marks: list[float], *, last: bool) -> Iterator[str]:
    (x0, x1), y_least = axes.x, axes.y[0]
    for mark in marks:
        left, right = axes.spot(x0, mark), axes.spot(x1, mark)
        yield pen.polyline([left, right], "thin" if mark > y_least else "line")
        yield pen.note((left[0] - 1.5, left[1] + 1.1), _short(mark), anchor="end", font=LABEL)
    for mark in ticks(x0, x1):
        foot, head = axes.spot(mark, y_least), axes.spot(mark, axes.y[1])
        yield pen.polyline([foot, head], "thin")
        if last:
            yield pen.note((foot[0], foot[1] + 4.5), _short(mark), anchor="middle", font=LABEL)


def _runs(
    distances: tuple[float, ...], values: tuple[float | None, ...], spot: Callable[[float, float], tuple[float, float]]
) -> list[list[tuple[float, float]]]:
    """Return the unbroken pieces of a curve on paper."""
    runs: list[list[tuple[float, float]]] = [[]]
    for distance, value in zip(distances, values, strict=True):
        if value is None:
            runs.append([])
        else:
            runs[-1].append(spot(distance, value))
    return [run for run in runs if len(run) > 1]


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Return about so many round numbers from ``low`` to ``high``, 1, 2 or 5 times a power of ten apart."""
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


def _short(value: float) -> str:
    return f"{round(value, 6) + 0.0:g}"
