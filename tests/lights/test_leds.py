"""LEDs in the built room: whether there is room, whether they show, and what stands in for them."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely

from pipeline.build import make, shape
from pipeline.checks.evidence import Evidence
from pipeline.checks.light_places import run
from pipeline.geometry import curves
from pipeline.geometry.regions import path_of
from pipeline.parts.lighting.leds import Led
from pipeline.parts.model import Panel
from pipeline.report.light_rows import light_entries, light_pictures, light_rows
from pipeline.sight.rays import cast

from ..scene_text import changed
from .lamps import ROOM, WINDOW, beam, lamp
from .test_light_falls import BACK
from .tracing import shape_of

WIDE = changed(ROOM, "back_gap = 4", "back_gap = 20")


def built(text: str) -> tuple[Evidence, Led]:
    evidence = shape(text.encode())
    return evidence, evidence.leds[0]


def test_a_lamp_in_the_hall_is_exact_and_shows() -> None:
    """Nothing stands between it and the eye."""
    evidence, led = built(ROOM + lamp(0.0, 6.0, 3.0))
    assert (led.usable, led.seen) == (True, True)
    (finding,) = run(evidence)
    assert finding.status == "warn"
    assert "the eye sees it" in finding.message


def test_a_lamp_behind_the_back_wall_is_exact_and_hidden() -> None:
    """In a gap of 20 mm there is room for it."""
    evidence, led = built(WIDE + BACK + lamp(3.0, 14.0, 3.0))
    assert (led.usable, led.seen, led.place.inside_box) == (True, False, True)
    assert [finding.status for finding in run(evidence)] == ["pass"]


def test_an_led_too_large_for_its_gap_fails() -> None:
    """Beside the wall's sheet 20 mm are left; one of 40 mm does not fit, and is told by how much."""
    evidence, led = built(WIDE + BACK + lamp(3.0, 14.0, 3.0, more="size = 40"))
    (finding,) = run(evidence)
    assert finding.status == "fail"
    assert not led.usable
    assert finding.value is not None
    assert finding.value < 0


def test_an_led_in_the_way_of_a_part_is_sent_where_it_has_room() -> None:
    """3 mm of LED whose middle is 1 mm below the ceiling: at each place that is told it keeps clear of all parts."""
    at = {"x": 0.0, "y": 5.0, "height": 6.888 - 0.048}
    (finding,) = run(built(ROOM + lamp(at["x"], at["y"], at["height"]))[0])
    assert finding.status == "fail"
    offered = re.findall(r"(x|y|height) = (-?[\d.]+)", finding.message)
    assert ("height", "6.79") in offered
    for axis, value in offered:
        there = at | {axis: float(value)}
        _, led = built(ROOM + lamp(there["x"], there["y"], there["height"]))
        assert led.usable


@pytest.mark.parametrize(
    ("way", "words"),
    [
        ((0.1, -1.0, -0.4), "outside the box"),
        ((-0.8, 0.3, -0.5), "its light runs together at"),
        ((-0.8, 0.0, -0.5), "parallel in the built room too"),
    ],
)
def test_every_beam_is_told_plainly_with_what_stands_in(way: tuple[float, float, float], words: str) -> None:
    """Toward the viewer, inward, and along the opening."""
    evidence, led = built(WIDE + (BACK if way[1] < 0 else WINDOW) + beam(*way))
    (finding,) = run(evidence)
    assert finding.status == "warn"
    assert words in finding.message
    assert not led.usable


def test_how_far_a_stand_in_is_off_is_what_rays_say() -> None:
    """Rays from the stand-in through the window's corners, to the floor, against the marked corners they belong to."""
    evidence, led = built(WIDE + BACK + beam(0.1, -1.0, -0.4))
    (way,) = led.ways
    one = way.stand_in
    assert one is not None
    assert evidence.room.inside.planes["back-wall"] @ [*one.place, 1.0] > 0
    relief, hall = evidence.room.relief, evidence.room.hall
    eye = np.array(relief.eye)
    worst = 0.0
    for x, z in ((2.0, 1.0), (4.0, 1.0)):  # the sill's corners, m from the wall's left end
        corner = np.array([hall.millimetres(x) - hall.width / 2, hall.depth, hall.floor + hall.millimetres(z)])
        down = hall.millimetres(z) / 0.4
        marked = relief.build_points([corner + down * np.array([0.1, -1.0, -0.4])])[0]
        passed = relief.build_points([corner])[0]
        floor = next(panel for panel in evidence.panels if panel.id == "floor")
        _, far = cast(floor.visible.corners, [passed], [passed - np.array(one.place)])
        way_on = (passed - np.array(one.place)) / np.linalg.norm(passed - np.array(one.place))
        if np.isfinite(far[0]):
            landed = passed + far[0] * way_on
            worst = max(worst, float(np.linalg.norm(landed - marked)))
            assert np.linalg.norm(landed - eye) > 0
    assert 0 < worst <= one.off + 1e-6


def test_what_a_sheet_cuts_off_is_what_rays_through_its_body_miss() -> None:
    """From points of the marked patch to the LED, through the wall's real sheet: the share that meets it is the share
    of the opening told to be cut off, weighed by what each part of the opening lights."""
    evidence, led = built(WIDE + BACK + lamp(1.2, 15.5, 3.2))
    (way,) = led.ways
    assert way.cut_off is not None
    assert 0.02 < way.cut_off < 0.9
    wall = next(panel for panel in evidence.panels if panel.id == "back-wall")
    rng = np.random.default_rng(5)
    leaf, place = wall.leaves[-1], np.array(led.place.point)
    hole = shape_of({"outline": _hole(wall)})
    low, high = np.array(hole.bounds).reshape(2, 2)
    points = rng.uniform(low, high, (20000, 2))
    points = points[shapely.contains(hole, shapely.points(points))]
    starts = np.column_stack([points, np.full(len(points), 1e-3), np.ones(len(points))]) @ leaf.built_from_flat.T
    index, _ = cast(wall.body.corners, starts[:, :3], place - starts[:, :3])
    assert float((index >= 0).mean()) == pytest.approx(way.cut_off, abs=0.02)


def test_what_passes_a_reveal_that_is_not_built_is_told() -> None:
    """Of a side wall 0.25 m thick, 4.5 mm there, 3 mm are its sheet and nothing is built behind.

    From points all over the hole, through the real sheet, to the LED: those that are free and lie where the imagined
    reveal stops light, over those where it does not.
    """
    window = changed(WINDOW, 'head = "pointed"', 'head = "flat"')
    light = beam(-0.5, -0.6, -0.1)
    evidence, led = built(WIDE + window + "reveal = 0.25\n" + light)
    (way,) = led.ways
    assert way.cut_off == pytest.approx(0.0, abs=1e-9)
    wall = next(panel for panel in evidence.panels if panel.id == "right-wall")
    hole = shape_of({"outline": _hole(wall)})
    low, high = np.array(hole.bounds).reshape(2, 2)
    points = np.random.default_rng(7).uniform(low, high, (40000, 2))
    leaf, place = wall.leaves[-1], np.array(led.place.point)
    starts = np.column_stack([points, np.full(len(points), 1e-3), np.ones(len(points))]) @ leaf.built_from_flat.T
    free = cast(wall.body.corners, starts[:, :3], place - starts[:, :3])[0] < 0
    # As imagined: 2 m by 2.5 m of hole, shifted along the light by the wall's thickness.
    relief, hall = evidence.room.relief, evidence.room.hall
    there = relief.imagine_points(starts[:, :3])
    y, z = hall.metres(1.0) * there[:, 1], hall.metres(1.0) * (there[:, 2] - hall.floor)
    open_there = (y > 5.0) & (y < 7.0 - 0.25 * 0.6 / 0.5) & (z > 1.0) & (z < 3.5 - 0.25 * 0.1 / 0.5)
    assert way.more == pytest.approx((free & ~open_there).sum() / open_there.sum(), abs=0.006)
    assert way.more > 0.03
    assert built(WIDE + window + light)[1].ways[0].more == 0.0
    lined, built_reveal = built(WIDE + window + "reveal = 0.6\n" + light)
    assert any(part.id.startswith("window-") for part in lined.parts)
    assert built_reveal.ways[0].more == 0.0


def _hole(wall: Panel) -> list[list[float]]:
    (loop,) = wall.cut.holes
    return [[float(x), float(y)] for x, y in curves.flatten_path(path_of(loop), 0.01)]


def test_the_manifest_tells_it_all() -> None:
    """Place, rays, whether it shows, and each opening with its stand-in."""
    evidence, _ = built(WIDE + BACK + beam(0.1, -1.0, -0.4))
    (entry,) = light_entries(evidence)
    assert entry["rays"] == "leaving"
    assert entry["inside_box"] is False
    assert entry["openings"][0]["name"] == "window"
    assert entry["openings"][0]["stand_in"]["off"] > 0
    assert {patch["part"] for patch in entry["patches"]} >= {"floor"}
    assert all(len(patch["outline"]) > 2 for patch in entry["patches"])


def test_light_on_the_apron_is_told_to_fall_beside_the_marks() -> None:
    """There the room is built true: rays of an LED behind the apron are not bent, the imagined ones are."""
    text = changed(WIDE, "depth = 12.0", "depth = 12.0\napron = 25") + WINDOW.replace("at = 6.0", "at = 3.0")
    _, led = built(text + beam(-0.6, -0.8, -0.4))
    assert led.apron_off > 0.1


def test_light_from_outside_wants_a_hole_in_the_box_where_its_rays_pass() -> None:
    """The beam's place is far behind the box: its rays through the window's corners pass the back where it is told."""
    evidence, led = built(WIDE + BACK + beam(0.1, -1.0, -0.4))
    (way,) = led.ways
    assert way.outlet is not None
    assert way.outlet.wall == "back-wall"
    relief, hall, place = evidence.room.relief, evidence.room.hall, np.array(led.place.point)
    depth = evidence.room.box[2]
    passed = []
    for x, z in ((2.0, 1.0), (4.0, 1.0)):
        at = [hall.millimetres(x) - hall.width / 2, hall.depth, hall.floor + hall.millimetres(z)]
        corner = relief.build_points([at])[0]
        passed.append(corner + (depth - corner[1]) / (place[1] - corner[1]) * (place - corner))
    assert [one[0] for one in passed] == pytest.approx([way.outlet.low[0], way.outlet.high[0]], abs=1e-6)
    assert passed[0][2] == pytest.approx(way.outlet.low[2], abs=1e-6)
    assert led.place.point is not None


def test_the_page_tells_the_resistor_where_no_wiring_does() -> None:
    """9 V, 2 V, 20 mA: 350, so 360 ohm, half a watt (references, section 9); with [wiring] its section has it."""
    text = ROOM + lamp(0.0, 6.0, 3.0, more="supply = 9.0\nforward = 2.0\ncurrent = 0.02")
    for more, told in (("", True), ("\n[wiring]\n", False)):
        evidence = make((text + more).encode())
        (row,) = light_rows(evidence, light_pictures(evidence))
        assert ("Resistor" in dict(row.advice)) == told
        assert not told or dict(row.advice)["Resistor"].startswith("360 ohm in series for each LED (from 350 ohm")
        assert not told or "rated 0.5 W: 19.4 mA at 9 V" in dict(row.advice)["Resistor"]
