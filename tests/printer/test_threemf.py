"""3MF: what lib3mf reads in strict mode is what the STL files hold, named, in mm, side by side."""

from __future__ import annotations

import io
import zipfile

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.build import Build
from pipeline.checks.written import read_stl
from pipeline.exports.stl import write_stl
from pipeline.exports.threemf import APART, side_by_side, write_3mf
from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.parts.solids import swept
from tests.printer.reading import read_strictly


def box(x: float, y: float, z: float) -> Mesh:
    return swept("z", [0.0, z], [np.array([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)])] * 2)


def test_a_strict_reader_finds_every_print_of_a_scene_closed_and_named(demo: Build) -> None:
    """3MF core 1.4: unit millimetre, every edge shared by exactly two triangles by index, distinct indices, outward."""
    parts = {part["id"]: part for part in demo.manifest["parts"] if part["made_as"] == "print"}
    if not parts:
        assert "prints.3mf" not in demo.files
        return
    package = read_strictly(demo.files["prints.3mf"])
    assert (package.warnings, package.millimetres, package.title) == (0, True, demo.manifest["title"])
    names = [thing.name for thing in package.objects]
    assert sorted(parts) == sorted(names)
    assert names == [thing.number for thing in package.objects]
    for thing in package.objects:
        stl = read_stl(demo.files[parts[thing.name]["files"]["stl"]])
        assert parts[thing.name]["files"]["3mf"] == "prints.3mf"
        assert thing.sound
        assert (np.sort(thing.triangles, axis=1)[:, 1:] > np.sort(thing.triangles, axis=1)[:, :-1]).all()
        assert stl.tobytes() == thing.vertices[thing.triangles].tobytes()
        volume = signed_volume(Mesh(vertices=thing.vertices, triangles=thing.triangles))
        assert parts[thing.name]["volume"] == pytest.approx(volume, rel=1e-4)
    assert "prints.3mf" in demo.manifest["files"]


def test_prints_lie_side_by_side_on_the_plate(cistern: Build) -> None:
    """No two of their rectangles come nearer than the gap, and none leaves the bed's width."""
    package = read_strictly(cistern.files["prints.3mf"])
    spans = [(thing.vertices + thing.place).reshape(-1, 3) for thing in package.objects]
    low, high = np.array([s.min(axis=0) for s in spans]), np.array([s.max(axis=0) for s in spans])
    assert (low > -1e-3).all()
    assert high[:, 0].max() <= 180
    for i in range(len(spans)):
        for j in range(i):
            gaps = np.maximum(low[i] - high[j], low[j] - high[i])[:2]
            assert gaps.max() >= APART - 2e-3


@given(st.lists(st.tuples(st.floats(1, 90), st.floats(1, 90)), max_size=12))
def test_rectangles_side_by_side_never_overlap(sizes: list[tuple[float, float]]) -> None:
    """Whatever their sizes, they keep the gap and the width."""
    places = side_by_side(np.array(sizes).reshape(-1, 2), 100.0)
    ends = places + np.array(sizes).reshape(-1, 2)
    assert (ends[:, 0] <= 100.0).all()
    for i in range(len(sizes)):
        for j in range(i):
            assert np.maximum(places[i] - ends[j], places[j] - ends[i]).max() >= APART - 1e-9


def test_the_same_prints_give_the_same_bytes_and_no_date() -> None:
    """The only date in the package is the first one a zip can hold."""
    once = write_3mf({"a": box(1, 2, 3)}, "A", (180, 180))
    again = write_3mf({"a": box(1, 2, 3)}, "A", (180, 180))
    assert once == again
    with zipfile.ZipFile(io.BytesIO(once)) as package:
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert package.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]


def test_titles_may_hold_any_sign() -> None:
    """Markup in a title stays text."""
    package = read_strictly(write_3mf({"a": box(1, 2, 3)}, 'Vault <3 & "co"', (180, 180)))
    assert package.title == 'Vault <3 & "co"'


def test_facets_that_single_precision_folds_are_left_out_as_in_stl() -> None:
    """Two vertices 1e-6 mm apart at 100 mm are one number in single precision; the strict reader sees no sliver."""
    ring = np.array([(100.0, 0.0), (101.0, 0.0), (101.0, 1.0), (100.0 + 1e-6, 1.0), (100.0, 1.0)])
    mesh = swept("z", [0.0, 1.0], [ring, ring])
    (thing,) = read_strictly(write_3mf({"a": mesh}, "A", (180, 180))).objects
    assert thing.sound
    assert len(thing.vertices) == 8
    assert read_stl(write_stl(mesh, "a")).tobytes() == thing.vertices[thing.triangles].tobytes()
