"""Wires of built rooms: free of all parts by booleans, their holes by other readers of DXF."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import ezdxf
import manifold3d
import numpy as np
import pyogrio
import pytest
import shapely
import trimesh

from pipeline.checks import light_places, wires_free
from pipeline.checks.evidence import as_manifold
from pipeline.report.cautions import CAUTIONS
from pipeline.report.model import ReportData
from pipeline.report.wiring_rows import wiring_entry, wiring_words
from pipeline.scene.problems import SceneFileError
from pipeline.stages.wiring import spots_of
from pipeline.units import part_id
from tests.checks.holding import hold
from tests.scene_text import changed
from tests.wiring.rooms import LAMPS, TIGHT, built, evidence

X = "\N{MULTIPLICATION SIGN}"


def wiring(text: str = LAMPS) -> dict[str, Any]:
    found = built().manifest["wiring"] if text == LAMPS else wiring_entry(evidence(text))
    assert found is not None
    return dict(found)


def leg(start: np.ndarray, end: np.ndarray, radius: float) -> manifold3d.Manifold:
    """Return a cylinder between two points, turned there by hand."""
    way = end - start
    length = float(np.linalg.norm(way))
    z = way / length
    x = np.cross(z, [1.0, 0, 0] if abs(z[0]) < 0.8 else [0, 1.0, 0])
    x /= np.linalg.norm(x)
    matrix = np.column_stack([x, np.cross(z, x), z, start])
    return manifold3d.Manifold.cylinder(length, radius, circular_segments=24).transform(matrix)


@pytest.mark.parametrize("text", [LAMPS, changed(TIGHT, 'battery = "LR6", cells = 2', 'battery = "CR2032"')])
def test_wires_and_battery_run_free_of_every_part(text: str) -> None:
    """As bodies they have nothing in common with any part, holes cut, nor does the battery's block."""
    found, parts = wiring(text), evidence(text).parts
    bodies = {part.id: as_manifold(part.body) for part in parts}
    assert len(found["runs"]) == 3
    for run in found["runs"]:
        points = np.array(run["points"])
        assert len(points) > 2
        for start, end in pairwise(points):
            tube = leg(start, end, found["wire"]["radius"] - 0.01)
            for part, body in bodies.items():
                assert (tube ^ body).volume() < 1e-3, (run["light"], part)
    low, high = np.array(found["battery"]["place"])
    block = manifold3d.Manifold.cube((high - low).tolist()).translate(low.tolist())
    assert all((block ^ body).volume() < 1e-6 for body in bodies.values())
    assert sorted(high - low) >= sorted(found["battery"]["size"])
    assert (low >= [-90, 0, 0]).all()
    assert (high <= [90, 100, 150]).all()


def test_wires_end_at_their_battery() -> None:
    """The last corner lies on the battery's block, the first where the LED sits."""
    found = wiring()
    low, high = np.array(found["battery"]["place"])
    places = {light["name"]: light["place"] for light in built().manifest["lights"]}
    for run in found["runs"][:2]:
        end = np.array(run["points"][-1])
        assert (end >= low - 1e-6).all()
        assert (end <= high + 1e-6).all()
        assert min(np.abs(np.concatenate([end - low, end - high]))) < 1e-6
        assert run["points"][0] == pytest.approx(places[run["light"]], abs=1e-5)
        assert run["length"] == pytest.approx(sum(math.dist(a, b) for a, b in pairwise(run["points"])), abs=1e-4)


def test_what_stands_in_for_a_beam_is_wired() -> None:
    """Its own place is on the vanishing plane, behind the box; an LED behind the window stands in for it."""
    moon = wiring()["runs"][2]
    assert (moon["light"], moon["led"]) == ("moon", "moon at window")
    (led,) = (one for one in evidence().leds if one.place.nature == "leaving")
    assert led.ways[0].stand_in is not None
    assert moon["points"][0] == pytest.approx(led.ways[0].stand_in.place, abs=1e-5)
    assert moon["points"][0][1] > built().manifest["relief"]["built_depth"]


def test_a_light_from_without_has_no_wires_in_the_box() -> None:
    """Where nothing stands in for it; that is no fault of the wiring."""
    (led,) = (one for one in evidence().leds if one.place.nature == "leaving")
    scene = evidence().scene
    alone = scene.model_copy(update={"lights": scene.lights[2:]})
    (spot,) = spots_of(alone, [replace(led, ways=())])
    assert spot.place is None
    assert "outside the box" in spot.why


def test_every_hole_is_cut_as_a_circle_of_its_panel(tmp_path: Path) -> None:
    """On HOLES of the panel's DXF by ezdxf and by GDAL: middle, diameter, and that the sheet goes all round it."""
    for hole in wiring()["holes"]:
        data = built().files[f"panels/{hole['part']}.dxf"]
        drawing = ezdxf.read(io.StringIO(data.decode("cp1252")))
        circles = [
            shapely.Polygon([tuple(p)[:2] for p in ezdxf.path.make_path(entity).flattening(0.001)])
            for entity in drawing.modelspace()
            if entity.dxf.layer == "HOLES"
        ]
        own = min(circles, key=lambda one: one.centroid.distance(shapely.Point(hole["at"])))
        assert own.centroid.distance(shapely.Point(hole["at"])) < 0.01
        assert own.area == pytest.approx(math.pi * hole["diameter"] ** 2 / 4, rel=0.01)
        file = tmp_path / f"{hole['part']}.dxf"
        file.write_bytes(data)
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.2})
        _, _, shapes, fields = pyogrio.raw.read(file, columns=["Layer"])
        rings = {
            name: [shape for shape, layer in zip(shapely.from_wkb(shapes), fields[0], strict=True) if layer == name]
            for name in ("HOLES", "OUTLINE")
        }
        ring = min(rings["HOLES"], key=lambda one: one.distance(shapely.Point(hole["at"])))
        box = ring.bounds
        assert (box[2] - box[0], box[3] - box[1]) == pytest.approx((hole["diameter"],) * 2, abs=0.03)
        outline = shapely.Polygon(rings["OUTLINE"][0].coords)
        assert outline.buffer(-1.9).contains(shapely.Polygon(ring.coords))


def test_guides_stop_at_a_hole() -> None:
    """No line of the floor's flags runs into its circle."""
    floor = next(panel for panel in evidence().panels if panel.id == "floor")
    (hole,) = (one for one in wiring()["holes"] if one["part"] == "floor")
    assert len(floor.guides)
    disc = shapely.Point(hole["at"]).buffer(hole["diameter"] / 2 - 0.02, quad_segs=64)
    assert not any(shapely.LineString(line).intersects(disc) for line in floor.guides)
    # The joint it was drilled beside goes on beyond it, so lines do lead up to it.
    assert any(shapely.LineString(line).distance(disc) < 0.05 for line in floor.guides)


def test_a_lamp_over_the_floor_is_wired_at_its_feet() -> None:
    """Straight down from it; one high up hangs from the ceiling. Neither leaves bare wire in sight."""
    found = wiring()
    holes = {hole["name"]: hole for hole in found["holes"]}
    low, high = (found["runs"][k] for k in (0, 1))
    assert holes[low["through"][1]]["part"] == "floor"
    assert "at its feet" in holes[low["through"][1]]["hidden"]
    assert holes[high["through"][1]]["part"] == "ceiling"
    for run in (low, high):
        first, second = np.array(run["points"][:2])
        assert np.hypot(*(second - first)[:2]) < 1.0


def test_no_eye_of_the_eye_box_sees_wire_behind_the_panels() -> None:
    """Rays from nine eyes to points along all legs past the first hole meet a part before."""
    parts = evidence().parts
    mesh = trimesh.util.concatenate([trimesh.Trimesh(part.body.vertices, part.body.triangles) for part in parts])
    eye = np.array(built().manifest["relief"]["eye"])
    for run in wiring()["runs"][:2]:
        start = next(number for number, hole in enumerate(run["through"]) if hole) + 1
        points = np.array(run["points"][start:])
        spots = np.concatenate([a + np.linspace(0, 1, 9)[:, None] * (b - a) for a, b in pairwise(points)])
        for x in (-20.0, 0.0, 20.0):
            for z in (-20.0, 0.0, 20.0):
                here = eye + np.array([x, 0.0, z])
                far = np.linalg.norm(spots - here, axis=1)
                reach = _first(mesh, here, (spots - here) / far[:, None])
                assert (reach < far).all()


def _first(mesh: Any, origin: np.ndarray, ways: np.ndarray) -> np.ndarray:
    hits, rays, _ = mesh.ray.intersects_location(np.tile(origin, (len(ways), 1)), ways, multiple_hits=False)
    out = np.full(len(ways), np.inf)
    out[rays] = np.linalg.norm(hits - origin, axis=1)
    return out


def test_a_battery_that_does_not_fit_is_refused_with_what_would() -> None:
    """16.5 mm find no room in 4 mm; the message tells cells of the same voltage that do, and they do."""
    with pytest.raises(SceneFileError) as refused:
        evidence(TIGHT)
    (said,) = refused.value.describe("a.toml")
    assert f"wiring.battery: 2 {X} LR6 with a holder, 52.5 {X} 31 {X} 16.5 mm, find no room" in said
    assert f"1 {X} CR2032" in said
    assert "back_gap to 18" in said
    assert wiring(changed(TIGHT, 'battery = "LR6", cells = 2', 'battery = "CR2032"'))["battery"]["name"] == "CR2032"


def test_button_cells_bring_their_caution() -> None:
    """CPSC 2023 and 16 CFR 1263 stand beside them, not beside others."""
    flat = wiring_words(evidence(changed(TIGHT, 'battery = "LR6", cells = 2', 'battery = "CR2032"')), b"")
    round_ones = wiring_words(evidence(), b"")
    assert flat is not None
    assert round_ones is not None
    assert (flat.button, round_ones.button) == (True, False)
    (cells,) = (caution for caution in CAUTIONS if "16 CFR 1263" in caution.text)
    assert [cells.when(cast(ReportData, SimpleNamespace(wiring=one))) for one in (flat, round_ones, None)] == [
        True,
        False,
        False,
    ]
    page = built().files["report.html"].decode()
    assert "LEDs and wires in a box" in page


def test_the_page_tells_resistors_hours_and_voltage_lost() -> None:
    """1 V over 20 mA is 50, so 51 ohm; 19.6 and 10 mA empty 2500 mAh in 84 hours."""
    page = built().files["report.html"].decode()
    assert "51 ohm (from 50 ohm)" in page
    assert "100 ohm (from 100 ohm)" in page
    assert "About 84 hours" in page
    assert built().manifest["wiring"]["battery"]["hours"] == pytest.approx(2500 / (1000 / 51 + 10), rel=1e-4)
    assert [light["resistor_ohm"] for light in built().manifest["lights"]] == [51, 100, None]


def test_no_check_fails_for_the_holes() -> None:
    """Leaks, outlines, narrow places, and the drawing against the picture all let the holes pass."""
    assert [one for one in built().manifest["checks"] if one["status"] == "fail"] == []
    drilled = {hole["part"] for hole in wiring()["holes"]}
    narrow = [one for one in built().manifest["checks"] if one["id"] == "panel-feature" and one["part"] in drilled]
    assert {one["status"] for one in narrow} == {"pass"}


def test_a_part_in_the_wires_way_fails_the_check() -> None:
    """A block put on a leg after all was planned."""
    made = evidence()
    assert made.wiring is not None
    run = made.wiring.runs[0]
    middle = (run.points[-3] + run.points[-2]) / 2
    block = manifold3d.Manifold.cube([4.0, 4.0, 4.0], center=True).translate(middle.tolist())
    assert {one.status for one in wires_free.run(made)} == {"pass"}
    clashing = replace(made)
    clashing.__dict__["bodies"] = {**made.bodies, "block": block}
    found = {one.part: one for one in wires_free.run(clashing)}
    assert found["lantern"].status == "fail"
    assert "block" in found["lantern"].message


def test_without_a_battery_wires_leave_through_the_back() -> None:
    """Each ends on the inside of the box's back."""
    text = changed(LAMPS, 'wiring = { battery = "LR6", cells = 2 }', "wiring = {}")
    runs = wiring(text)["runs"][:2]
    assert [run["points"][-1][1] for run in runs] == [100, 100]
    assert wiring(text)["battery"] is None


def test_findings_on_lights_and_wires_are_whole() -> None:
    """Of each light, whether its LED has its place; of each LED's wires; and of the battery, which is no part."""
    assert hold(evidence(), (wires_free.CHECK, light_places.CHECK)) <= {"pass", "warn"}
    lights = [part_id(light.name) for light in evidence().scene.lights]
    assert [finding.part for finding in light_places.run(evidence())] == lights
    assert [finding.part for finding in wires_free.run(evidence())][-1] == ""
