"""Stencils for the airbrush: read back from the written files."""

from __future__ import annotations

import io
import itertools
import json

import numpy as np
import pytest
import shapely
from pypdf import PdfReader

from pipeline.build import Build, build_scene, make
from pipeline.exports.drawing import Text
from pipeline.exports.panel_drawing import apart
from pipeline.exports.stencil_drawing import note_of
from pipeline.geometry import curves
from pipeline.geometry.regions import path_of
from pipeline.parts.stencils import MARGIN, Stencil
from pipeline.report.light_rows import light_entries
from pipeline.scene.problems import SceneFileError

from .lamps import POST, ROOM, WINDOW, beam, lamp
from .tracing import shape_of

SPRAYED = "\n[make]\nstencils = true\n"
CARD = 'stencil_material = "foam"\n'


def stencils(text: str) -> tuple[Stencil, ...]:
    return make(text.encode()).stencils


def rings(stencil: Stencil) -> list[shapely.Polygon]:
    """Return the frame and the holes as polygons."""
    return [shapely.Polygon(curves.flatten_path(path_of(loop), 1e-3)) for loop in stencil.cut.loops]


def test_the_hole_of_a_stencil_is_the_marked_patch() -> None:
    """Area and place of the hole, beside the two pin holes, are those of the patch told in the manifest."""
    evidence = make((ROOM + WINDOW + beam(-0.7, 0.1, -0.6) + SPRAYED).encode())
    (entry,) = light_entries(evidence)
    (stencil,) = (one for one in evidence.stencils if one.panel == "floor")
    frame, hole, *pins = rings(stencil)
    (patch,) = (shape_of(one) for one in entry["patches"] if one["part"] == "floor")
    assert hole.symmetric_difference(patch).area < 0.002 * patch.area
    assert pytest.approx(min(abs(a - b) for a, b in zip(frame.bounds, hole.bounds, strict=True)), abs=1e-3) == MARGIN
    assert len(pins) == 2
    assert not any(pin.intersects(hole) for pin in pins)
    assert stencil.id == "floor-stencil-moon"


def test_pins_go_through_the_panel_where_it_is_marked() -> None:
    """The panel has the same two circles on PLACE, well within its outline."""
    evidence = make((ROOM + WINDOW + beam(-0.7, 0.1, -0.6) + SPRAYED).encode())
    (stencil,) = (one for one in evidence.stencils if one.panel == "floor")
    floor = next(panel for panel in evidence.panels if panel.id == "floor")
    outline = shapely.Polygon(curves.flatten_path(path_of(floor.cut.outline), 0.01))
    marked = [curves.bounds(path).mean(axis=0) for words, path in floor.light_places if not words]
    assert stencil.pins == pytest.approx(np.array(marked))
    assert shapely.contains(outline.buffer(-0.5), shapely.points(stencil.pins)).all()


def test_the_register_lies_on_the_panels_edges() -> None:
    """Every drawn piece of it."""
    evidence = make((ROOM + WINDOW.replace("sill = 1.0", "sill = 0.05") + beam(-0.7, 0.1, -0.6) + SPRAYED).encode())
    (stencil,) = (one for one in evidence.stencils if one.panel == "floor")
    floor = next(panel for panel in evidence.panels if panel.id == "floor")
    border = shapely.LinearRing(curves.flatten_path(path_of(floor.cut.outline), 0.001))
    assert len(stencil.register) > 0
    assert shapely.distance(border, shapely.points(stencil.register.reshape(-1, 2))).max() < 0.02


def test_an_island_is_held_by_a_bridge() -> None:
    """A figure in the middle of a patch shades an island of it; nothing but the frame falls out of the stencil."""
    wide = WINDOW.replace("width = 2.0", "width = 5.0").replace("height = 2.5", "height = 5.0")
    figure = '\n[[figures]]\nname = "warden"\nheight = 0.6\nat = [1.5, 6.0]\n'
    held = [one for one in stencils(ROOM + wide + figure + beam(-0.6, 0.0, -0.8) + SPRAYED) if one.panel == "floor"]
    (stencil,) = held
    frame, *holes = rings(stencil)
    left = frame.difference(shapely.union_all(holes))
    assert stencil.islands == 1
    assert left.geom_type == "Polygon"


def test_shadows_of_a_lamp_in_the_hall_have_stencils_of_their_own() -> None:
    """What is sprayed then is the dark."""
    made = stencils(ROOM + POST + lamp(-1.0, 3.0, 3.0) + SPRAYED)
    assert {one.kind for one in made} == {"shadow"}
    assert "back-wall-stencil-lantern-shadow" in {one.id for one in made}


def built(text: str) -> Build:
    return build_scene(text.encode(), "room")


def test_stencils_of_sheet_are_laid_on_it_and_those_of_paper_are_not() -> None:
    """By the manifest's sheets, and the files it lists."""
    text = ROOM + WINDOW + beam(-0.7, 0.1, -0.6) + SPRAYED
    for more, laid in ((CARD, True), ("", False)):
        build = built(text + more)
        content = json.loads(build.files["manifest.json"])
        names = {part["id"] for sheet in content["sheets"] for part in sheet["parts"]}
        assert ("floor-stencil-moon" in names) == laid
        assert {one["id"] for one in content["stencils"]} >= {"floor-stencil-moon"}
        assert "stencils/floor-stencil-moon.dxf" in content["files"]
        assert b"floor-stencil-moon" in build.files["report.html"]


def test_none_are_cut_unless_asked() -> None:
    """The default."""
    assert stencils(ROOM + WINDOW + beam(-0.7, 0.1, -0.6)) == ()


def test_a_material_that_is_not_there_is_refused() -> None:
    """As everywhere."""
    with pytest.raises(SceneFileError) as caught:
        make((ROOM + SPRAYED + 'stencil_material = "fome"\n').encode())
    assert 'make.stencil_material: there is no material "fome"' in "\n".join(caught.value.describe("a.toml"))


def pages(text: str) -> list[str]:
    """Return the words of every page of the templates."""
    reader = PdfReader(io.BytesIO(built(text).files["templates.pdf"]))
    return [page.extract_text() for page in reader.pages]


TWO = ROOM + WINDOW + beam(-0.7, 0.1, -0.6) + beam(-0.7, -0.3, -0.5, "evening") + SPRAYED


def test_a_paper_stencil_is_not_drawn_mirrored() -> None:
    """It is laid on the visible face and nowhere else; panels and figures are drawn both ways."""
    told = pages(TWO)
    assert sum("floor-stencil-moon" in page for page in told) == 1
    assert sum("floor  foam 3 mm" in page for page in told) == 2
    assert not any("stencil" in page for page in told if "mirrored" in page)


def test_paper_bears_what_is_written_at_patches_and_pins() -> None:
    """On every page with the floor, mirrored or not."""
    for page in pages(TWO):
        if "floor  foam" in page:
            assert {"moon: light", "evening: light"} <= set(page.split("\n"))
            assert [page.split("\n").count(number) for number in ("1", "2")] == [2, 2]


def test_the_pins_of_several_stencils_are_numbered() -> None:
    """Each number twice on the panel, beside its marks, and once on its stencil; a single one needs none."""
    evidence = make(TWO.encode())
    floor = next(panel for panel in evidence.panels if panel.id == "floor")
    own = [one for one in evidence.stencils if one.panel == "floor"]
    assert [one.number for one in own] == [1, 2]
    for one in own:
        there = [curves.bounds(path).mean(axis=0) for words, path in floor.labels if words == f"{one.number}"]
        assert one.pins == pytest.approx(np.array(there))
        assert f", pins {one.number}" in note_of(one)
    (single,) = (one for one in stencils(ROOM + WINDOW + beam(-0.7, 0.1, -0.6) + SPRAYED) if one.panel == "floor")
    assert single.number == 0
    assert "pins" not in note_of(single)


def test_no_two_notes_on_a_panel_lie_on_one_another() -> None:
    """Six at one place, and one that would be in the way of one moved; letters of a sans are 0.7 high, 0.5 wide."""
    notes = [Text(at=(10.0, 5.0), height=2.0, text=f"note {n}") for n in range(6)]
    notes.insert(3, Text(at=(12.0, 7.5), height=2.0, text="other"))
    laid = apart(notes)
    assert [text.text for text in laid] == [text.text for text in notes]
    boxes = [shapely.box(x, y, x + len(text.text), y + 1.4) for text in laid for x, y in [text.at]]
    assert not any(one.intersects(other) for one, other in itertools.combinations(boxes, 2))
    assert max(abs(text.at[1] - 5.0) for text in laid) < 12
