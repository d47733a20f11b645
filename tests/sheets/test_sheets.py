"""Written sheets through an independent reader."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import shapely

from pipeline.build import Build, build_scene

from ..scene_text import COVERED, DOOR, changed
from .reading import shapes

KERF = 0.3
TEXT = changed(COVERED + DOOR, "sheet = [300, 200]", f"sheet = [300, 200]\nkerf = {KERF}")


@pytest.fixture(scope="module")
def made() -> Build:
    return build_scene(TEXT.encode(), "room")


def test_nothing_overlaps_and_nothing_leaves_the_sheet(made: Build, tmp_path: Path) -> None:
    """GDAL's outlines of each sheet: disjoint, inside 300 x 200, every panel on some sheet."""
    names = set()
    for sheet in made.manifest["sheets"]:
        read = shapes(made.files[sheet["file"]], tmp_path)
        outlines = [shapely.Polygon(line) for line in read["OUTLINE"]]
        assert len(outlines) == len(sheet["parts"])
        for i, a in enumerate(outlines):
            assert shapely.box(0, 0, 300, 200).contains(a)
            assert all(a.distance(b) >= 2.0 - 1e-6 for b in outlines[:i])
        names |= {part["id"] for part in sheet["parts"]}
        assert 0 < sheet["density"] < 1
        assert sheet["kerf"] == KERF
    assert names == {part["id"] for part in made.manifest["parts"]}


def test_outlines_grow_by_half_the_kerf(made: Build, tmp_path: Path) -> None:
    """The sheet's outline less the nominal one, both read by GDAL, is a band of half the kerf."""
    for sheet in made.manifest["sheets"]:
        outlines = [shapely.Polygon(line) for line in shapes(made.files[sheet["file"]], tmp_path)["OUTLINE"]]
        for part in sheet["parts"]:
            nominal = shapely.Polygon(shapes(made.files[f"panels/{part['id']}.dxf"], tmp_path)["OUTLINE"][0])
            matrix = np.array(part["sheet_from_flat"])
            placed = shapely.transform(nominal, lambda xy, m=matrix: xy @ m[:2, :2].T + m[:2, 3])
            grown = next(outline for outline in outlines if outline.contains(placed.representative_point()))
            expected = placed.buffer(KERF / 2, join_style="mitre", mitre_limit=20)
            assert grown.symmetric_difference(expected).area < 0.02 * placed.length * KERF


def test_guides_come_before_holes_before_outlines(made: Build) -> None:
    """The order of the entities is the order of cutting."""
    for sheet in made.manifest["sheets"]:
        text = made.files[sheet["file"]].decode().split("ENTITIES", 1)[1]
        marks = [text.find(f"  8\n{layer}\n") for layer in ("GUIDE", "HOLES", "OUTLINE")]
        seen = [mark for mark in marks if mark >= 0]
        assert seen == sorted(seen)
        assert text.rfind("  8\nGUIDE\n") < text.find("  8\nOUTLINE\n")


def test_svg_has_its_layers_in_the_order_of_cutting(made: Build) -> None:
    """Programs cut an SVG as it is written: marks, then holes, then outlines, which set their parts loose."""
    for name, data in made.files.items():
        if name.startswith(("sheets/", "panels/")) and name.endswith(".svg"):
            groups = re.findall(r'<g id="(\w+)"', data.decode())
            assert groups == ["FOLD", "GUIDE", "PLACE", "BEVEL", "HOLES", "OUTLINE", "NOTES"]


def test_a_hole_is_cut_after_the_parts_that_lie_in_it(tmp_path: Path) -> None:
    """Of a frame of 179 x 149.5 mm whose opening takes the back wall, the hole is cut second, the border last.

    Cut as a hole, first, it would set loose the waste that the other part is yet to be cut from.
    """
    framed = changed(COVERED, "depth = 12.0", "depth = 12.0\nwidth = 6.0\nheight = 5.0\n\n[front]\nbuild = true\n")
    result = build_scene(changed(framed, "sheet = [300, 200]", "sheet = [200, 160]").encode(), "room")
    sheet = next(one for one in result.manifest["sheets"] if "front-frame" in {part["id"] for part in one["parts"]})
    assert {part["id"] for part in sheet["parts"]} == {"front-frame", "back-wall"}
    read = shapes(result.files[sheet["file"]], tmp_path)
    inner, hole, border = (shapely.Polygon(line) for line in read["OUTLINE"])
    assert hole.contains(inner)
    assert border.contains(hole)
    assert border.area > hole.area > inner.area
    assert "HOLES" not in read
    assert "a hole with parts in it" in result.files[sheet["file"]].decode()


def test_the_kerf_is_said_on_the_sheet(made: Build) -> None:
    """So that nobody lets a machine apply it again."""
    first = made.manifest["sheets"][0]["file"]
    assert f"kerf {KERF:g} mm applied" in made.files[first].decode()
