"""Tracery: the panes of a window as exact closed curves.

Terms
-----
light
    One of the upright parts of a window, between mullions.
mullion
    The upright between two lights; as wide is what parts the lights from what stands above them.
roundel
    A circle fitted in the head above the lights, or a quatrefoil in that circle.
pane
    A hole of the piece: a roundel, or a part of a light between glazing bars.

All curves lie in a frame of their own: x from the window's middle, y from the springing of its head; the sill lies
below. The lights' heads are similar to the window's, so a light that stands in a springing corner, and every one
between, lies inside a convex head: it is that head made smaller about a point of its own springing line.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pipeline.geometry import curves
from pipeline.geometry.clipping import clip
from pipeline.geometry.curves import Curve, Path, arc, line
from pipeline.geometry.heads import Head, head_path, pointed_radius, segmental_radius

Roundel = Literal["none", "round", "quatrefoil"]

CONVEX: tuple[Head, ...] = ("flat", "round", "segmental", "pointed", "basket")
"""Heads that tracery can be fitted in."""

LEAST_ROUNDEL = 1 / 8
"""Least radius of a roundel, as a share of the clear width; lights spring lower where it would be smaller.

With mullions of no width two or three lights under a round head leave a sixth.
"""

TOUCH = 1e-9
"""Share of the span that is rounding: a single light reaches the crown itself."""

SAMPLES = 33
"""Places a curve is looked at before the nearest one is refined."""
ROOT_ROUNDS = 80
FINE = 1e-13
"""Share of a bracket at which a root is found."""


class TracingError(ValueError):
    """The window leaves no room for what is asked; the text says for what."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A window to be filled, any one unit.

    Attributes
    ----------
    head, width, rise
        Of its outline.
    jamb
        Height from the sill to the springing.
    lights, mullion
        How many upright parts, and the width of what stands between them.
    frame
        Width left all round inside the outline.
    roundel
        What is fitted above the lights.
    bars, bar
        Glazing bars in each light, how many (across, up), and their width.
    """

    head: Head
    width: float
    rise: float
    jamb: float
    lights: int
    mullion: float
    frame: float
    roundel: Roundel
    bars: tuple[int, int]
    bar: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Clear:
    """The outline less the frame: span and rise of its head, and the heights of springing and sill."""

    span: float
    rise: float
    springing: float
    sill: float


def trace(window: Window) -> tuple[Path, ...]:
    """Return the panes, closed and counter-clockwise: the roundel first, then light by light from the left.

    Raises
    ------
    TracingError
        If there is no room for the lights, their bars or the roundel.
    """
    inner = clear(window)
    span = (inner.span - (window.lights - 1) * window.mullion) / window.lights
    if span <= 0:
        raise TracingError(f"{window.lights} lights")
    rise = inner.rise * span / inner.span
    middles = [(i - (window.lights - 1) / 2) * (span + window.mullion) for i in range(window.lights)]
    drop, above = _fit_roundel(window, inner, [_head(window.head, span, rise, x, inner.springing) for x in middles])
    springing = inner.springing - drop
    if springing <= inner.sill:
        raise TracingError("the lights under the roundel" if above else "lights of that height")
    panes = [
        pane
        for x in middles
        for pane in _panes(_light(_head(window.head, span, rise, x, springing), inner.sill), window.bars, window.bar)
    ]
    return (*above, *panes)


def clear(window: Window) -> Clear:
    """Return the outline less the frame; arcs keep their centres, a half ellipse and a basket lose it of span and rise.

    Raises
    ------
    TracingError
        If the frame leaves nothing.
    """
    half, frame, rise = window.width / 2, window.frame, window.rise
    springing, inner_rise = 0.0, rise - frame
    if window.head == "flat":
        springing, inner_rise = -frame, 0.0
    elif window.head == "pointed":
        radius = pointed_radius(window.width, rise)
        inner_rise = math.sqrt(max((radius - frame) ** 2 - (radius - half) ** 2, 0.0))
    elif window.head == "segmental":
        radius = segmental_radius(window.width, rise)
        springing = math.sqrt(max((radius - frame) ** 2 - (half - frame) ** 2, 0.0)) - (radius - rise)
        inner_rise = rise - frame - springing
    sill = frame - window.jamb
    if sill >= 0:
        raise TracingError("lights below its head")
    if frame >= half or springing <= sill or (inner_rise <= 0 and window.head != "flat"):
        raise TracingError("the frame")
    return Clear(span=window.width - 2 * frame, rise=inner_rise, springing=springing, sill=sill)


def quatrefoil(centre: tuple[float, float], radius: float) -> Path:
    """Return the quatrefoil that fills a circle: half circles of half its radius on the sides of a square.

    Its area is radius^2 (1 + pi / 2): the square's, radius^2, and four half circles'.
    """
    x, y, lobe = *centre, radius / 2
    places = ((x + lobe, y), (x, y + lobe), (x - lobe, y), (x, y - lobe))
    starts = (-math.pi / 2, 0.0, math.pi / 2, math.pi)
    return tuple(c for place, a in zip(places, starts, strict=True) for c in arc(place, lobe, a, a + math.pi))


def _head(head: Head, span: float, rise: float, x: float, springing: float) -> Path:
    shift = np.array([[1.0, 0.0, x], [0.0, 1.0, springing], [0.0, 0.0, 1.0]])
    return curves.transform_path(head_path(head, span, rise), shift)


def _light(over: Path, sill: float) -> Path:
    right, left = over[0].start, over[-1].end
    corners = np.array([left, (left[0], sill), (right[0], sill), right])
    return (*curves.polyline(corners), *over)


def _panes(light: Path, bars: tuple[int, int], bar: float) -> list[Path]:
    """Return a light's panes, row by row from below; corners of it smaller than a bar is square stay filled."""
    (left, low), (right, high) = curves.bounds(light)
    across, up = bars
    columns = np.linspace(left, right, up + 2)
    rows = np.linspace(low, high, across + 2)
    if bar >= min(columns[1] - columns[0], rows[1] - rows[0]) and (across or up):
        raise TracingError("the glazing bars")
    half = bar / 2
    out = []
    for j in range(across + 1):
        for i in range(up + 1):
            sides = [
                (1.0, 0.0, -columns[i] - half) if i > 0 else None,
                (-1.0, 0.0, columns[i + 1] - half) if i < up else None,
                (0.0, 1.0, -rows[j] - half) if j > 0 else None,
                (0.0, -1.0, rows[j + 1] - half) if j < across else None,
            ]
            pane = clip(light, [side for side in sides if side is not None])
            if pane and curves.signed_area(pane) > bar * bar:
                out.append(pane)
    return out


def _fit_roundel(window: Window, inner: Clear, lights: list[Path]) -> tuple[float, tuple[Path, ...]]:
    """Return how much lower the lights spring than the head, and the roundel.

    The circle touches the clear head and keeps a mullion's width from the lights, so its middle at height c and its
    radius r obey h(c) = r and g(c) = r + mullion, with h and g the distances of (0, c) from the head and the lights.
    Lights that spring lower by d have g(c + d) there, so a given radius places itself and the lights, one by one.
    """
    if window.roundel == "none":
        return 0.0, ()
    head = _head(window.head, inner.span, inner.rise, 0.0, inner.springing)
    crown = inner.springing + inner.rise
    low = min(float(curves.bounds(path)[1, 1]) for path in lights) if len(lights) % 2 else inner.springing
    # Under the head's springing line the sides bound the circle, and a third of the span is more than ever fits.
    deep = crown - inner.span
    wall = [*head, line((-inner.span / 2, deep), (-inner.span / 2, inner.springing))]
    all_lights = [curve for path in lights for curve in path]

    def to_head(c: float) -> float:
        return distance(wall, (0.0, c))

    def to_lights(c: float) -> float:
        return distance(all_lights, (0.0, c)) - window.mullion

    roomy = crown - low > TOUCH * inner.span
    middle = root(lambda c: to_head(c) - to_lights(c), low, crown) if roomy else crown
    radius, drop = to_head(middle), 0.0
    if radius < LEAST_ROUNDEL * inner.span:
        radius = LEAST_ROUNDEL * inner.span
        middle = root(lambda c: to_head(c) - radius, crown - inner.span / 2, crown)
        drop = root(lambda c: to_lights(c) - radius, low, low + inner.span) - middle
    centre = (0.0, middle)
    lobed = window.roundel == "quatrefoil"
    return drop, (quatrefoil(centre, radius) if lobed else arc(centre, radius, 0.0, math.tau),)


def distance(path: list[Curve], point: tuple[float, float]) -> float:
    """Return the distance of a point from curves, the foot refined to rounding."""
    place = np.array(point)
    at = np.linspace(0.0, 1.0, SAMPLES)
    best = math.inf
    for curve in path:
        gaps = np.linalg.norm(curves.evaluate(curve, at) - place, axis=1)
        k = int(gaps.argmin())
        if gaps[k] - curves.length(curve) / (SAMPLES - 1) > best:
            continue

        def along(t: float, curve: Curve = curve) -> float:
            return float((curves.evaluate(curve, t)[0] - place) @ curves.tangent(curve, t))

        low, high = at[max(k - 1, 0)], at[min(k + 1, SAMPLES - 1)]
        if along(low) < 0 < along(high):
            foot = curves.evaluate(curve, root(along, low, high))[0]
            best = min(best, float(np.linalg.norm(foot - place)))
        best = min(best, float(gaps[k]))
    return best


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function changes sign between two places (false position, the Illinois way).

    Raises
    ------
    TracingError
        If it has one sign at both.
    """
    f_low, f_high = function(low), function(high)
    if f_low == 0:
        return low
    if f_low * f_high > 0:
        raise TracingError("the roundel")
    size, side = high - low, 0
    place = low
    for _ in range(ROOT_ROUNDS):
        place = (low * f_high - high * f_low) / (f_high - f_low)
        value = function(place)
        if value == 0 or abs(high - low) < FINE * size:
            break
        if value * f_high > 0:
            high, f_high = place, value
            f_low *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            low, f_low = place, value
            f_high *= 0.5 if side == -1 else 1.0
            side = -1
    return place
