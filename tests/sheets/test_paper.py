"""Paper templates: pages that cover every part, and a PDF that is true to size."""

from __future__ import annotations

import io
import re
from typing import Any

import numpy as np
import pypdf
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.build import Build, make
from pipeline.exports.drawing import Drawing, Layer, Shape
from pipeline.exports.pdf import NOTE, text_size
from pipeline.exports.templates import edge_note
from pipeline.geometry import curves, frames
from pipeline.parts.model import JointEdge
from pipeline.scene.starter import Wishes, starter_scene
from pipeline.sheets.paper import OVERLAP, PAPERS, Page, Tile, lay_pages, window_of

from ..corners.rooms import NET, made
from ..scene_text import PLAIN, changed

Array = NDArray[np.float64]
POINT_MM = 25.4 / 72
"""ISO 32000-1: 72 units are an inch."""

NUMBER = r"(-?\d*\.?\d+)"


def box(width: float, height: float) -> Array:
    return np.array([[-3.0, 5.0], [width - 3.0, height + 5.0]])


def tiles(pages: list[Page], part: int) -> list[Tile]:
    return [tile for page in pages for tile in page.tiles if tile.part == part]


@given(
    st.lists(st.tuples(st.floats(5, 700), st.floats(5, 700)), min_size=1, max_size=6),
    st.sampled_from(sorted(PAPERS)),
    st.booleans(),
)
def test_every_point_of_every_part_is_on_a_page(sizes: list[tuple[float, float]], paper: str, mirrored: bool) -> None:
    """Tiles re-assembled are the part: each of a grid of its points lies in some tile's window, at 1:1."""
    boxes = [box(*size) for size in sizes]
    pages = lay_pages(boxes, PAPERS[paper], mirrored=mirrored)
    for part, (low, high) in enumerate(boxes):
        gx, gy = np.meshgrid(np.linspace(low[0], high[0], 15), np.linspace(low[1], high[1], 15))
        points = np.column_stack([gx.ravel(), gy.ravel()])
        seen = np.zeros(len(points), dtype=bool)
        for tile in tiles(pages, part):
            matrix = tile.page_from_flat
            assert abs(np.linalg.det(matrix[:2, :2])) == pytest.approx(1.0)
            assert (np.linalg.det(matrix[:2, :2]) < 0) == mirrored
            on_page = frames.apply(matrix, points)
            left, bottom, right, top = tile.window
            seen |= (on_page >= [left - 1e-6, bottom - 1e-6]).all(axis=1) & (on_page <= [right + 1e-6, top + 1e-6]).all(
                axis=1
            )
        assert seen.all()


@given(st.floats(250, 900), st.floats(250, 900))
def test_crosshairs_of_neighbours_are_one_place_of_the_part(width: float, height: float) -> None:
    """Laid over one another at the crosshairs, neighbouring pages show the part as one."""
    pages = lay_pages([box(width, height)], PAPERS["A4"], mirrored=False)
    by_cell = {tile.cell: tile for tile in tiles(pages, 0)}
    homes = {cell: frames.apply(frames.inverse(tile.page_from_flat), tile.seams) for cell, tile in by_cell.items()}
    for (column, row), marks in homes.items():
        for there in ((column + 1, row), (column, row + 1)):
            if there in homes:
                gaps = np.linalg.norm(marks[:, None] - homes[there][None], axis=2)
                assert (gaps < 1e-6).sum() == 2


def test_small_parts_share_a_page() -> None:
    """Six hand-sized parts need one sheet of A4, apart from one another."""
    pages = lay_pages([box(60, 60)] * 6, PAPERS["A4"], mirrored=False)
    assert len(pages) == 1
    corners = [frames.apply(tile.page_from_flat, box(60, 60)) for tile in pages[0].tiles]
    for i, a in enumerate(corners):
        for b in corners[:i]:
            apart = np.maximum(a.min(axis=0) - b.max(axis=0), b.min(axis=0) - a.max(axis=0))
            assert apart.max() > 5


def test_a_long_part_is_turned_to_need_fewest_pages() -> None:
    """270 x 180 fits A4 across, so it lies across."""
    left, bottom, right, top = window_of(PAPERS["A4"])
    pages = lay_pages([box(top - bottom, right - left)], PAPERS["A4"], mirrored=False)
    assert len(pages) == 1


def test_overlaps_are_as_wide_as_stated() -> None:
    """Two pages of one part share 12 mm."""
    pages = lay_pages([box(300, 100)], PAPERS["A4"], mirrored=False)
    first, second = tiles(pages, 0)
    shift = first.page_from_flat[:2, 2] - second.page_from_flat[:2, 2]
    size = np.array(first.window[2:]) - np.array(first.window[:2])
    assert (size - np.abs(shift)).min() == pytest.approx(OVERLAP)


def operators(stream: bytes) -> str:
    return stream.decode("latin-1")


def strokes(text: str) -> Array:
    """Return every ``x y m x y l`` as ``(n, 4)``."""
    found = re.findall(rf"{NUMBER} {NUMBER} m {NUMBER} {NUMBER} l", text)
    return np.array(found, dtype=np.float64)


def reader(made: Build) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(made.files["templates.pdf"]))


def test_print_scaling_is_off_and_the_paper_is_a4(demo: Build) -> None:
    """ISO 216: 210 x 297; a viewer must not fit it to the page."""
    pdf = reader(demo)
    root: Any = pdf.trailer["/Root"]
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"
    for page in pdf.pages:
        width, height = (float(x) * POINT_MM for x in page.mediabox.upper_right)
        assert (width, height) == pytest.approx((210, 297), abs=1e-3)


def test_bars_are_100_mm_on_both_axes_of_every_page(demo: Build) -> None:
    """Read back from the PDF's own operators and its scale."""
    for page in reader(demo).pages:
        contents = page.get_contents()
        assert contents is not None
        text = operators(contents.get_data())
        scales = [float(a) for a, d in re.findall(rf"{NUMBER} 0 0 {NUMBER} 0 0 cm", text) if a == d and float(a) != 1]
        (scale,) = set(scales)
        lines = strokes(text) * scale * POINT_MM
        along, up = np.abs(lines[:, 2] - lines[:, 0]), np.abs(lines[:, 3] - lines[:, 1])
        assert (np.abs(along - 100) < 0.001).sum() >= 1
        assert (np.abs(up - 100) < 0.001).sum() >= 1


def test_edges_are_as_long_as_the_manifest_says(demo: Build) -> None:
    """The cut form of each panel holds its outline: straight edges read back to 0.01 mm, at 1:1."""
    pdf = reader(demo)
    forms: dict[str, str] = {}
    for page in pdf.pages:
        resources: Any = page["/Resources"]
        for name, form in resources.get("/XObject", pypdf.generic.DictionaryObject()).get_object().items():
            forms[name] = operators(form.get_object().get_data())
    cut = {
        name: np.array(re.findall(rf"{NUMBER} {NUMBER} [ml]\b", text), dtype=np.float64)
        for name, text in forms.items()
        if "cut" in name
    }
    for part in (part for part in demo.manifest["parts"] if part["made_as"] == "panel"):
        ends = np.array([edge[end] for edge in part["edges"] for end in ("start", "end")])
        gaps = {name: np.linalg.norm(points[:, None] - ends, axis=2).min(axis=0).max() for name, points in cut.items()}
        best = min(gaps, key=gaps.__getitem__)
        assert gaps[best] < 0.01, part["id"]
        del cut[best]


def words(page: Any) -> list[tuple[str, Array]]:
    """Return each name on a page with the corners (4, 2) of what it covers, mm, by pypdf's text matrices."""
    found = []

    def visit(text: str, cm: list[float], tm: list[float], _font: Any, size: float) -> None:
        if " face" in text and " mm " in text:
            matrix = np.array(tm).reshape(3, 2) @ np.array(cm).reshape(3, 2)[:2]
            matrix[2] += np.array(cm)[4:]
            wide = text_size(text.strip(), size, bold=True)
            corners = np.array([[0, 0, 1], [wide, 0, 1], [wide, size * 0.7, 1], [0, size * 0.7, 1]])
            found.append((text.strip(), corners @ matrix * POINT_MM))

    page.extract_text(visitor_text=visit)
    return found


def test_names_of_parts_that_share_a_page_are_apart(demo: Build) -> None:
    """Each name stands clear of every other and on the paper; each whole part is named on both kinds of page."""
    seen = set()
    for page in reader(demo).pages:
        boxes: list[shapely.Polygon] = []
        for name, corners in words(page):
            seen.add(name)
            box = shapely.Polygon(corners)
            assert shapely.box(0, 0, 210, 297).contains(box), name
            assert all(box.disjoint(other) for other in boxes), name
            boxes.append(box)
    ids = {part["id"] for part in demo.manifest["parts"] if part["made_as"] != "print"}
    assert {name.split()[0] for name in seen if name.endswith("visible face")} == ids
    assert {name.split()[0] for name in seen if name.endswith("hidden face")} == ids


def test_every_page_of_a_tiled_part_bears_its_whole_name_and_its_folds() -> None:
    """A net of 2 x 2 pages: no name runs out of a window, folds have their angles, valleys turn when mirrored."""
    pages = pypdf.PdfReader(io.BytesIO(made(NET).files["templates.pdf"])).pages
    left, bottom, right, top = window_of(PAPERS["A4"])
    angles = {round(crease.angle_deg, 1) for net in made(NET).nets for crease in net.creases}
    assert len(pages) == 8
    for number, page in enumerate(pages):
        ((name, corners),) = words(page)
        assert shapely.box(left, bottom, right, top).contains(shapely.Polygon(corners))
        assert name.startswith("net  ")
        assert name.endswith("valleys toward you" if number < 4 else "valleys away from you")
    told = {float(angle) for page in pages for angle in re.findall(r"valley (\d+\.\d) deg", page.extract_text())}
    assert angles <= told


@pytest.mark.parametrize("turn", [1, -1])
def test_words_along_a_curve_stand_inside_it(turn: int) -> None:
    """A D of radius 60: its arc bulges out, and the words lie wholly within; in a hole they lie wholly outside."""
    disc = (*curves.arc((0, 0), 60, -np.pi / 2, np.pi / 2), curves.line((0, 60), (0, -60)))
    path = disc if turn > 0 else curves.reverse_path(disc)
    frame = curves.polygon([(-90, -90), (90, -90), (90, 90), (-90, 90)])
    shapes = [Shape(layer=Layer.HOLES, path=path), Shape(layer=Layer.OUTLINE, path=frame)]
    drawing = Drawing(title="d", shapes=tuple(shapes[:1] if turn > 0 else shapes))
    if turn > 0:
        drawing = Drawing(title="d", shapes=(Shape(layer=Layer.OUTLINE, path=path),))
    start, end = (0.0, -60.0 * turn), (0.0, 60.0 * turn)
    edge = JointEdge(start=start, end=end, length=188.5, against="wall", angle_deg=None, bevel_deg=(0, 0), gap=(0, 0))
    note = edge_note(edge, drawing)
    a, b = np.array(note.start), np.array(note.end)
    way = (b - a) / np.linalg.norm(b - a)
    inward = np.array([-way[1], way[0]])
    half = text_size(note.text, NOTE) / 2
    line = [(a + b) / 2 + side * half * way for side in (-1, 1)]
    box = shapely.Polygon([line[0], line[1], line[1] + NOTE * inward, line[0] + NOTE * inward])
    solid = shapely.Polygon(curves.flatten_path(disc, 0.01))
    assert solid.buffer(0.15).contains(box) if turn > 0 else box.intersection(solid.buffer(-0.15)).is_empty
    assert box.distance(solid.exterior) < 1


def test_only_a_sheet_with_grain_bears_its_arrow() -> None:
    """The word and an arrow along flat x, level on the page or upright where the part is turned."""
    for grain in (False, True):
        text = changed(PLAIN, "thickness = 3.0", f"thickness = 3.0\ngrain = {str(grain).lower()}")
        pdf = pypdf.PdfReader(io.BytesIO(make(text.encode()).files["templates.pdf"]))
        told = [page.extract_text().count("grain") for page in pdf.pages]
        assert (sum(told) >= 10) == grain


def test_every_page_says_what_its_lines_mean() -> None:
    """Those of the page and no others: a bare ceiling has no guides, only pages of one part in several meet."""
    files = make(starter_scene(Wishes(box=(310.0, 220.0, 90.0), printer=False)).encode()).files
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(files["templates.pdf"])).pages]
    assert all("cut" in page.split() for page in pages)
    assert all("where a slanting cut comes out behind" in page for page in pages if "bevel" in page)
    floor = [page for page in pages if "floor  card" in page]
    ceiling = [page for page in pages if "ceiling  card" in page]
    assert floor
    assert ceiling
    assert all("score or draw" in page and "pages meet" in page for page in floor)
    assert not any("score or draw" in page for page in ceiling)
    assert not any("pages meet" in page for page in pages if "stringer-1" in page and "floor" not in page)
