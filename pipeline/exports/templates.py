"""All panels of a scene as paper templates."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.exports.drawing import Drawing, Layer, Text
from pipeline.exports.haze_strip import Block
from pipeline.exports.pdf import CUT, NAME, NOTE, EdgeNote, Template, mirrored_words, text_size, write_templates
from pipeline.exports.panel_drawing import fold_words
from pipeline.geometry.curves import Path, bounds, flatten, flatten_path
from pipeline.parts.model import JointEdge
from pipeline.sheets.paper import PAPERS, Page, lay_pages

Array = NDArray[np.float64]

FLATTENING = 0.01
"""mm; words keep clear of curves by far more."""
ENDS = 1e-4
"""mm; nearer places of an outline are one."""
STRIP = 6.5
"""mm beside a part for its name."""
REMEMBERED = 256
"""Contours whose ends are kept; they are immutable and known by identity."""
ROOM = 1.2
"""Line given to what is written at a mark, of its own length."""
BEVELLED = 0.05
"""Degrees; a smaller bevel is a square edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PaperPart:
    """A part to be drawn on paper: its drawing, its edges, whether its sheet has a grain, and its folds.

    A fold is a line ``(2, 2)`` flat and how far it is folded toward the visible side, degrees; ``marks`` is what is
    written on it. What is used on one side alone, such as a stencil, is not drawn mirrored.
    """

    drawing: Drawing
    edges: tuple[JointEdge, ...]
    grain: bool = False
    folds: tuple[tuple[Array, float], ...] = ()
    marks: tuple[Text, ...] = ()
    one_sided: bool = False


def templates_pdf(title: str, parts: list[PaperPart], paper: str, strip: tuple[Block, ...] = ()) -> bytes:
    """Return the PDF with every part as seen on its visible face, and then mirrored.

    Parameters
    ----------
    title
        Of the scene.
    parts
        Every panel.
    paper
        A key of ``PAPERS``.
    strip
        Of aerial perspective, on pages of its own at the end.
    """
    names = {part.drawing.title for part in parts} | {""}
    named = [_named(part.drawing) for part in parts]
    templates = [
        Template(
            drawing=part.drawing,
            notes=(
                *(edge_note(edge, part.drawing) for edge in part.edges if edge.against in names),
                *(_fold_note(line, angle) for line, angle in part.folds),
                *(_mark_note(text) for text in part.marks),
            ),
            name_along=line,
            grain_at=_middle(part.drawing) if part.grain else None,
        )
        for part, (line, _) in zip(parts, named, strict=True)
    ]
    boxes = [box for _, box in named]
    size = PAPERS[paper]
    both = [number for number, part in enumerate(parts) if not part.one_sided]
    behind = lay_pages([boxes[number] for number in both], size, mirrored=True)
    pages = lay_pages(boxes, size, mirrored=False) + [_numbered(page, both) for page in behind]
    return write_templates(title, templates, pages, size, strip)


def edge_note(edge: JointEdge, drawing: Drawing) -> EdgeNote:
    """Return what is written along an edge: its length, its bevel and what stands against it.

    On a curved edge the words stand along its middle, clear of the curve.
    """
    words = [f"{edge.length:.1f} mm"]
    least, most = edge.bevel_deg
    if most - least > BEVELLED:
        words.append(f"bevel {least:.0f} to {most:.0f} deg")
    elif abs(least) > BEVELLED:
        words.append(f"bevel {abs(least):.0f} deg {'outward' if least > 0 else 'under'}")
    if edge.against:
        words.append(f"to {edge.against}")
    text = "  ".join(words)
    start, end = np.array(edge.start), np.array(edge.end)
    along = _stretch(drawing, start, end)
    if along is None:
        return EdgeNote(start=edge.start, end=edge.end, text=text)
    sizes = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(along, axis=0), axis=1))])
    half = min(0.5 * text_size(text, NOTE), 0.5 * float(sizes[-1]))
    at = np.array([sizes[-1] / 2 - half, sizes[-1] / 2, sizes[-1] / 2 + half])
    left, middle, right = np.column_stack([np.interp(at, sizes, along[:, k]) for k in (0, 1)])
    way = (right - left) / max(float(np.linalg.norm(right - left)), 1e-9)
    inward = np.array([-way[1], way[0]])
    here = along[(sizes >= at[0]) & (sizes <= at[2])]
    depth = max(0.0, float(((np.vstack([left, right, here]) - middle) @ inward).max()))
    centre, reach = middle + depth * inward, 0.5 * float(sizes[-1]) * way
    return EdgeNote(start=tuple((centre - reach).tolist()), end=tuple((centre + reach).tolist()), text=text)


def _numbered(page: Page, numbers: list[int]) -> Page:
    """Return a page of some of the parts with those parts' own numbers."""
    return replace(page, tiles=tuple(replace(tile, part=numbers[tile.part]) for tile in page.tiles))


def _mark_note(text: Text) -> EdgeNote:
    """Return what is written at a mark, level from its place on."""
    (x, y), wide = text.at, ROOM * text_size(text.text, NOTE)
    return EdgeNote(start=(x, y - 1.0), end=(x + wide, y - 1.0), text=text.text)


def _fold_note(line: Array, angle_deg: float) -> EdgeNote:
    (a, b), (c, d) = line.tolist()
    return EdgeNote(start=(a, b), end=(c, d), text=fold_words(angle_deg))


def _stretch(drawing: Drawing, start: Array, end: Array) -> Array | None:
    """Return the points ``(n, 2)`` of a contour from one place of it to another, or nothing where it is straight."""
    for shape in drawing.shapes:
        if shape.layer not in CUT:
            continue
        starts, ends = _starts_and_ends(shape.path)
        begins = np.flatnonzero(np.abs(starts - start).max(axis=1) < ENDS)
        if not len(begins):
            continue
        first, count = int(begins[0]), len(starts)
        following = np.arange(first, 2 * count)
        stops = np.flatnonzero(np.abs(ends[following % count] - end).max(axis=1) < ENDS)
        if len(stops):
            run = [shape.path[k] for k in following[: stops[0] + 1] % count]
            points = [flatten(curve, FLATTENING)[:-1] for curve in run]
            return None if len(run) == 1 and run[0].straight else np.vstack([*points, end])
    return None


@lru_cache(maxsize=REMEMBERED)  # every edge of a part looks along its contours
def _starts_and_ends(path: Path) -> tuple[Array, Array]:
    """Return where the curves of a path start and end, each ``(n, 2)``."""
    return np.array([curve.start for curve in path]), np.array([curve.end for curve in path])


def _named(drawing: Drawing) -> tuple[tuple[tuple[float, float], tuple[float, float]], Array]:
    """Return the line below or beside a part along which its name is written, and the box of both, flat mm."""
    box = _box(drawing)
    (x0, y0), (x1, y1) = box.tolist()
    words = drawing.texts[0].text if drawing.texts else drawing.title
    # The longer of the two forms of the name, so that both kinds of page are laid alike.
    long = text_size(mirrored_words(words), NAME, bold=True)
    if x1 - x0 >= min(y1 - y0, long):
        reach = max(0.0, long - (x1 - x0)) / 2
        line = (x0 - reach, y0 - STRIP + 1.5), (x1 + reach, y0 - STRIP + 1.5)
        return line, np.array([[x0 - reach, y0 - STRIP], [x1 + reach, y1]])
    reach = max(0.0, long - (y1 - y0)) / 2
    line = (x1 + STRIP - 1.5, y0 - reach), (x1 + STRIP - 1.5, y1 + reach)
    return line, np.array([[x0, y0 - reach], [x1 + STRIP, y1 + reach]])


def _middle(drawing: Drawing) -> tuple[float, float]:
    """Return a place well inside a part, where its grain is shown."""
    loops = [flatten_path(shape.path, FLATTENING) for shape in drawing.shapes if shape.layer in CUT]
    sheet = shapely.Polygon(loops[0], loops[1:])
    spot = shapely.maximum_inscribed_circle(sheet, tolerance=1.0).coords[0]
    return float(spot[0]), float(spot[1])


def _box(drawing: Drawing) -> Array:
    cut = [shape.path for shape in drawing.shapes if shape.layer in (Layer.OUTLINE, Layer.BEVEL)]
    return bounds([curve for path in cut for curve in path])
