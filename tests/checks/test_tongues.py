"""A bar that stands free at one end is told by its width, and no corner is taken for one."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.build import make
from pipeline.checks import panel_feature
from pipeline.checks.panel_feature import FOUND_TO, narrowest, tongues
from pipeline.geometry import curves
from pipeline.geometry.regions import Region, loop_of
from tests.scene_text import DOOR, PLAIN

WIDTHS = (0.2, 0.5, 1.0, 2.0, 3.0)
"""mm; sheets from paper to board."""


def between_doors(width: float, height: float = 20.0) -> list[tuple[float, float]]:
    """Return a wall 40 mm high with two doors 10 mm wide on its floor, and a bar between them."""
    bar = [(20.0, height), (20.0, 0.0), (20 + width, 0.0), (20 + width, height)]
    left = [(0.0, 0.0), (10.0, 0.0), (10.0, height)]
    right = [(30 + width, height), (30 + width, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)]
    return [*left, *bar, *right]


def plate(corners: list[tuple[float, float]]) -> Region:
    return Region(loop_of(curves.polygon(corners)), ())


@pytest.mark.parametrize("width", [0.3, 1.0, 2.5])
def test_a_bar_between_two_doors_on_the_floor_is_told_by_its_width(width: float) -> None:
    """An inset takes it away whole and leaves the wall in one piece; a sheet thinner than the bar is fine."""
    wall = plate(between_doors(width))
    assert narrowest(wall, 3.0) == pytest.approx(width, abs=FOUND_TO)
    assert narrowest(wall, width) is None


@pytest.mark.parametrize(("height", "told"), [(1.9, False), (2.1, True)])
def test_a_stub_is_a_tongue_from_twice_its_width_on(height: float, told: bool) -> None:
    """1 mm wide."""
    assert bool(tongues(shapely.Polygon(between_doors(1.0, height)), 3.0)) == told


@pytest.mark.parametrize(("angle_deg", "told"), [(4, True), (10, True), (15, False), (30, False), (90, False)])
def test_a_corner_with_its_point_cut_off_is_a_tongue_where_it_is_slender(angle_deg: float, told: bool) -> None:
    """Once its mouth is twice its end it is e / (2 tan(a / 2)) long: more than twice its mouth under 14.25 degrees."""
    spread = math.tan(math.radians(angle_deg) / 2)
    blunt = shapely.Polygon([(0, -0.25), (100, -0.25 - 100 * spread), (100, 0.25 + 100 * spread), (0, 0.25)])
    assert bool(tongues(blunt, 3.0)) == told


def test_a_round_end_is_an_end() -> None:
    """A tongue 1 mm wide that ends in half a circle lacks (1 - pi / 4) / 2 mm2 of its 10."""
    round_end = shapely.LineString([(10, 20), (10, 10)]).buffer(0.5, quad_segs=64)
    assert len(tongues(shapely.union(shapely.box(0, 20, 20, 40), round_end), 3.0)) == 1


@pytest.mark.parametrize("angle_deg", [2, 10, 30, 45, 60, 90, 135, 170])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_corner_of_any_angle_is_no_tongue(angle_deg: float, width: float) -> None:
    """Mitred or drawn out: what the disc leaves of a triangle is half of the rectangle over its mouth."""
    half = math.radians(angle_deg) / 2
    corner = [(0.0, 0.0), (200 * math.cos(half), -200 * math.sin(half)), (200 * math.cos(half), 200 * math.sin(half))]
    assert tongues(shapely.Polygon(corner), width) == []


def test_the_way_out_to_a_corner_is_what_a_disc_loses_of_it() -> None:
    """So a piece left out of a corner of angle a, though long, is the corner: r (1 / sin(a / 2) - 1), 25 mm at 6.5."""
    half = math.radians(6.5) / 2
    sheet = shapely.Polygon([(0, 0), (200, -200 * math.tan(half)), (200, 200 * math.tan(half))])
    rolled = sheet.buffer(-1.5, quad_segs=64).buffer(1.5, quad_segs=64)
    assert rolled.distance(shapely.Point(0, 0)) == pytest.approx(1.5 * (1 / math.sin(half) - 1), rel=1e-3)
    assert tongues(sheet, 3.0) == []


@pytest.mark.parametrize("radius", [5.0, 20.0, 100.0, 500.0])
@pytest.mark.parametrize("width", WIDTHS)
def test_spandrel_tips_and_pointed_arches_are_no_tongues(radius: float, width: float) -> None:
    """A tip fills a third, since it runs out along its tangent; a lancet less than two thirds."""
    disc = shapely.Point(0, 0).buffer(radius, quad_segs=500)
    for spandrel in shapely.get_parts(shapely.box(-radius, 0, radius, radius).difference(disc)):
        assert tongues(spandrel, width) == []
    for apart in (0.4, 1.0, 1.6):
        lancet = disc.intersection(shapely.affinity.translate(disc, apart * radius, 0))
        assert tongues(lancet, width) == []


def test_a_sheet_that_crosses_itself_is_left_to_the_check_of_outlines() -> None:
    """A bow tie has no inside to roll a disc in."""
    assert tongues(shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]), 1.0) == []


def test_a_bar_between_doors_of_a_scene_is_told() -> None:
    """0.05 m apart, with round heads into which the bar flares; 1.4 m apart all is well."""
    other = DOOR.replace('"door"', '"other"')
    for at, status in ((7.65, "warn"), (9.0, "pass")):
        scene = PLAIN + DOOR + other.replace("at = 6.0", f"at = {at}")
        findings = {finding.part: finding for finding in panel_feature.run(make(scene.encode()))}
        assert findings["right-wall"].status == status
        assert findings["left-wall"].status == "pass"
