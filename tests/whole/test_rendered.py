"""Paper templates and SVG as other programs draw them, against the outlines that GDAL reads from the DXF files."""

from __future__ import annotations

import ctypes
import io
import os
from collections.abc import Iterator
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
from pipeline.sheets.paper import PAPERS, window_of

from ..browsers import launched, missing
from ..conftest import built

if TYPE_CHECKING:
    from playwright.sync_api import Page

Array = NDArray[np.float64]

PER_MM = 6.0
"""Pixels of the rendered pages and drawings."""
INK = 250
"""Of 255: darker is drawn. The thinnest line, 0.07 mm, is 0.42 pixels wide and still takes a fifth of the white."""
STEP = 0.1
"""mm between the places of an outline that are looked for."""


def outlines(build: Build, tmp_path: Path) -> dict[str, shapely.Geometry]:
    """Return the cut lines, OUTLINE and HOLES, of every panel as GDAL reads its DXF, flat mm."""
    os.environ["OGR_ARC_STEPSIZE"] = "0.2"  # degrees; GDAL's own are 4
    found = {}
    for part in build.manifest["parts"]:
        if part["made_as"] == "print":
            continue
        file = tmp_path / f"{part['id']}.dxf"
        file.write_bytes(build.files[part["files"]["dxf"]])
        table = pyogrio.raw.read(file)
        layers, shapes = table[3][list(table[0]["fields"]).index("Layer")], shapely.from_wkb(table[2])
        found[part["id"]] = shapely.force_2d(shapely.union_all(shapes[np.isin(layers, ["OUTLINE", "HOLES"])]))
    return found


def farthest(ink: NDArray[np.bool_], lines: shapely.Geometry) -> tuple[float, float]:
    """Return how far, pixels, any ink is from the lines, and any place of the lines from ink; lines in pixels."""
    rows, columns = np.nonzero(ink)
    spots = shapely.points(columns + 0.5, rows + 0.5)
    along = shapely.get_coordinates(shapely.segmentize(lines, STEP * PER_MM))
    near = shapely.STRtree(spots).query_nearest(shapely.points(along), return_distance=True, all_matches=False)[1]
    pieces = shapely.STRtree(shapely.get_parts(shapely.segmentize(lines, 50)))
    off = pieces.query_nearest(spots, return_distance=True, all_matches=False)[1]
    return float(off.max(initial=0.0)), float(near.max(initial=0.0))


def cut_forms(page: Any) -> list[Any]:
    """Take everything off a page but the forms that hold only black lines, which are cut, and return those."""
    kept = []
    for thing in list(page.get_objects(max_depth=1)):
        count = pdfium.FPDFFormObj_CountObjects(thing.raw) if thing.type == pdfium.FPDF_PAGEOBJ_FORM else 0
        if count > 0 and all(stroke(pdfium.FPDFFormObj_GetObject(thing.raw, k)) == (0, 0, 0) for k in range(count)):
            kept.append(thing)
        else:
            page.remove_obj(thing)
    return kept


def stroke(thing: Any) -> tuple[int, ...]:
    """Return the red, green and blue that a PDF's path is stroked with."""
    values = [ctypes.c_uint() for _ in range(4)]
    assert pdfium.FPDFPageObj_GetStrokeColor(thing, *map(ctypes.byref, values))
    return tuple(value.value for value in values[:3])


@pytest.fixture(params=["deck", "tunnel"])
def demo(request: pytest.FixtureRequest) -> Build:
    """Two scenes; the others, and above all the cistern with its many webs, take minutes to be rendered so finely."""
    return built(request.param)


def test_paper_shows_every_outline_at_true_size(demo: Build, tmp_path: Path) -> None:
    """As pdfium draws the pages, cut lines lie on the outlines to a pixel, at 1:1, on both kinds of page; none lacks.

    A cut line is 0.25 mm wide, so its ink reaches half of that besides.
    """
    known = outlines(demo, tmp_path)
    left, bottom, right, top = window_of(PAPERS["A4"])
    window = shapely.box(left * PER_MM, (297 - top) * PER_MM, right * PER_MM, (297 - bottom) * PER_MM).buffer(-2)
    seen = set()
    for page in pypdfium2.PdfDocument(demo.files["templates.pdf"]):
        forms = cut_forms(page)
        if not forms:
            continue
        picture = page.render(scale=PER_MM * 25.4 / 72, grayscale=True).to_numpy().squeeze()
        ink = picture < INK
        # pdfium takes a whole number of pixels and stretches the page by less than one to fill them.
        scale = np.array(ink.shape[::-1]) / [page.get_width(), -page.get_height()]
        drawn = []
        for form in forms:
            a, b, c, d, e, f = form.get_matrix().get()
            turn = np.array([[a, c], [b, d]]) * 25.4 / 72
            assert turn @ turn.T == pytest.approx(np.eye(2), abs=1e-6)
            onto = np.array([[a, b], [c, d]]) * scale
            origin = np.array([e, f]) * scale + [0, ink.shape[0]]
            laid = {name: laid_out(line, onto, origin) for name, line in known.items()}
            # Which panel this is, the drawing itself must tell: the one whose whole outline is there.
            off = {name: farthest(ink, line.intersection(window))[1] for name, line in laid.items()}
            name = min(off, key=off.__getitem__)
            assert off[name] < 1
            seen.add((name, bool(np.linalg.det(turn) < 0)))
            drawn.append(laid[name])
        lines = shapely.union_all(drawn)
        assert farthest(ink, lines)[0] < 0.125 * PER_MM + 1
        black = (1 - picture / 255.0).sum()  # as much as lines of full width have, at the edge of a page's window too
        assert black == pytest.approx(lines.intersection(window.buffer(3)).length * 0.25 * PER_MM, rel=0.02)
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


def test_a_browser_shows_every_outline_at_true_size(demo: Build, tmp_path: Path, page: Page) -> None:
    """As Chromium draws each panel's SVG, its size in mm taken at its word, cut lines lie on the outline to a pixel.

    Where the drawing lies on its own paper means nothing, so both are laid middle on middle.
    """
    for name, line in outlines(demo, tmp_path).items():
        (part,) = (part for part in demo.manifest["parts"] if part["id"] == name)
        svg = demo.files[part["files"]["svg"]].decode()
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
        off, near = farthest(picture < INK, laid_out(line, onto, middle - np.array([x0 + x1, y0 + y1]) / 2 @ onto))
        assert off < 0.035 * PER_MM + 1, name
        assert near < 1, name
