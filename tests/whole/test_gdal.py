"""Every drawing of every demo scene as GDAL reads it, against what the manifest says of the parts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.build import Build
from tests.sheets.reading import shapes

Array = NDArray[np.float64]
Record = Callable[[str, object], None]

FITTED = 0.02
"""mm; how far the arcs of a drawing stray from the exact curves at most (make.curve_tolerance, the same in all)."""
ROUNDED = 1e-6
"""mm; of numbers in drawings and manifest."""
BEND_FACTOR = 0.5
"""Where the neutral layer of a bent sheet lies: no demo scene sets another."""


def drawn(demo: Build, part: dict[str, Any], folder: Path) -> dict[str, list[shapely.Geometry]]:
    return shapes(demo.files[part["files"]["dxf"]], folder)


def cut(read: dict[str, list[shapely.Geometry]]) -> shapely.Geometry:
    """Return what is left of a sheet between its cut lines."""
    outlines = [shapely.Polygon(line) for line in read["OUTLINE"]]
    return shapely.union_all(outlines).difference(
        shapely.union_all([shapely.Polygon(line) for line in read.get("HOLES", [])])
    )


def turning(shape: shapely.Geometry) -> float:
    """Return by how much the border of a shape turns in all, radians."""
    total = 0.0
    for ring in [ring for one in shapely.get_parts(shape) for ring in (one.exterior, *one.interiors)]:
        ways = np.diff(np.asarray(ring.coords), axis=0)
        angles = np.arctan2(ways[:, 1], ways[:, 0])
        total += float(np.abs((np.diff(angles, append=angles[:1]) + np.pi) % (2 * np.pi) - np.pi).sum())
    return total


def test_every_outline_and_guide_is_that_of_the_manifest(demo: Build, tmp_path: Path, record_property: Record) -> None:
    """As many guides, the border's length, and the area of the visible face.

    A curve that keeps within d of another runs between its parallels, which are longer and shorter by d times its
    turning and take in or leave out d times its length.
    """
    for part in demo.manifest["parts"]:
        if part["made_as"] == "print":
            continue
        read = drawn(demo, part, tmp_path)
        assert len(read.get("GUIDE", [])) == part["guides"]
        shape = cut(read)
        said = sum(edge["length"] for edge in part["edges"])
        off = abs(shape.length - said)
        record_property(f"{part['made_as']} border, mm", off)
        assert off < FITTED * turning(shape), part["id"]
        if part["made_as"] == "panel" and part["finish"] == 0:
            off = abs(shape.area - part["area"])
            record_property("panel area, mm2", off)
            assert off < FITTED * curved_length(part) + ROUNDED * shape.length, part["id"]


def curved_length(part: dict[str, Any]) -> float:
    """Return how long the edges of a panel are that are no straight lines."""
    return sum(
        float(edge["length"])
        for edge in part["edges"]
        if edge["length"] > np.linalg.norm(np.subtract(edge["end"], edge["start"])) + 2 * ROUNDED
    )


def test_every_bent_panel_is_as_large_as_its_bends_ask(demo: Build, tmp_path: Path, record_property: Record) -> None:
    """A sheet whose neutral layer lies h behind the face is larger than the face by h times each bend and its length.

    The strips between its rulings, flat and built, say so as well as the outline and the area of the face.
    """
    for part in [part for part in demo.manifest["parts"] if part["made_as"] == "bent panel"]:
        built = np.array([ruling["built"] for ruling in part["rulings"]])
        flat = np.array([[[*at, 0.0] for at in ruling["flat"]] for ruling in part["rulings"]])
        assert len(built) % 2
        # What strips miss goes with the square of their width, so four times as much between every second ruling.
        (face, bent), (coarse_face, coarse_bent) = strips(built), strips(built[::2])
        (sheet, _), (coarse_sheet, _) = strips(flat), strips(flat[::2])
        deep = BEND_FACTOR * part["thickness"]
        missed = abs(sheet - face - coarse_sheet + coarse_face) / 2 + deep * abs(bent - coarse_bent) / 2
        off = abs(sheet - face - deep * bent)
        record_property("bent strips, mm2", off)
        assert off < missed + ROUNDED * part["size"][0], part["id"]
        shape = cut(drawn(demo, part, tmp_path))
        off = abs(shape.area - part["area"] - deep * bent)
        record_property("bent sheet, mm2", off)
        assert off < missed + FITTED * shape.length, part["id"]


def strips(rulings: Array) -> tuple[float, float]:
    """Return the area of the strips between rulings ``(n, 2, 3)``, and bends between them times their lengths, mm."""
    near, far = rulings[:, 0], rulings[:, 1]
    crossed = np.cross(near[1:] - far[:-1], far[1:] - near[:-1]) / 2
    units = crossed / np.linalg.norm(crossed, axis=1)[:, None]
    bends = np.arccos(np.clip(np.einsum("ij,ij->i", units[1:], units[:-1]), -1, 1))
    # The first and the last strip bend on to their ends, by half as much as from one middle to the next.
    bends = np.concatenate([bends[:1] / 2, bends, bends[-1:] / 2])
    return float(np.linalg.norm(crossed, axis=1).sum()), float(bends @ np.linalg.norm(far - near, axis=1))


def test_every_part_lies_on_its_sheet_as_the_manifest_places_it(
    demo: Build, tmp_path: Path, record_property: Record
) -> None:
    """Moved out by half the kerf; no two overlap, none reaches past the sheet.

    What lies within one other line is a hole, within two a part in a hole of another; that hole alone is on OUTLINE.
    """
    files = {part["id"]: part["files"]["dxf"] for part in demo.manifest["parts"] if "dxf" in part["files"]}
    casework = demo.manifest.get("casework") or {"boards": []}
    files |= {board["id"]: board["files"]["dxf"] for board in casework["boards"]}
    laid = []
    for sheet in demo.manifest["sheets"]:
        read = shapes(demo.files[sheet["file"]], tmp_path)
        inner = [shapely.Polygon(line) for line in read.get("HOLES", [])]
        lines = [shapely.Polygon(line) for line in read.get("OUTLINE", [])] + inner
        around = [sum(other.contains(line) for other in lines) - 1 for line in lines]
        outlines = [line for line, count in zip(lines, around, strict=True) if count % 2 == 0]
        holes = [line for line, count in zip(lines, around, strict=True) if count % 2]
        assert len(outlines) == len(sheet["parts"])
        for hole in holes:
            assert (hole in inner) != any(hole.contains(outline) for outline in outlines)
        left: list[shapely.Geometry] = []
        for outline in outlines:
            left.append(outline.difference(shapely.union_all([hole for hole in holes if outline.contains(hole)])))
            assert shapely.box(0, 0, *sheet["size"]).contains(outline)
            assert not any(left[-1].intersects(other) for other in left[:-1])
        for part in sheet["parts"]:
            matrix = np.array(part["sheet_from_flat"])
            nominal = cut(shapes(demo.files[files[part["id"]]], tmp_path))
            placed = shapely.transform(nominal, lambda at, m=matrix: at @ m[:2, :2].T + m[:2, 3])
            expected = placed.buffer(sheet["kerf"] / 2, join_style="mitre", mitre_limit=20)
            off = min(one.symmetric_difference(expected).area for one in left)
            record_property("sheet, mm2 / mm of border", off / placed.length)
            assert off < FITTED * placed.length, part["id"]
            laid.append(part["id"])
    assert len(laid) == len(set(laid))


def test_every_board_of_the_box_is_as_long_and_wide_as_its_cut_list(demo: Build, tmp_path: Path) -> None:
    """The grain along x."""
    for board in (demo.manifest.get("casework") or {"boards": []})["boards"]:
        low_x, low_y, high_x, high_y = cut(shapes(demo.files[board["files"]["dxf"]], tmp_path)).bounds
        assert (high_x - low_x, high_y - low_y) == pytest.approx((board["length"], board["width"]), abs=2 * ROUNDED)
