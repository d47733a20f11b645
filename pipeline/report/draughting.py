"""The draughtsman's means: a sheet of paper in mm, lines, hatches, dimensions and notes, as SVG.

Terms
-----
paper
    Coordinates on the sheet, mm, x right, y down.
row
    Where a dimension line runs, away from what it measures; extension lines lead to it.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Spot = tuple[float, float]

FONT = 3.6
"""mm; lettering of about 2.5 mm capitals, the least ISO 3098 knows, when the sheet is printed at its size."""
ADVANCE = 0.54
"""Mean width of a letter over the font size, for the room a note needs."""
BOLD, FULL = 1.1, 1.0
"""Of a bold letter over a plain one; and width of a full-width letter (Unicode TR 11) over the font size."""
HEADING = 5.0
"""mm; lettering of a sheet's heading."""
GAP = 1.2
"""mm between a point and the extension line that leaves it, and by which that overshoots the dimension line."""
CUT = "\N{HORIZONTAL ELLIPSIS}"
"""Where words are cut short."""
WORDS_AT = 0.3
"""Where along its arc an angle's size stands."""
TICK = 1.3
"""mm, half the run of a dimension's oblique tick."""

STYLE = """
.sheet text{font-family:Helvetica,Arial,"Liberation Sans",sans-serif;fill:#222;stroke:#fff;stroke-width:1.1;\
paint-order:stroke;stroke-linejoin:round}
.sheet .heavy{stroke:#1c1c1c;stroke-width:.7;fill:none}
.sheet .line{stroke:#222;stroke-width:.35;fill:none}
.sheet .thin,.sheet .arc{stroke:#444;stroke-width:.18;fill:none}
.sheet .ray{stroke:#005f99;stroke-width:.22;fill:none}
.sheet .ghost{stroke:#6b6b6b;stroke-width:.25;stroke-dasharray:2 1.2;fill:none}
.sheet .axis{stroke:#8a3a00;stroke-width:.2;stroke-dasharray:6 1.2 1 1.2;fill:none}
.sheet .beyond{stroke:#777;stroke-width:.2;fill:#f4f4f2}
.sheet .body{stroke:#222;stroke-width:.3;fill-rule:evenodd}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """Parallel strokes that fill a cut body: its id in the file, direction in degrees, spacing in mm, colours."""

    id: str
    angle_deg: float
    spacing: float
    stroke: str
    ground: str

    def define(self) -> str:
        """Return the pattern's definition."""
        s = number(self.spacing)
        return (
            f'<pattern id="{self.id}" width="{s}" height="{s}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({number(self.angle_deg)})"><rect width="{s}" height="{s}" '
            f'fill="{self.ground}"/><path d="M0 0V{s}" stroke="{self.stroke}" stroke-width=".3"/></pattern>'
        )


def number(value: float) -> str:
    """Return a coordinate with two fixed decimals at most, no minus zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def size(value: float) -> str:
    """Return a measure as a draughtsman writes it: a tenth of a mm."""
    return f"{round(float(value), 1) + 0.0:.1f}"


def polyline(points: Iterable[Spot], style: str, *, closed: bool = False) -> str:
    """Return a path through paper points."""
    return f'<path class="{style}" d="{_run(points)}{"Z" if closed else ""}"/>'


def area(loops: list[Array], hatch: Hatch) -> str:
    """Return a hatched area between closed loops ``(k, 2)`` on paper, even-odd; nothing for no loops."""
    runs = "".join(_run(loop.tolist()) + "Z" for loop in loops)
    return f'<path class="body" fill="url(#{hatch.id})" d="{runs}"/>' if runs else ""


def faint_area(loops: list[Array]) -> str:
    """Return the outline of something behind the cut."""
    runs = "".join(_run(loop.tolist()) + "Z" for loop in loops)
    return f'<path class="beyond" d="{runs}"/>' if runs else ""


def _run(points: Iterable[Spot]) -> str:
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def note(
    at: Spot, words: str, *, anchor: str = "start", font: float = FONT, bold: bool = False, turn: bool = False
) -> str:
    """Return a line of text with its baseline at a paper point, turned to read from the right if asked."""
    x, y = number(at[0]), number(at[1])
    weight = ' font-weight="bold"' if bold else ""
    rotate = f' transform="rotate(-90 {x} {y})"' if turn else ""
    style = f'font-size="{number(font)}" text-anchor="{anchor}"{weight}{rotate}'
    return f'<text x="{x}" y="{y}" {style}>{escape(words)}</text>'


def width_of(words: str, font: float = FONT) -> float:
    """Return about how wide a text runs, mm."""
    full = sum(unicodedata.east_asian_width(letter) in "WF" for letter in words)
    return ((len(words) - full) * ADVANCE + full * FULL) * font


def heading(at: Spot, words: str, room: float) -> str:
    """Return a sheet's heading in bold, cut short where it would run on beyond ``room`` mm."""
    most = room / BOLD
    if width_of(words, HEADING) > most:
        while words and width_of(f"{words}{CUT}", HEADING) > most:
            words = words[:-1]
        words = f"{words.rstrip()}{CUT}"
    return note(at, words, font=HEADING, bold=True)


def dimension_across(left: Spot, right: Spot, row: float, words: str) -> str:
    """Return a horizontal dimension between two paper points at the height ``row``.

    Where the words do not fit between the ticks they stand to the right of them.
    """
    (x0, y0), (x1, y1) = left, right
    parts = [_extension_up(x0, y0, row), _extension_up(x1, y1, row)]
    words = _shorter(words, x1 - x0 - 2)
    fits = width_of(words) + 2 <= x1 - x0
    end = x1 if fits else x1 + 3 + width_of(words)
    parts.append(polyline([(x0, row), (end if not fits else x1, row)], "thin"))
    parts += [polyline([(x - TICK, row + TICK), (x + TICK, row - TICK)], "line") for x in (x0, x1)]
    if fits:
        parts.append(note(((x0 + x1) / 2, row - 1.3), words, anchor="middle"))
    else:
        parts.append(note((x1 + 2.4, row - 1.3), words))
    return "".join(parts)


def dimension_up(low: Spot, high: Spot, column: float, words: str) -> str:
    """Return a vertical dimension between two paper points at the paper x ``column``, read from the right."""
    (x0, y0), (x1, y1) = low, high
    parts = [_extension_across(x0, y0, column), _extension_across(x1, y1, column)]
    parts.append(polyline([(column, y0), (column, y1)], "thin"))
    parts += [polyline([(column - TICK, y + TICK), (column + TICK, y - TICK)], "line") for y in (y0, y1)]
    room = abs(y0 - y1) - 2
    words = _shorter(words, room)
    if width_of(words) <= room:
        parts.append(note((column - 1.3, (y0 + y1) / 2), words, anchor="middle", turn=True))
    else:
        parts.append(note((column + 1.2, max(y0, y1) + FONT + 1), words))
    return "".join(parts)


def _shorter(words: str, room: float) -> str:
    """Return the size alone where it fits and the whole words do not."""
    value = words.rsplit(" ", 1)[-1]
    return value if width_of(value) <= room < width_of(words) else words


def _extension_up(x: float, y: float, row: float) -> str:
    toward = math.copysign(1, row - y)
    return polyline([(x, y + toward * GAP), (x, row + toward * GAP)], "thin") if abs(row - y) > 2 * GAP else ""


def _extension_across(x: float, y: float, column: float) -> str:
    toward = math.copysign(1, column - x)
    return polyline([(x + toward * GAP, y), (column + toward * GAP, y)], "thin") if abs(column - x) > 2 * GAP else ""


def angle_mark(corner: Spot, from_deg: float, to_deg: float, radius: float, words: str) -> str:
    """Return an arc between two directions (degrees, counter-clockwise on paper from the right) and its size."""
    a, b = (
        (corner[0] + radius * math.cos(math.radians(d)), corner[1] - radius * math.sin(math.radians(d)))
        for d in (from_deg, to_deg)
    )
    sweep = 0 if to_deg > from_deg else 1
    middle = math.radians(from_deg + (to_deg - from_deg) * WORDS_AT)
    at = (corner[0] + (radius + 1.2) * math.cos(middle), corner[1] - (radius + 1.2) * math.sin(middle) + FONT * 0.35)
    r = number(radius)
    return (
        f'<path class="arc" d="M{number(a[0])} {number(a[1])}A{r} {r} 0 0 {sweep} {number(b[0])} {number(b[1])}"/>'
        + note(at, words)
    )


def break_mark(x: float, top: float, bottom: float) -> str:
    """Return two zigzag lines that say: here a length is left out."""
    middle = (top + bottom) / 2
    zigzag = [
        (0.0, top),
        (0.0, middle - 2),
        (-1.6, middle - 0.8),
        (1.6, middle + 0.8),
        (0.0, middle + 2),
        (0.0, bottom),
    ]
    return "".join(polyline([(x + shift + dx, y) for dx, y in zigzag], "line") for shift in (-1.4, 1.4))


def eye_mark(at: Spot) -> str:
    """Return the sign of an eye: a lid and a pupil, looking right."""
    x, y = number(at[0]), number(at[1])
    return (
        f'<path class="line" d="M{number(at[0] - 5)} {number(at[1] - 2.6)}Q{x} {number(at[1] - 2.2)} {x} {y}'
        f'Q{x} {number(at[1] + 2.2)} {number(at[0] - 5)} {number(at[1] + 2.6)}"/>'
        f'<circle cx="{x}" cy="{y}" r=".7" fill="#005f99"/>'
    )


def scale_bar(at: Spot, scale: float, length: float) -> str:
    """Return a bar of ``length`` mm of the real thing, divided in five."""
    x, y = at
    step = length * scale / 5
    parts = [
        f'<rect x="{number(x + k * step)}" y="{number(y)}" width="{number(step)}" height="1.4" '
        f'fill="{"#222" if k % 2 == 0 else "#fff"}" stroke="#222" stroke-width=".18"/>'
        for k in range(5)
    ]
    parts += [
        note((x, y - 1.2), "0", anchor="middle", font=3),
        note((x + 5 * step, y - 1.2), f"{length:g} mm", anchor="middle", font=3),
    ]
    return "".join(parts)


def sheet(
    width: float, height: float, *, title: str, words: str, hatches: Iterable[Hatch], parts: Iterable[str]
) -> bytes:
    """Return a whole SVG file whose size in mm and viewBox bear the same numbers."""
    w, h = number(width), number(height)
    extent = f'width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}"'
    body = "\n".join(part for part in parts if part)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" {extent} class="sheet" role="img">\n'
        f"<title>{escape(title)}</title>\n<desc>{escape(words)}</desc>\n"
        f"<style>{STYLE}</style>\n<defs>{''.join(hatch.define() for hatch in hatches)}</defs>\n"
        f'<rect width="{w}" height="{h}" fill="#fff"/>\n{body}\n</svg>\n'
    ).encode()
