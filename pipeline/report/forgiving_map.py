"""The map of what the eye forgives: in the plane of the eye, and level with it.

Terms
-----
panel
    One of the two maps, a square of paper with the eye in its middle.
range
    mm from the eye to the edge of a panel.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.report import draughting as pen
from pipeline.report.forgiving import ARC_MINUTE, Curve, Forgiveness
from pipeline.report.trade_off import ticks

Array = NDArray[np.float64]

WIDE, HIGH = 250.0, 172.0
HALF = 52.0
"""mm of paper from a panel's middle to its edge."""
MIDDLE = 86.0
"""mm of paper from the sheet's top to the panels' middles."""
LEFT, RIGHT = 66.0, 188.0
"""mm of paper from the sheet's left edge to the panels' middles."""
FORGIVEN = "#dcebe3"
LABEL = 2.9


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    middle: float
    range: float
    heading: str
    right: str
    up: str

    def spot(self, x: float, y: float) -> tuple[float, float]:
        return self.middle + x * HALF / self.range, MIDDLE - y * HALF / self.range


def forgiving_svg(found: Forgiveness, title: str) -> bytes:
    """Return the map as an SVG file."""
    arc = f"{found.limit_rad / ARC_MINUTE:g}\N{PRIME}"
    box = max(found.eye_box) / 2
    front = _Panel(
        middle=LEFT,
        range=1.15 * max([box, *_finite(found.front)]),
        heading="In the plane of the eye, as the viewer looks",
        right="right",
        up="up",
    )
    plan = _Panel(
        middle=RIGHT,
        range=1.15 * max([box, *_finite(found.plan)]),
        heading="Level with the eye, from above",
        right="right",
        up="nearer",
    )
    words = f"Shaded: where all that is seen lies within {arc} of the imagined room."
    if not _finite(found.front):
        words = "Built as deep as it looks: from anywhere it is what is imagined."
    width, height = found.eye_box
    boxed = [(x * width / 2, y * height / 2) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    line = [(-width / 2, 0.0), (width / 2, 0.0)]
    parts = [
        pen.heading((14, 10), f"{title}: what the eye forgives", WIDE - 28),
        pen.note((14, 16.5), words, font=3.4),
        *_panel(front, found.front, found.front_crease, boxed, found),
        *_panel(plan, found.plan, found.plan_crease, line, found),
        *_key(found, arc),
    ]
    return pen.sheet(WIDE, HIGH, title=f"{title}: what the eye forgives", words=words, hatches=(), parts=parts)


def _finite(curves: tuple[Curve, ...]) -> list[float]:
    """Return the extent of the curve at the limit along its axes, which a map must show; nothing where it is open."""
    own = next(curve for curve in curves if curve.level == 1.0).around
    return [float(value) for value in np.abs(own[np.isfinite(own).all(axis=1)]).ravel()]


def _panel(
    panel: _Panel, curves: tuple[Curve, ...], crease: Array, box: list[tuple[float, float]], found: Forgiveness
) -> Iterator[str]:
    x0, y0 = panel.middle - HALF, MIDDLE - HALF
    yield pen.note((x0, y0 - 9), panel.heading, font=3.6, bold=True)
    size = pen.number(2 * HALF)
    clip = f"{pen.number(x0)} {pen.number(y0)} {size} {size}"
    # A viewport of its own cuts off what runs past the panel's edge.
    yield (
        f'<svg x="{pen.number(x0)}" y="{pen.number(y0)}" width="{size}" height="{size}" viewBox="{clip}" '
        'overflow="hidden">'
    )
    own = next(curve for curve in curves if curve.level == 1.0)
    yield _area(panel, own.around)
    for mark in ticks(-panel.range, panel.range, about=6):
        yield pen.polyline([panel.spot(mark, -panel.range), panel.spot(mark, panel.range)], "thin")
        yield pen.polyline([panel.spot(-panel.range, mark), panel.spot(panel.range, mark)], "thin")
    for curve in curves:
        yield _loop(panel, curve.around, "heavy" if curve.level == 1.0 else "line")
    if found.apron > 0:
        yield _loop(panel, crease, "axis")
    yield pen.polyline([panel.spot(*corner) for corner in box], "ghost", closed=len(box) > 2)
    yield pen.polyline([panel.spot(-panel.range / 30, 0), panel.spot(panel.range / 30, 0)], "heavy")
    yield pen.polyline([panel.spot(0, -panel.range / 30), panel.spot(0, panel.range / 30)], "heavy")
    for curve in curves:
        yield from _figure(panel, curve, found)
    yield "</svg>"
    rim = [(x0, y0), (x0 + 2 * HALF, y0), (x0 + 2 * HALF, y0 + 2 * HALF), (x0, y0 + 2 * HALF)]
    yield pen.polyline(rim, "line", closed=True)
    for mark in ticks(-panel.range, panel.range, about=6):
        across, up = panel.spot(mark, -panel.range), panel.spot(-panel.range, mark)
        yield pen.note((across[0], across[1] + 4), f"{mark + 0.0:g}", anchor="middle", font=LABEL)
        yield pen.note((up[0] - 1.3, up[1] + 1), f"{mark + 0.0:g}", anchor="end", font=LABEL)
    yield pen.note((panel.middle + HALF, MIDDLE + HALF + 8.5), f"{panel.right}, mm", anchor="end", font=3.2)
    yield pen.note((x0, y0 - 2), f"{panel.up}, mm", font=3.2)


def _area(panel: _Panel, around: Array) -> str:
    if not np.isfinite(around).all():
        return ""
    points = " ".join(f"{pen.number(x)},{pen.number(y)}" for x, y in (panel.spot(*place) for place in around))
    return f'<polygon points="{points}" fill="{FORGIVEN}"/>'


def _loop(panel: _Panel, around: Array, style: str) -> str:
    """Return a curve, in pieces where it is open."""
    if np.isfinite(around).all():
        return pen.polyline([panel.spot(*place) for place in around], style, closed=True)
    ends = np.flatnonzero(~np.isfinite(around).all(axis=1))
    if len(ends) == len(around):
        return ""
    turned = np.roll(around, -ends[0], axis=0)  # begin where it is open
    pieces = np.split(turned, np.flatnonzero(~np.isfinite(turned).all(axis=1)))
    runs = [[panel.spot(*place) for place in piece if np.isfinite(place).all()] for piece in pieces]
    return "".join(pen.polyline(run, style) for run in runs if len(run) > 1)


def _figure(panel: _Panel, curve: Curve, found: Forgiveness) -> Iterator[str]:
    """Yield the arc minutes of a curve, at its lower right where it is seen."""
    place = curve.around[-len(curve.around) // 8]
    if np.isfinite(place).all() and np.abs(place).max() < 0.95 * panel.range:
        x, y = panel.spot(*place)
        yield pen.note((x + 0.8, y + 2.6), f"{curve.level * found.limit_rad / ARC_MINUTE:g}\N{PRIME}", font=LABEL)


def _key(found: Forgiveness, arc: str) -> Iterator[str]:
    """Yield what each line means."""
    y = MIDDLE + HALF + 17
    width, height = found.eye_box
    rows = [
        ("heavy", f"{arc}: the eye may be anywhere within; thin lines: half and twice that"),
        (
            "ghost",
            f"eye box, {width:g} by {height:g} mm: nothing bare is to be seen from it; the picture is not right there",
        ),
    ]
    if found.apron > 0:
        rows.append(("axis", "beyond this a crease at the apron's end shows, 1\N{PRIME} off the straight"))
    for number, (style, words) in enumerate(rows):
        yield pen.polyline([(14, y + 5.2 * number - 1.1), (26, y + 5.2 * number - 1.1)], style)
        yield pen.note((29, y + 5.2 * number), words, font=3.3)
