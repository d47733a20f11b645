"""Paper templates: pages of parts at 1:1 as PDF.

72 units are an inch (ISO 32000-1, 8.3.2.3), so 1 mm is 72 / 25.4 units; print scaling is switched off
(ViewerPreferences /PrintScaling /None). Every page carries a 100 mm bar on both axes to measure.
"""

from __future__ import annotations

import io
import math
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.colors import HexColor
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from pipeline.exports.drawing import Drawing, Layer
from pipeline.exports.haze_strip import APART, Block, paged
from pipeline.exports.line_key import CROSSHAIRS, Kind, draw_key
from pipeline.exports.numbers import rounded
from pipeline.geometry import curves, frames
from pipeline.keeping.kept import around
from pipeline.sheets.paper import BOTTOM, LEFT, TOP, Page, Size, Tile

Array = NDArray[np.float64]

UNIT = 72 / 25.4
"""PDF units per mm."""

FLATTENING = 0.01
"""mm; a tenth of a printed line."""

LEVEL = 4
"""Of zlib."""

PLACES = "%.3f %.3f"
"""How a point of a drawing is written, mm: to a thousandth, a hundredth of the finest line."""

BAR = 100.0
CROSS = 3.0
CELL = 4.0
"""mm, of the map that shows where a page lies."""
NAME, NOTE = 3.0, 2.2
"""mm, size of names and of what is written along edges."""
ARROW = 9.0
"""mm, half of the arrow along the grain."""
MIRRORED = "mirrored: hidden face"

STROKES: dict[Layer, tuple[float, float, tuple[float, ...]]] = {
    Layer.OUTLINE: (0.25, 0.0, ()),
    Layer.HOLES: (0.25, 0.0, ()),
    Layer.FOLD: (0.18, 0.0, (4.0, 1.0, 0.6, 1.0)),
    Layer.BEVEL: (0.15, 0.35, (2.0, 1.0)),
    Layer.PLACE: (0.15, 0.35, (0.6, 0.8)),
    Layer.GUIDE: (0.08, 0.55, ()),
}
"""Width mm, grey, dashes mm. Kinds are told apart by their dashes; guides are light enough to pounce through."""

MEANINGS: dict[Layer, str] = {
    Layer.OUTLINE: "cut",
    Layer.BEVEL: "where a slanting cut comes out behind",
    Layer.FOLD: "fold",
    Layer.GUIDE: "score or draw",
    Layer.PLACE: "parts stand here or behind; light, shadow",
}
"""Of the lines, for who holds the paper; holes are cut like outlines."""

DOT = 2.5
"""mm; what is smaller is drawn whole: of its dashes nobody would tell what it is."""
DRAWN = (Layer.GUIDE, Layer.PLACE, Layer.BEVEL, Layer.FOLD)
CUT = (Layer.OUTLINE, Layer.HOLES)


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeNote:
    """Words along an edge: its ends (flat mm) and what is written."""

    start: tuple[float, float]
    end: tuple[float, float]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Template:
    """One part's drawing with the words along its edges.

    Attributes
    ----------
    drawing, notes
        What is drawn and written.
    name_along
        Ends of the line, flat, along which the part's name is written where the part is whole on a page.
    grain_at
        Where an arrow shows the grain, which runs along flat x; nothing for sheets without.
    """

    drawing: Drawing
    notes: tuple[EdgeNote, ...]
    name_along: tuple[tuple[float, float], tuple[float, float]]
    grain_at: tuple[float, float] | None = None


class Deflate:
    """A filter of streams for reportlab, whose own makes text of the bytes besides, a quarter longer and far slower."""

    pdfname = "FlateDecode"

    def encode(self, content: str | bytes) -> bytes:
        """Return a stream deflated (ISO 32000-1, 7.4.4)."""
        return zlib.compress(content.encode("latin-1") if isinstance(content, str) else content, LEVEL)


def write_templates(
    title: str, templates: list[Template], pages: list[Page], paper: Size, strip: tuple[Block, ...] = ()
) -> bytes:
    """Return the PDF of all pages.

    Parameters
    ----------
    title
        Of the scene.
    templates
        The parts, as the pages number them.
    pages
        From ``lay_pages``.
    paper
        Width and height, mm.
    strip
        Of aerial perspective, on pages of its own at the end.
    """
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(paper[0] * UNIT, paper[1] * UNIT), invariant=1, pageCompression=0)
    canvas._doc.defaultStreamFilters = [Deflate()]
    canvas.setTitle(title.replace("\xad", ""))  # of any script; soft hyphens have no place in a PDF's own encoding
    canvas.setViewerPreference("PrintScaling", "None")
    for index, template in enumerate(templates):
        _define(canvas, index, template.drawing)
    hazy = paged(strip, paper[1] - TOP - BOTTOM) if strip else ()
    count = len(pages) + len(hazy)
    for number, page in enumerate(pages, start=1):
        canvas.scale(UNIT, UNIT)
        for tile in page.tiles:
            _draw_tile(canvas, templates[tile.part], tile, page.mirrored)
        _draw_bars(canvas)
        _draw_key(canvas, templates, page, paper)
        _draw_title(canvas, f"{_plain(title)}  page {number} of {count}", page, paper)
        canvas.showPage()
    for number, blocks in enumerate(hazy, start=len(pages) + 1):
        canvas.scale(UNIT, UNIT)
        _draw_strip(canvas, blocks, paper)
        _draw_bars(canvas)
        canvas.setFont("Helvetica", 2.8)
        canvas.drawString(LEFT, 7.5, f"{_plain(title)}  page {number} of {count}   how far to lighten each depth")
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _define(canvas: Canvas, index: int, drawing: Drawing) -> None:
    """Define what is drawn and what is cut of a part as two forms, once for all pages that show them."""
    box = curves.bounds([curve for shape in drawing.shapes for curve in shape.path])
    corners = [float(x) for x in (*(box[0] - 1), *(box[1] + 1))]
    for name, layers in (("drawn", DRAWN), ("cut", CUT)):
        canvas.beginForm(f"{name}{index}", *corners)
        for layer in layers:
            _stroke(canvas, drawing, layer)
        canvas.endForm()


def _stroke(canvas: Canvas, drawing: Drawing, layer: Layer) -> None:
    """Stroke a layer in one path; its thousands of points are written at once, not by calls of the canvas."""
    width, grey, dashes = STROKES[layer]
    path = around().of(path_of_layer, drawing, layer)  # most parts stay as they were when one is changed
    if not path:
        return
    canvas.setLineWidth(width)
    canvas.setStrokeGray(grey)
    canvas.setDash(list(dashes))
    canvas.setLineJoin(1)  # round: a mitre reaches past the sharp tips of webs
    canvas.addLiteral(path)


def path_of_layer(drawing: Drawing, layer: Layer) -> str:
    """Return the operators (ISO 32000-1, 8.5) that stroke all that is on a layer, mm; dots whole."""
    rings = [curves.flatten_path(shape.path, FLATTENING) for shape in drawing.shapes if shape.layer == layer]
    dot = [bool(STROKES[layer][2]) and float(np.ptp(ring, axis=0).max()) < DOT for ring in rings]
    lines = drawing.lines.get(layer, np.zeros((0, 2, 2)))
    path = "".join(_ring(ring) for ring, small in zip(rings, dot, strict=True) if not small)
    path += f"{PLACES} m {PLACES} l\n" * len(lines) % tuple(rounded(lines, 3).ravel().tolist())
    dots = "".join(_ring(ring) for ring, small in zip(rings, dot, strict=True) if small)
    return (f"{path}S" if path else "") + (f"\n[] 0 d\n{dots}S" if dots else "")


def _ring(points: Array) -> str:
    return f"{PLACES} m{f' {PLACES} l' * (len(points) - 1)} h\n" % tuple(rounded(points, 3).ravel().tolist())


def _plain(text: str) -> str:
    """Return text in the letters the built-in font has."""
    return text.encode("latin-1", "replace").decode("latin-1")


def _draw_tile(canvas: Canvas, template: Template, tile: Tile, mirrored: bool) -> None:
    left, bottom, right, top = tile.window
    canvas.saveState()
    window = canvas.beginPath()
    half = STROKES[Layer.OUTLINE][0] / 2  # a line that runs along the window's edge is as thick as any other
    window.rect(left - half, bottom - half, right - left + 2 * half, top - bottom + 2 * half)
    canvas.clipPath(window, stroke=0, fill=0)
    _show(canvas, f"drawn{tile.part}", tile.page_from_flat)
    for note in template.notes:
        _along(canvas, note, tile.page_from_flat)
    if template.grain_at is not None:
        _grain(canvas, template.grain_at, tile.page_from_flat)
    _name(canvas, template, tile, mirrored)
    _show(canvas, f"cut{tile.part}", tile.page_from_flat)
    canvas.restoreState()
    _crosses(canvas, tile.seams)


def _show(canvas: Canvas, form: str, page_from_flat: Array) -> None:
    (a, c, e), (b, d, f), _ = page_from_flat.tolist()
    canvas.saveState()
    canvas.transform(a, b, c, d, e, f)
    canvas.doForm(form)
    canvas.restoreState()


def _along(canvas: Canvas, note: EdgeNote, page_from_flat: Array) -> None:
    """Write along an edge, inside of it, the right way up."""
    ends = frames.apply(page_from_flat, np.array([note.start, note.end]))
    way = ends[1] - ends[0]
    size = NOTE
    if canvas.stringWidth(note.text, "Helvetica", size) > 0.9 * math.hypot(*way):
        return
    inward = np.array([-way[1], way[0]]) / math.hypot(*way) * np.sign(np.linalg.det(page_from_flat[:2, :2]))
    angle = math.degrees(math.atan2(way[1], way[0]))
    flipped = not -90 < angle <= 90
    at = ends.mean(axis=0) + inward * (1.0 + (size * 0.7 if (inward @ _up(angle, flipped)) < 0 else 0.0))
    canvas.saveState()
    canvas.translate(*at)
    canvas.rotate(angle + 180 if flipped else angle)
    _write(canvas, (0.0, 0.0), note.text, "Helvetica", size)
    canvas.restoreState()


def _up(angle: float, flipped: bool) -> Array:
    turn = math.radians(angle + (180 if flipped else 0))
    return np.array([-math.sin(turn), math.cos(turn)])


def _name(canvas: Canvas, template: Template, tile: Tile, mirrored: bool) -> None:
    words = template.drawing.texts[0].text if template.drawing.texts else template.drawing.title
    words = _plain(mirrored_words(words) if mirrored else words)
    if tile.cells == (1, 1):
        _beside(canvas, words, frames.apply(tile.page_from_flat, np.array(template.name_along)))
        return
    outline = next(shape for shape in template.drawing.shapes if shape.layer == Layer.OUTLINE)
    low, high = curves.bounds(curves.transform_path(outline.path, tile.page_from_flat))
    x, y = (low[0] + high[0]) / 2, low[1] + 0.64 * (high[1] - low[1])
    left, bottom, right, top = tile.window
    half = 0.5 * text_size(words, NAME, bold=True) + NAME  # whole on every page, so that none is left without a name
    at = (min(max(x, left + half), right - half), min(max(y, bottom + 6), top - 8))
    _write(canvas, at, words, "Helvetica-Bold", NAME)


def mirrored_words(words: str) -> str:
    """Return what is written of a part as it is seen from behind, where its valleys rise the other way."""
    return words.replace("visible face", MIRRORED).replace("valleys toward you", "valleys away from you")


def _beside(canvas: Canvas, words: str, ends: Array) -> None:
    """Write a name along a line beside its part, the right way up."""
    way = ends[1] - ends[0]
    angle = math.degrees(math.atan2(way[1], way[0]))
    canvas.saveState()
    canvas.translate(*ends.mean(axis=0))
    canvas.rotate(angle if -90 < angle <= 90 else angle + 180)
    _write(canvas, (0.0, -0.35 * NAME), words, "Helvetica-Bold", NAME)
    canvas.restoreState()


def _grain(canvas: Canvas, at: tuple[float, float], page_from_flat: Array) -> None:
    """Draw an arrow with two heads along the grain, and say what it is."""
    x, y = at
    ends = [(x - ARROW, y), (x + ARROW, y)]
    heads = [(x + side * (ARROW - 2), y + up) for side in (-1, 1) for up in (-1, 1)]
    (a, b), (p, q, r, s) = (frames.apply(page_from_flat, np.array(points)).tolist() for points in (ends, heads))
    canvas.setLineWidth(0.3)
    canvas.setStrokeGray(0.1)
    canvas.setDash([])
    for start, end in ((a, b), (a, p), (a, q), (b, r), (b, s)):
        canvas.line(*start, *end)
    canvas.saveState()
    canvas.translate((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    _write(canvas, (0.0, -0.7), "grain", "Helvetica", NOTE)
    canvas.restoreState()


def text_size(words: str, size: float, *, bold: bool = False) -> float:
    """Return how long words are in the built-in font, mm."""
    return float(stringWidth(_plain(words), "Helvetica-Bold" if bold else "Helvetica", size))


def _write(canvas: Canvas, at: tuple[float, float], words: str, font: str, size: float) -> None:
    """Write centred on a white ground, so that guides do not run through the letters."""
    wide = canvas.stringWidth(words, font, size) + size / 2
    canvas.setFillGray(1.0)
    canvas.rect(at[0] - wide / 2, at[1] - 0.3 * size, wide, 1.2 * size, stroke=0, fill=1)
    canvas.setFillGray(0.1)
    canvas.setFont(font, size)
    canvas.drawCentredString(at[0], at[1], words)


def _draw_strip(canvas: Canvas, blocks: tuple[Block, ...], paper: Size) -> None:
    """Draw blocks of the strip of aerial perspective from the top down."""
    top = paper[1] - TOP
    for block in blocks:
        canvas.saveState()
        canvas.translate(LEFT, top - block.height)
        for patch in block.patches:
            canvas.setFillColor(HexColor(patch.colour))
            canvas.rect(*patch.at, *patch.size, stroke=0, fill=1)
        canvas.setFillGray(0.1)
        canvas.setLineWidth(0.15)
        for x, low, high in block.ticks:
            canvas.line(x, low, x, high)
        for words in block.words:
            canvas.setFont("Helvetica", words.size)
            write = canvas.drawCentredString if words.middle else canvas.drawString
            write(*words.at, _plain(words.text))
        canvas.restoreState()
        top -= block.height + APART


def _crosses(canvas: Canvas, seams: Array) -> None:
    canvas.setLineWidth(0.15)
    canvas.setStrokeGray(0.0)
    for x, y in seams:
        canvas.line(x - CROSS, y, x + CROSS, y)
        canvas.line(x, y - CROSS, x, y + CROSS)
        canvas.circle(x, y, CROSS / 2)


def _draw_bars(canvas: Canvas) -> None:
    """Draw 100 mm along both edges, ticked every 10 mm."""
    canvas.setLineWidth(0.2)
    canvas.setStrokeGray(0.0)
    canvas.setFillGray(0.0)
    canvas.setFont("Helvetica", 2.4)
    y, x = BOTTOM - 7, LEFT - 7
    canvas.line(LEFT, y, LEFT + BAR, y)
    canvas.line(x, BOTTOM, x, BOTTOM + BAR)
    for step in range(11):
        tick = 2.5 if step % 5 == 0 else 1.5
        canvas.line(LEFT + 10 * step, y, LEFT + 10 * step, y - tick)
        canvas.line(x, BOTTOM + 10 * step, x - tick, BOTTOM + 10 * step)
    canvas.drawString(LEFT, y - 5.2, "100 mm: measure both bars before you cut; print at 100 %, no fitting to the page")


def _draw_key(canvas: Canvas, templates: list[Template], page: Page, paper: Size) -> None:
    """Tell, right of the bar, what the lines on the page mean."""
    drawings = [templates[tile.part].drawing for tile in page.tiles]
    there = {shape.layer for drawing in drawings for shape in drawing.shapes}
    there |= {layer for drawing in drawings for layer, lines in drawing.lines.items() if len(lines)}
    kinds = [Kind(*STROKES[layer], meaning=words) for layer, words in MEANINGS.items() if layer in there]
    if any(len(tile.seams) for tile in page.tiles):
        kinds.append(Kind(0.0, 0.0, (), meaning=CROSSHAIRS))
    map_width = max(tile.cells[0] for tile in page.tiles) * CELL
    draw_key(canvas, kinds, LEFT + BAR + 4, paper[0] - 12 - map_width, BOTTOM - 6)


def _draw_title(canvas: Canvas, words: str, page: Page, paper: Size) -> None:
    canvas.setFont("Helvetica", 2.8)
    side = "mirrored, as seen on the hidden face" if page.mirrored else "as seen on the visible face"
    canvas.drawString(LEFT, 7.5, f"{words}   {side}")
    tile = page.tiles[0]
    columns, rows = tile.cells
    if columns * rows == 1:
        return
    right, base = paper[0] - 10 - columns * CELL, 5.0
    for column in range(columns):
        for row in range(rows):
            here = (column, row) == tile.cell
            canvas.setFillGray(0.3 if here else 1.0)
            canvas.rect(right + column * CELL, base + row * CELL, CELL, CELL, stroke=1, fill=1)
    canvas.setFillGray(0.0)
