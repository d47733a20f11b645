"""Stencils for the airbrush: read back from the written files."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely

from pipeline.build import Build, build_scene, make
from pipeline.geometry import curves
from pipeline.geometry.regions import path_of
from pipeline.parts.stencils import MARGIN, Stencil
from pipeline.report.light_rows import light_entries
from pipeline.scene.problems import SceneFileError

from .lamps import ROOM, beam, lamp
from .test_light_falls import POST, WINDOW
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
