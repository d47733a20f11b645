"""A light in the built box: plan and section with the LED, rays past the edges of openings, patches and shadows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Evidence
from pipeline.elements.light import LightTable
from pipeline.elements.passage import OUTWARD
from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Path
from pipeline.parts.lighting.leds import Led
from pipeline.parts.lighting.model import Cast
from pipeline.report.draughting import STYLE, note, number
from pipeline.units import part_id

Array = NDArray[np.float64]

ROUND = 28.0
"""mm drawn round the box, so that lamps behind its walls show."""
BETWEEN = 14.0
FLATTENING = 0.1
"""mm."""
RAYS = 4
"""Rays drawn to each patch: to the corners of the box round it, as far as the patch reaches there."""
OWN = """
.sheet .lit{fill:#f6c945;fill-opacity:.55;stroke:#9a6a00;stroke-width:.25;fill-rule:evenodd}
.sheet .dark{fill:#3b4a6b;fill-opacity:.35;stroke:#26314a;stroke-width:.2;fill-rule:evenodd}
.sheet .beam{stroke:#b27900;stroke-width:.25;fill:none}
.sheet .led{fill:#fff;stroke:#b00020;stroke-width:.6}
.sheet .standin{fill:none;stroke:#b00020;stroke-width:.4;stroke-dasharray:1 .8}
.sheet .gap{stroke:#fff;stroke-width:1.6}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One of the two drawings: which built axes run right and up, and where its corner stands on the paper."""

    right: int
    up: int
    low: tuple[float, float]
    high: tuple[float, float]
    left: float

    @property
    def height(self) -> float:
        """Of the drawing, mm."""
        return self.high[1] - self.low[1]

    def place(self, points: Array) -> Array:
        """Return built points ``(n, 3)`` on paper, ``(n, 2)``."""
        x = self.left + points[:, self.right] - self.low[0]
        y = self.high[1] - points[:, self.up]
        out: Array = np.column_stack([x, y])
        return out


def light_svg(evidence: Evidence, number_of: int) -> bytes:
    """Return the picture of the scene's light of that number, from 0."""
    width, tall, depth = evidence.room.box
    light, cast, led = evidence.scene.lights[number_of], evidence.casts[number_of], evidence.leds[number_of]
    plan = View(right=0, up=1, low=(-width / 2 - ROUND, -ROUND / 2), high=(width / 2 + ROUND, depth + ROUND), left=0.0)
    across = plan.high[0] - plan.low[0]
    section = View(right=1, up=2, low=(-ROUND / 2, -8.0), high=(depth + ROUND, tall + 8.0), left=across + BETWEEN)
    total = section.left + section.high[0] - section.low[0]
    high = max(plan.height, section.height) + 10
    title = f"{light.name} in the built box, from above and from the right"
    body = [_view(evidence, view, light, cast, led) for view in (plan, section)]
    body.append(note((2.0, high - 2.5), "from above"))
    body.append(note((section.left + 2, high - 2.5), "from the right, the opening to the left"))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="sheet" viewBox="0 0 {number(total)} {number(high)}" '
        f'width="{number(total)}mm" height="{number(high)}mm" role="img" aria-label="{title}"><title>{title}</title>'
        f"<style>{STYLE}{OWN}</style>{''.join(body)}</svg>\n"
    ).encode()


def _view(evidence: Evidence, view: View, light: LightTable, cast: Cast, led: Led) -> str:
    clip = f"{part_id(light.name)}-{view.right}{view.up}"
    size = np.array(view.high) - np.array(view.low)
    frame = f'x="{number(view.left)}" y="0" width="{number(size[0])}" height="{number(size[1])}"'
    out = [f'<clipPath id="{clip}"><rect {frame}/></clipPath><g clip-path="url(#{clip})">']
    out += _room(evidence, view)
    for shadow in cast.dark:
        out.append(_area(evidence, view, shadow.part, shadow.loops, "dark"))
    for patch in cast.patches:
        out.append(_area(evidence, view, patch.part, patch.loops, "lit"))
        out += _rays(evidence, view, patch.part, patch.loops, led)
    out += _leds(view, light, led)
    return "".join([*out, "</g>"])


def _room(evidence: Evidence, view: View) -> list[str]:
    """Return the box, the hall and the openings in its walls."""
    room = evidence.room
    hall, (width, tall, depth) = room.hall, room.box
    half = hall.width / 2
    low, high = np.array([-width / 2, 0.0, 0.0]), np.array([width / 2, depth, tall])
    box = np.array([low, low, high, high])
    box[1, view.right], box[3, view.right] = high[view.right], low[view.right]
    box[2, view.up], box[3, view.up] = high[view.up], high[view.up]
    box[0, view.up], box[1, view.up] = low[view.up], low[view.up]
    out = [_line(view.place(box), "ghost", closed=True)]
    heights = (hall.floor, hall.floor + hall.height)
    ends = [(-half, heights[0]), (half, heights[0]), (half, heights[1]), (-half, heights[1])]
    front = np.array([[x, 0.0, z] for x, z in ends])
    back = room.relief.build_points([[x, hall.depth, z] for x, z in ends])
    out += [_line(view.place(np.array([a, b])), "line") for a, b in zip(front, back, strict=True)]
    out.append(_line(view.place(back), "line", closed=True))
    for cut in evidence.imagined.cuts:
        if cut.host in OUTWARD and cut.beyond in ("bare", "light", "passage", "niche"):
            border = _built(evidence, hall.imagined_from_host(cut.host), (cut.curve,))
            out.append(_line(view.place(np.vstack(border)), "beyond", closed=True))
    return out


def _built(evidence: Evidence, matrix: Array, loops: Iterable[Path]) -> list[Array]:
    """Return loops of a face as built points."""
    relief = evidence.room.relief
    return [relief.build_points(frames.apply(matrix, curves.flatten_path(loop, FLATTENING))) for loop in loops]


def _matrix(evidence: Evidence, part: str) -> Array:
    return next(face.imagined_from_host for face in evidence.imagined.faces if face.id == part)


def _area(evidence: Evidence, view: View, part: str, loops: Iterable[Path], style: str) -> str:
    rings = [view.place(ring) for ring in _built(evidence, _matrix(evidence, part), loops)]
    runs = "".join("M" + "L".join(f"{number(x)} {number(y)}" for x, y in ring) + "Z" for ring in rings)
    return f'<path class="{style}" d="{runs}"/>'


def _rays(evidence: Evidence, view: View, part: str, loops: Iterable[Path], led: Led) -> list[str]:
    """Return rays that end where a patch reaches farthest, as seen here."""
    points = np.vstack(_built(evidence, _matrix(evidence, part), loops))
    seen = view.place(points)
    chosen = {int(np.argmax(seen @ np.array(way))) for way in ((1, 1), (1, -1), (-1, 1), (-1, -1))[:RAYS]}
    far = 4 * float(np.ptp(np.array([view.low, view.high]), axis=0).max())
    out = []
    for index in sorted(chosen):
        end = points[index]
        if led.place.point is None:
            start = end - far * np.array(led.place.way)
        else:
            start = np.array(led.place.point)
            if led.place.nature == "converging":
                start = end + far * (end - start) / np.linalg.norm(end - start)
        out.append(_line(view.place(np.array([start, end])), "beam"))
    return out


def _leds(view: View, light: LightTable, led: Led) -> list[str]:
    out = [_circle(view, way.stand_in.place, light.size, "standin") for way in led.ways if way.stand_in is not None]
    if led.place.point is not None and led.place.nature in ("lamp", "leaving"):
        out.append(_circle(view, led.place.point, light.size, "led"))
    return out


def _circle(view: View, place: tuple[float, float, float], size: float, style: str) -> str:
    ((x, y),) = view.place(np.array([place]))
    return f'<circle class="{style}" cx="{number(x)}" cy="{number(y)}" r="{number(size / 2)}"/>'


def _line(points: Array, style: str, *, closed: bool = False) -> str:
    run = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f'<path class="{style}" d="M{run}{"Z" if closed else ""}"/>'
