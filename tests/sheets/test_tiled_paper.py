"""A part larger than the paper: its pages, read back from the PDF."""

from __future__ import annotations

import io
import re
from typing import Any

import numpy as np
import pypdf
import pytest
from numpy.typing import NDArray

from pipeline.exports.drawing import Drawing, Layer, Shape, Text
from pipeline.exports.pdf import CROSS
from pipeline.exports.templates import PaperPart, edge_note, templates_pdf
from pipeline.geometry import curves
from pipeline.parts.model import JointEdge
from pipeline.sheets.paper import PAPERS, Page, lay_pages
from tests.sheets.test_paper import NUMBER, POINT_MM, operators, strokes

Array = NDArray[np.float64]

NAME = "long-wall  visible face"
WIDE, HIGH = 400.0, 300.0
"""mm; a name's strip below it makes the part a little higher."""


def drawing() -> Drawing:
    plate = curves.polygon(np.array([[0.0, 0.0], [WIDE, 0.0], [WIDE, HIGH], [0.0, HIGH]]))
    texts = (Text(at=(10.0, 5.0), height=3.0, text=NAME),)
    return Drawing(title="long-wall", shapes=(Shape(layer=Layer.OUTLINE, path=plate),), texts=texts)


PDF = pypdf.PdfReader(io.BytesIO(templates_pdf("a hall", [PaperPart(drawing=drawing(), edges=())], "A4")))


def written() -> list[tuple[str, Array, float]]:
    """Return every page's operators, its lines ``(n, 4)`` in page mm, and the scale of its numbers."""
    out = []
    for page in PDF.pages:
        contents: Any = page.get_contents()
        text = operators(contents.get_data())
        scales = re.findall(rf"{NUMBER} 0 0 {NUMBER} 0 0 cm", text)
        (scale,) = {float(a) * POINT_MM for a, d in scales if a == d and float(a) != 1}
        out.append((text, strokes(text) * scale, scale))
    return out


def expected_pages() -> list[Page]:
    """Lay the part's box out as paper is laid; ``test_paper.py`` holds that to what has to cover what."""
    low, high = np.array([0.0, -6.5]), np.array([WIDE, HIGH])
    boxes = [np.array([low, high])]
    return lay_pages(boxes, PAPERS["A4"], mirrored=False) + lay_pages(boxes, PAPERS["A4"], mirrored=True)


def test_every_page_bears_the_parts_name_and_which_side_it_shows() -> None:
    """Sheets of paper get mixed up; half of them show the hidden face."""
    said = [page.extract_text() for page in PDF.pages]
    assert len(said) == len(expected_pages())
    assert len(said) % 2 == 0
    half = len(said) // 2
    assert all(NAME in text and "as seen on the visible face" in text for text in said[:half])
    assert all("long-wall  mirrored" in text and "as seen on the hidden face" in text for text in said[half:])


def test_crosshairs_are_drawn_where_neighbours_meet() -> None:
    """Each of two strokes of 2 x 3 mm, its middle at a place that the next page shows as well."""
    for page, (_, lines, _) in zip(expected_pages(), written(), strict=True):
        (tile,) = page.tiles
        assert len(tile.seams) >= 2
        for x, y in tile.seams:
            for stroke in ([x - CROSS, y, x + CROSS, y], [x, y - CROSS, x, y + CROSS]):
                assert np.abs(lines - stroke).max(axis=1).min() < 0.01


def test_a_little_map_shows_which_of_the_parts_pages_this_is() -> None:
    """As many cells of 4 mm as the part has pages, in the corner; one of them is dark, another on every page."""
    dark = []
    for page, (text, _, scale) in zip(expected_pages(), written(), strict=True):
        columns, rows = page.tiles[0].cells
        cells = []
        grey = ""
        for line in text.splitlines():
            words = line.split()
            if words[-1:] == ["rg"] or words[-1:] == ["g"]:
                grey = words[0]
            if "re" in words:
                at = words.index("re")
                x, y, wide, high = (float(word) * scale for word in words[at - 4 : at])
                if wide == pytest.approx(4.0, abs=0.01) and high == pytest.approx(4.0, abs=0.01):
                    cells.append((round(x, 1), round(y, 1), grey))
        assert len(cells) == columns * rows
        assert max(x for x, _, _ in cells) == pytest.approx(210 - 10 - 4, abs=0.1)
        (here,) = [(x, y) for x, y, tone in cells if float(tone) < 0.5]
        dark.append(here)
    half = len(dark) // 2
    assert len(set(dark[:half])) == half


def edge(bevel: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> JointEdge:
    return JointEdge(start=start, end=end, length=300.0, against="floor", angle_deg=None, bevel_deg=bevel, gap=(0, 0))


def test_a_bevel_that_changes_along_its_edge_is_told_by_both_its_ends() -> None:
    """Against a warped surface; a single one is told by its size and its side."""
    low, high = (0.0, 0.0), (0.0, HIGH)
    assert edge_note(edge((-1.0, 3.0), low, high), drawing()).text == "300.0 mm  bevel -1 to 3 deg  to floor"
    assert edge_note(edge((3.0, 3.0), low, high), drawing()).text == "300.0 mm  bevel 3 deg outward  to floor"
    assert edge_note(edge((-3.0, -3.0), low, high), drawing()).text == "300.0 mm  bevel 3 deg under  to floor"


def test_words_of_an_edge_that_no_cut_follows_stand_between_its_ends() -> None:
    """Where a joint runs across a part, inside of its outline, there is no curve to keep clear of."""
    note = edge_note(edge((0.0, 0.0), (50.0, 20.0), (50.0, 220.0)), drawing())
    assert (note.start, note.end) == ((50.0, 20.0), (50.0, 220.0))
