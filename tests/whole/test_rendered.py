"""Paper templates and SVG as other programs draw them, against the outlines that GDAL reads from the DXF files.

How far ink may lie from a line is added up from what the files and the drawing programs do:

- a program that smooths edges darkens each pixel its line touches, if ever so little, so a pixel's middle lies up to
  half the line's width and half the pixel's diagonal off the line;
- Chromium draws what is thinner than a pixel as a line one pixel wide, and lightens it. It takes curves for n chords
  where the control points of their cubics stand less than n^2 / 8 pixels from where they would stand on the chord;
- ends of lines fall on 64ths of a pixel there, on 256ths with pdfium.
"""

from __future__ import annotations

import ctypes
import io
import math
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyogrio
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image

from pipeline.build import Build
from pipeline.elements.figure import FOOT
from pipeline.elements.figure_outline import CONTROL, SOLE
from pipeline.sheets.paper import PAPERS, window_of

from ..browsers import launched, missing
from .sampling import some

if TYPE_CHECKING:
    from playwright.sync_api import Page

Array = NDArray[np.float64]
Record = Callable[[str, object], None]

PER_MM = 6.0
"""Pixels of the rendered pages and drawings."""
INK = 250
"""Of 255: darker is drawn. The thinnest line, 0.07 mm, is 0.42 pixels wide and still takes a fifth of the white."""
STEP = 0.1
"""mm between the places of an outline that are looked for."""
DIAGONAL = math.sqrt(0.5)
"""Pixels, half of a pixel's."""
CHORDS = 0.16
"""Pixels that Chromium's n chords may leave a curve. They are off by at most |B''| / (8 n^2); |B''| is 6 |2 e - f|,
with e and f what the control points stand off; each coordinate of theirs is below n^2 / 8. Short arcs have e = f, so
that is 6 sqrt(2) / 64 = 0.13; at a quarter circle, the longest it makes one cubic of, |2 e - f| is 1.15 |e|."""
FITTED = 0.02
"""mm that the arcs of DXF may be off the exact curve (`curve_tolerance`, which no demo sets)."""
FLATTENED = 0.01
"""mm that chords on paper may be."""
LINE = {"paper": 0.25, "SVG": 0.07}
"""mm, width of a cut line."""
OFF = {
    "paper": (LINE["paper"] / 2 + FITTED + FLATTENED) * PER_MM + DIAGONAL + 1 / 256,
    "SVG": 1 / 2 + DIAGONAL + CHORDS + 1 / 64,
}
"""Pixels between an inked one's middle and the line: 1.64 and 1.38."""


def outlines(build: Build, tmp_path: Path) -> dict[str, shapely.Geometry]:
    """Return the cut lines, OUTLINE and HOLES, of every drawing as GDAL reads its DXF, flat mm, by its file's stem."""
    os.environ["OGR_ARC_STEPSIZE"] = "0.2"  # degrees; GDAL's own are 4
    found = {}
    for name in build.files:
        stem, _, kind = name.rpartition(".")
        if kind != "dxf" or f"{stem}.svg" not in build.files:
            continue
        file = tmp_path / "drawing.dxf"
        file.write_bytes(build.files[name])
        table = pyogrio.raw.read(file)
        layers, shapes = table[3][list(table[0]["fields"]).index("Layer")], shapely.from_wkb(table[2])
        cut = shapely.force_2d(shapely.union_all(shapes[np.isin(layers, ["OUTLINE", "HOLES"])]))
        found[stem] = shapely.segmentize(cut, 8)
    return found


def on_paper(build: Build, drawn: dict[str, shapely.Geometry]) -> dict[str, shapely.Geometry]:
    """Return the cut lines of everything that has a template, by the name written there: panels and paper figures."""
    panels = {
        part["id"]: part["files"].get("dxf", "") for part in build.manifest["parts"] if part["made_as"] != "print"
    }
    figures = {one["name"]: silhouette(one["height"]) for one in build.manifest["figures"]}
    return {name: drawn[file.removesuffix(".dxf")] for name, file in panels.items()} | figures


def silhouette(height: float) -> shapely.Geometry:
    """Return a figure's outline by cutting corners.

    Taking the quarters of every side for corners, again and again, ends in the quadratic B-spline of the first corners
    (G. Chaikin, 1974; R. Riesenfeld, 1975); the distance left falls to a quarter each time, from 1 mm to 0.0003.
    """
    half = height * np.array([*CONTROL, *[(SOLE, -FOOT)] * 2])
    ring = np.concatenate([half, half[::-1] * (-1, 1)])
    for _ in range(6):
        after = np.roll(ring, -1, axis=0)
        ring = np.stack([0.75 * ring + 0.25 * after, 0.25 * ring + 0.75 * after], axis=1).reshape(-1, 2)
    return shapely.LinearRing(ring)


def middles(ink: NDArray[np.bool_]) -> NDArray[np.object_]:
    """Return where the middles of inked pixels lie, ``(n,)`` points."""
    rows, columns = np.nonzero(ink)
    return np.asarray(shapely.points(columns + 0.5, rows + 0.5))


def uninked(inked: shapely.STRtree, lines: shapely.Geometry) -> float:
    """Return the greatest distance of a place on the lines from an inked pixel's middle; all in pixels."""
    along = shapely.points(shapely.get_coordinates(shapely.segmentize(lines, STEP * PER_MM)))
    return float(inked.query_nearest(along, return_distance=True, all_matches=False)[1].max())


def astray(spots: NDArray[np.object_], lines: shapely.Geometry) -> float:
    """Return the greatest distance of a pixel's middle from the lines; all in pixels."""
    corners, ring = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    same = ring[1:] == ring[:-1]
    sides = shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)[same])
    return float(shapely.STRtree(sides).query_nearest(spots, return_distance=True, all_matches=False)[1].max(initial=0))


def cut_forms(page: Any) -> list[Any]:
    """Take everything off a page but the forms that hold only cut lines, and return those."""
    kept = []
    for thing in list(page.get_objects(max_depth=1)):
        count = pdfium.FPDFFormObj_CountObjects(thing.raw) if thing.type == pdfium.FPDF_PAGEOBJ_FORM else 0
        if count > 0 and all(is_cut(pdfium.FPDFFormObj_GetObject(thing.raw, k)) for k in range(count)):
            kept.append(thing)
        else:
            page.remove_obj(thing)
    return kept


def is_cut(thing: Any) -> bool:
    """Tell whether a PDF's path is black and solid, as only cut lines are; a figure's fold is black, but dashed."""
    values = [ctypes.c_uint() for _ in range(4)]
    assert pdfium.FPDFPageObj_GetStrokeColor(thing, *map(ctypes.byref, values))
    return not any(value.value for value in values[:3]) and pdfium.FPDFPageObj_GetDashCount(thing) == 0


def test_paper_shows_every_outline_at_true_size(demo: Build, tmp_path: Path, record_property: Record) -> None:
    """As pdfium draws the pages, cut lines lie on the outlines, at 1:1, on both kinds of page; none lacks."""
    known = on_paper(demo, outlines(demo, tmp_path))
    paper = pypdfium2.PdfDocument(demo.files["templates.pdf"])
    taken = some(range(len(paper)), demo.manifest["title"])
    left, bottom, right, top = window_of(PAPERS["A4"])
    window = shapely.box(left * PER_MM, (297 - top) * PER_MM, right * PER_MM, (297 - bottom) * PER_MM).buffer(-2)
    seen = set()
    for number in taken:
        page = paper[number]
        words = " ".join(page.get_textpage().get_text_range().split())
        named = {name: line for name, line in known.items() if name in words}
        forms = cut_forms(page)
        if not forms:
            continue
        picture = page.render(scale=PER_MM * 25.4 / 72, grayscale=True).to_numpy().squeeze()
        ink = middles(picture < INK)
        inked = shapely.STRtree(ink)
        # pdfium takes a whole number of pixels and stretches the page by less than one to fill them.
        scale = np.array(picture.shape[::-1]) / [page.get_width(), -page.get_height()]
        drawn = []
        for form in forms:
            a, b, c, d, e, f = form.get_matrix().get()
            turn = np.array([[a, c], [b, d]]) * 25.4 / 72
            assert turn @ turn.T == pytest.approx(np.eye(2), abs=1e-6)
            onto = np.array([[a, b], [c, d]]) * scale
            origin = np.array([e, f]) * scale + [0, picture.shape[0]]
            laid = {name: laid_out(line, onto, origin) for name, line in named.items()}
            within = {name: line.intersection(window) for name, line in laid.items()}
            # Which of those named on it this is, the drawing itself must tell: the one whose outline is there.
            off = {name: uninked(inked, line) for name, line in within.items() if not line.is_empty}
            name = min(off, key=off.__getitem__)
            record_property("paper: outline without ink, mm", float(off[name] / PER_MM))
            assert off[name] < 1, f"page {number + 1}: nearest is {name}"
            seen.add((name, bool(np.linalg.det(turn) < 0)))
            drawn.append(laid[name])
            del named[name]  # nothing is on a page twice, but some parts are alike
        lines = shapely.union_all(drawn)
        far = astray(ink, lines)
        record_property("paper: ink off outline, pixels", float(far))
        assert far < OFF["paper"], f"page {number + 1}"
        black = (1 - picture / 255.0).sum()  # as much as lines of full width have, at the edge of a page's window too
        full = lines.intersection(window.buffer(3)).length * LINE["paper"] * PER_MM
        record_property("paper: ink too much or little", float(abs(black / full - 1)))
        assert black == pytest.approx(full, rel=0.02), f"page {number + 1}"
    if len(taken) == len(paper):
        assert seen == {(name, mirrored) for name in known for mirrored in (False, True)}


def laid_out(lines: shapely.Geometry, onto: Array, origin: Array) -> shapely.Geometry:
    """Return lines, flat mm, in pixels."""
    return shapely.transform(lines, lambda at: at @ onto + origin)


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    """One page of Chromium for all drawings."""
    if os.environ.get("CI"):
        assert missing() == "", f"{missing()}: in CI drawings are never left unseen"
    if missing():
        pytest.skip(missing())
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright, launched(playwright.chromium, graphics=False) as browser:
        yield browser.new_page(viewport={"width": 400, "height": 400})


def test_a_browser_shows_every_outline_at_true_size(
    demo: Build, tmp_path: Path, page: Page, record_property: Record
) -> None:
    """As Chromium draws panels, boards and sheets, their size in mm taken at its word, cut lines lie on the outlines.

    Where the drawing lies on its own paper means nothing, so both are laid middle on middle.
    """
    for stem, line in some(list(outlines(demo, tmp_path).items()), demo.manifest["title"]):
        svg = demo.files[f"{stem}.svg"].decode()
        # CSS: 96 px are 25.4 mm. All but the cut lines are hidden.
        page.set_content(
            f"<style>body {{ margin: 0; zoom: {PER_MM * 25.4 / 96} }} svg {{ display: block }}"
            f" g:not(#OUTLINE, #HOLES) {{ display: none }}</style>{svg[svg.index('<svg') :]}"
        )
        shot = page.locator("svg").screenshot()
        picture = np.asarray(Image.open(io.BytesIO(shot)).convert("L"))
        box = page.locator("#OUTLINE").evaluate("g => { const b = g.getBBox(); return [b.x, b.y, b.width, b.height] }")
        middle = PER_MM * (np.array(box[:2]) + np.array(box[2:]) / 2)
        x0, y0, x1, y1 = line.bounds
        onto = np.diag([PER_MM, -PER_MM])
        laid = laid_out(line, onto, middle - np.array([x0 + x1, y0 + y1]) / 2 @ onto)
        ink = middles(picture < INK)
        far, near = astray(ink, laid), uninked(shapely.STRtree(ink), laid)
        record_property("SVG: ink off outline, pixels", float(far))
        record_property("SVG: outline without ink, mm", float(near / PER_MM))
        assert far < OFF["SVG"], stem
        assert near < 1, stem
