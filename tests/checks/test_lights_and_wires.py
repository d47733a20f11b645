"""What is told of lights and wires: room, places, stand-ins and what is in the way, on evidence set by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import light_places, wires_free
from pipeline.checks.evidence import Evidence
from pipeline.parts.lighting.leds import Led, StandIn, WayIn
from pipeline.parts.wires import Run, Wiring
from pipeline.room.batteries import Battery
from pipeline.room.light_places import LightPlace, Nature
from pipeline.scene.read import read_scene

from ..scene_text import PLAIN

Array = NDArray[np.float64]


@pytest.fixture(scope="module")
def room() -> Evidence:
    return make(PLAIN.encode())


def wired(room: Evidence, bodies: dict[str, manifold3d.Manifold], *runs: Run, battery: Array | None = None) -> Evidence:
    cell = Battery(name="LR6", cells=1, size=(50.5, 14.5, 14.5), volts=1.5, capacity=2000.0, button=False)
    wiring = Wiring(runs=runs, holes=(), radius=0.5, battery=None if battery is None else cell, place=battery)
    evidence = replace(room, wiring=wiring)
    evidence.__dict__["bodies"] = bodies
    return evidence


def test_wires_are_told_by_what_they_take_of_all_parts(room: Evidence) -> None:
    """A tube of 16 sides of 0.5 mm through plates 2 and 4 mm thick takes its section times 6; the middle leg of three
    passes neither. With a battery in a plate, that is told apart."""
    plates = {
        "one": manifold3d.Manifold.cube((2.0, 9.0, 9.0)).translate((4.0, -4.0, -4.0)),
        "two": manifold3d.Manifold.cube((4.0, 9.0, 9.0)).translate((4.0, -4.0, 20.0)),
    }
    points = np.array([[0.0, 0, 0], [10, 0, 0], [10, 0, 24], [0, 0, 24]])
    run = Run(light="Lamp", led="Lamp", points=points, through=("", "wires-1", ""))
    clear = Run(light="Other", led="Other lamp", points=points[:2] + np.array([0.0, 50.0, 0.0]), through=("wires-2",))
    section = 16 / 2 * 0.5**2 * math.sin(2 * math.pi / 16)
    block = np.array([[3.0, 0.0, 0.0], [5.0, 1.0, 1.0]])
    crossed, free, battery = wires_free.run(wired(room, plates, run, clear, battery=block))
    assert (crossed.id, crossed.part, crossed.status) == ("wires-free", "lamp", "fail")
    assert crossed.value == pytest.approx(6 * section, rel=0.01)
    assert (crossed.limit, crossed.unit) == (wires_free.COMMON_MM3, "mm3")
    assert crossed.message == "its wires and one and two take the same room; report the scene"
    assert (free.part, free.status, free.value) == ("other-lamp", "pass", 0.0)
    assert free.message == "10 mm of wire in 1 straight legs, free of all parts, through wires-2"
    assert (battery.part, battery.status) == ("", "fail")
    assert battery.value == pytest.approx(1.0)
    assert battery.message == "the battery and one take the same room; report the scene"
    (lies,) = wires_free.run(wired(room, {}, battery=block))
    assert (lies.status, lies.message) == ("pass", "the battery lies free of all parts, out of sight")


def test_a_light_without_wires_says_why(room: Evidence) -> None:
    """A warning, but where it is outside the box as it should be."""
    none = np.zeros((0, 3))
    runs = (
        Run(light="a", led="a", points=none, why="no way is found"),
        Run(light="b", led="b", points=none, why="it is outside", elsewhere=True),
    )
    stuck, outside = wires_free.run(wired(room, {}, *runs))
    for finding, status, why in ((stuck, "warn", "no way is found"), (outside, "pass", "it is outside")):
        assert (finding.id, finding.status, finding.message) == ("wires-free", status, why)
        assert (finding.value, finding.limit, finding.unit) == (None, None, "")
    assert wires_free.run(room) == []


def led(
    nature: Nature = "leaving",
    room: float | None = 1.5,
    *,
    usable: bool = True,
    seen: bool = False,
    ways: tuple[WayIn, ...] = (),
) -> Led:
    place = LightPlace(nature=nature, point=(1.0, -2.0, 30.0), way=None, inside_box=usable)
    return Led(place=place, usable=usable, nearest="left-wall", room=room, seen=seen, ways=ways)


def lit(room: Evidence, *leds: Led) -> Evidence:
    lamps = "".join(f'\n[[lights]]\nname = "Lamp {n}"\nkind = "lamp"\nat = [0.0, 6.0, 3.0]\n' for n in range(len(leds)))
    return replace(room, scene=read_scene((PLAIN + lamps).encode()), leds=leds)


AT = "x 1.0, y -2.0, z 30.0 mm"


@pytest.mark.parametrize(
    ("one", "status", "value", "said"),
    [
        (led(room=1.5), "pass", 1.5, f"an LED at {AT} is exact, 1.5 mm clear of left-wall"),
        (led(room=0.0), "pass", 0.0, f"an LED at {AT} is exact, 0.0 mm clear of left-wall"),
        (led(seen=True), "warn", 1.5, f"an LED at {AT} is exact, but the eye sees it: hide it behind a pier"),
        (led(room=-0.4, usable=False), "fail", -0.4, f"an LED of 3 mm at {AT} stands 0.4 mm into left-wall: move"),
        (
            led(room=None, usable=False),
            "warn",
            None,
            f"it is exact at {AT}, outside the box; paint the",
        ),
        (led("converging", None, usable=False), "warn", None, f"its light runs together at {AT}: no small lamp"),
        (led("parallel", None, usable=False), "warn", None, "its light is parallel in the built room too: no small"),
    ],
)
def test_a_light_is_told_whether_an_led_has_its_place(
    room: Evidence, one: Led, status: str, value: float | None, said: str
) -> None:
    """Room or want of it is the figure, held against nothing at all; without a place there is none."""
    (finding,) = light_places.run(lit(room, one))
    assert (finding.id, finding.part, finding.status) == ("light-places", "lamp-0", status)
    assert (finding.value, finding.limit, finding.unit) == (value, None if value is None else 0.0, "mm")
    assert finding.message.startswith(said)


def stand_in(typical: float, missed: float) -> StandIn:
    return StandIn(place=(4.0, 5.0, 6.0), off=9.5, off_arcmin=70.0, typical=typical, part="floor", missed=missed)


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (None, "behind 'hatch' there is no room for an LED"),
        (stand_in(2.5, 0.0), "throws its patch 2.5 mm off, at worst 9.5 mm or 70 minutes of arc"),
        (
            stand_in(25.0, 0.5),
            "throws its patch 25.0 mm off, at worst 9.5 mm or 70 minutes of arc; 50 % of it",
        ),
        (stand_in(25.1, 0.2), "throws its patch far from the marks, by 25 mm"),
        (stand_in(2.5, 0.51), "shines elsewhere: 51 % of it falls beside the marked faces"),
    ],
)
def test_what_stands_in_for_a_light_is_told_opening_by_opening(room: Evidence, one: StandIn | None, said: str) -> None:
    """How far off it is, unless most of it misses, or it is another patch; and what to do instead."""
    ways = tuple(WayIn(gate=name, name=name, share=1.0, cut_off=None, stand_in=one) for name in ("hatch", "door"))
    (finding,) = light_places.run(lit(room, led(room=None, usable=False, ways=ways)))
    where = "" if one is None else "behind 'hatch' one at x 4.0, y 5.0, z 6.0 mm "
    assert f"outside the box; {where}{said}" in finding.message
    assert finding.message.count("behind 'door'") == 1
    assert finding.message.endswith("; paint the patches instead (make.stencils), or let it do")


def test_what_stands_in_its_light_is_told(room: Evidence) -> None:
    """From 2 % on, for an LED in its place and for one that stands in."""
    shaded = (("the battery", 0.125), ("wires of lamp", 0.02), ("stringer-1", 0.019))
    way = WayIn(gate="hatch", name="hatch", share=1.0, cut_off=None, stand_in=None, shaded=shaded)
    said = "of its light to 'hatch' 12 % is taken by the battery and 2 % is taken by wires of lamp"
    (finding,) = light_places.run(lit(room, led(ways=(way,))))
    assert finding.status == "warn"
    assert finding.message == f"an LED at {AT} is exact, but {said}: move that, or the lamp"
    instead = replace(way, stand_in=stand_in(2.5, 0.0))
    (finding,) = light_places.run(lit(room, led(room=None, usable=False, ways=(instead,))))
    assert f"70 minutes of arc; {said}; paint the patches" in finding.message
    clear = replace(way, shaded=shaded[2:])
    (finding,) = light_places.run(lit(room, led(ways=(clear,))))
    assert finding.status == "pass"


def test_every_light_is_told_in_its_order(room: Evidence) -> None:
    """None is told of no lights."""
    assert light_places.run(room) == []
    assert [f.part for f in light_places.run(lit(room, led(), led(seen=True)))] == ["lamp-0", "lamp-1"]
