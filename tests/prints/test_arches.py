"""What arches say of themselves: sections, joints, contacts, marks, and what cannot stand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from pipeline.elements.hall_shape import Hall
from pipeline.geometry import curves
from tests.prints.samples import HALL, VOUSSOIRS, arches, only
from tests.strategies import HEADS

RING = 350 / 24
SPRINGING = 1600 / 24


def section_in_hall(**keys: Any) -> shapely.Polygon:
    solid = only(arches(**keys))
    points = np.vstack([curves.evaluate(c, np.linspace(0, 1, 400, endpoint=False)) for c in solid.levels[0].section])
    box = shapely.box(-HALL.width / 2, HALL.floor, HALL.width / 2, HALL.floor + HALL.height)
    return shapely.intersection(shapely.Polygon(points), box)


def test_round_ring_on_legs_has_the_closed_area() -> None:
    """Half a ring and two legs: pi ((a + t)^2 - a^2) / 2 + 2 t s."""
    half = HALL.width / 2 - RING
    area = math.pi * ((half + RING) ** 2 - half**2) / 2 + 2 * RING * SPRINGING
    assert section_in_hall().area == pytest.approx(area, rel=1e-4)
    assert section_in_hall(legs=False).area == pytest.approx(area - 2 * RING * SPRINGING, rel=1e-4)


def test_spandrel_fills_up_to_ceiling_and_walls() -> None:
    """The whole wall above the springing less half a circle, and the legs below."""
    half = HALL.width / 2 - RING
    area = HALL.width * (HALL.height - SPRINGING) - math.pi * half**2 / 2
    assert section_in_hall(spandrel=True, legs=False).area == pytest.approx(area, rel=1e-5)
    assert section_in_hall(spandrel=True).area == pytest.approx(area + 2 * RING * SPRINGING, rel=1e-5)


def test_flat_head_is_a_lintel_on_posts() -> None:
    """A beam as deep as the ring over two posts."""
    area = HALL.width * RING + 2 * RING * SPRINGING
    assert section_in_hall(head="flat").area == pytest.approx(area, rel=1e-12)


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("legs", [True, False])
@pytest.mark.parametrize("spandrel", [True, False])
@pytest.mark.parametrize("span", [None, 4.0])
def test_every_section_is_simple_and_counter_clockwise(
    head: str, legs: bool, spandrel: bool, span: float | None
) -> None:
    """No section crosses itself, in any combination; its area by Green's theorem is that of the polygon."""
    keys = {"head": head, "legs": legs, "spandrel": spandrel, "span": 3.9 if head == "ogee" else span}
    imagined = arches(**keys)
    if imagined.problems:
        assert head == "pointed"
        assert span is None
        return
    path = imagined.solids[0].levels[0].section
    points = np.vstack([curves.evaluate(c, np.linspace(0, 1, 200, endpoint=False)) for c in path])
    shape = shapely.Polygon(points)
    assert shape.is_valid
    assert curves.signed_area(path) == pytest.approx(shape.area, rel=1e-3)


def joints(**keys: Any) -> np.ndarray:
    """Return (x, z) middles of the soffit grooves, which run through from front to back."""
    solid = only(arches(**keys))
    through = [g.corners for g in solid.grooves if g.corners[:, 1].max() > solid.levels[-1].at]
    return np.array([corners[:, [0, 2]].mean(axis=0) for corners in through])


def test_joints_of_a_round_arch_are_radial_at_equal_angles() -> None:
    """Nine stones: ten joints from springing to springing, 20 degrees apart, about the circle's centre."""
    found = joints(voussoirs=9) - [0.0, HALL.floor + SPRINGING]
    angles = np.degrees(np.arctan2(found[:, 1], found[:, 0]))
    assert angles == pytest.approx(np.arange(10) * 20.0, abs=1e-6)


def test_ring_without_legs_has_joints_between_stones_only() -> None:
    """Nine stones hanging free have eight joints."""
    assert len(joints(voussoirs=9, legs=False)) == 8


def test_pointed_arch_has_a_joint_at_the_apex() -> None:
    """A pointed arch closes on a joint, not on a key brick (BIA Technical Note 31)."""
    found = joints(head="pointed", span=5.0, voussoirs=10)
    assert np.abs(found[:, 0]).min() == pytest.approx(0, abs=1e-9)
    odd = joints(head="round", voussoirs=9)
    assert np.abs(odd[:, 0]).min() > 1


@pytest.mark.parametrize("head", HEADS)
def test_wrong_parity_of_voussoirs_is_a_problem(head: str) -> None:
    """Round, segmental, basket and flat heads need an odd number, pointed and ogee heads an even one."""
    keys = {"head": head, "span": 4.0}
    assert arches(voussoirs=VOUSSOIRS[head], **keys).problems == ()
    (problem,) = arches(voussoirs=VOUSSOIRS[head] + 1, **keys).problems
    assert problem.path == ("arches", 0, "voussoirs")


def test_marks_show_legs_and_strips() -> None:
    """Legs on the floor as wide as the ring and as deep as the arch, strips on both walls up to the extrados."""
    marks = arches().marks
    floor = [mark for mark in marks if mark.host == "floor"]
    assert [curves.signed_area(mark.curve) for mark in floor] == pytest.approx([RING * 1000 / 24] * 2, rel=1e-9)
    strips = [mark for mark in marks if mark.host.endswith("wall")]
    assert {"left-wall", "right-wall"} == {mark.host for mark in strips}
    assert curves.bounds(strips[0].curve)[1] == pytest.approx([4000 / 24, SPRINGING], abs=1e-9)


def test_spandrel_marks_the_ceiling() -> None:
    """A filled arch stands against the ceiling over the whole width."""
    (ceiling,) = [mark for mark in arches(spandrel=True).marks if mark.host == "ceiling"]
    assert curves.signed_area(ceiling.curve) == pytest.approx(HALL.width * 1000 / 24, rel=1e-9)


def test_arch_at_the_back_stops_at_the_back_wall() -> None:
    """Nothing leaves the hall: 0 <= y <= depth."""
    solid = only(arches(at=11.5, depth=2.0))
    assert solid.levels[-1].at == pytest.approx(HALL.depth)
    assert "back-wall" in solid.contacts


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"span": 9.0}, "span", "less than 8.16"),
        ({"ring": 4.2}, "ring", "less than 4.08"),
        ({"springing": 6.0}, "springing", "below 2.99"),
        ({"head": "segmental", "rise": 4.5}, "rise", "at most half"),
        ({"at": 12.5}, "at", "less than 12 m"),
        ({"head": "flat", "rise": 1.0}, "rise", "no rise"),
    ],
)
def test_impossible_arches_say_what_is_allowed(keys: dict[str, Any], key: str, words: str) -> None:
    """A problem names its key and what is allowed."""
    (problem,) = arches(**keys).problems
    assert problem.path == ("arches", 0, key)
    assert words in problem.allowed


def test_arch_across_the_aprons_end_is_refused() -> None:
    """Solids lie wholly behind or wholly before the apron's end."""
    hall = Hall(scale=24, width=340, height=280, depth=500, floor=3, apron=50, front=0)
    (problem,) = arches(hall, at=1.0, depth=0.5).problems
    assert "apron" in problem.found
    assert arches(hall, at=1.2, depth=0.5).problems == ()
    assert arches(hall, at=0.7, depth=0.5).problems == ()
