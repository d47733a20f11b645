"""Spiral stairs: their bodies by closed forms, their marks, and what is refused."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.build import build_scene, make
from pipeline.checks import bodies_apart, in_box, print_closed, print_faithful
from pipeline.elements.bodies import Block
from pipeline.elements.model import Imagined
from pipeline.geometry.booleans import body_of
from pipeline.geometry.regions import loop_of
from pipeline.room.imagine import imagine
from pipeline.room.measure import measure
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene

ROOM = """\
format = 1
box = { width = 160, height = 150, depth = 80 }
eye = { distance = 400, height = 70 }
space = { scale = 32, depth = 6.0 }
floor = { cover = "flags" }
covers.flags = { pattern = "flags", length = 0.6, width = 0.4, joint = 0.01 }
materials.card = { thickness = 1.5, process = "laser", kerf = 0.1, sheet = [300, 200] }
[[spiral_stairs]]
name = "turret stair"
"""
PLACED = {"at": [0.8, 3.5], "diameter": 2.2, "newel": 0.3, "count": 18}
MM = 1000 / 32
"""Imagined mm of a metre."""


def text(**keys: Any) -> bytes:
    """Return the room with one stair; booleans and strings as TOML has them."""
    lines = []
    for key, value in {**PLACED, **keys}.items():
        shown = str(value).lower() if isinstance(value, bool) else f'"{value}"' if isinstance(value, str) else value
        lines.append(f"{key} = {shown}")
    return (ROOM + "\n".join(lines)).encode()


def imagined(scene: bytes) -> tuple[Imagined, Block]:
    """Return what a scene is imagined as, and its stair before the hall cuts it."""
    read = read_scene(scene)
    from pipeline.elements.spiral_stair import imagine as stair

    room = measure(read)
    said = imagine(read, room)
    return said, stair(read.spiral_stairs[0], room.hall, ("spiral_stairs", 0)).blocks[0]


def volume_m3(*, count: int, rise: float, turn: float, thickness: float, height: float) -> float:
    """Return the newel, and of every tread the sector of a ring that is outside it, down to the floor at most.

    The sector of a ring has the area turn / 2 (R^2 - r^2); treads of one stair share no ground while they turn by less
    than once round, and rest on each other by faces only.
    """
    big, small = PLACED["diameter"] / 2, PLACED["newel"] / 2  # type: ignore[operator]
    wedge = math.radians(turn) / 2 * (big**2 - small**2)
    treads = sum(min(thickness, number * rise) for number in range(1, count + 1))
    return math.pi * small**2 * height + wedge * treads


@given(
    count=st.integers(1, 14),
    rise=st.floats(0.12, 0.25),
    share=st.sampled_from([0.3, 0.7, 1.2, 1.9]),
    turn=st.floats(12, 25),
    start=st.floats(-360, 360),
    winds=st.sampled_from(["anticlockwise", "clockwise"]),
)
@settings(max_examples=25, deadline=None)
def test_a_stair_has_the_volume_of_its_newel_and_its_wedges(
    count: int, rise: float, share: float, turn: float, start: float, winds: str
) -> None:
    """One body without holes, its volume that of the closed form but for facets and the mm it runs into the floor."""
    thickness = share * rise
    keys = {"rise": rise, "turn": turn, "start": start, "winds": winds, "thickness": thickness, "through": False}
    _, block = imagined(text(count=count, **keys) + b"\n[make]\nmesh_tolerance = 0.002\n")
    body = body_of(block.mesh)
    assert len(body.decompose()) == 1
    assert body.genus() == 0
    above = body.trim_by_plane((0.0, 0.0, 1.0), 1.5)
    expected = volume_m3(count=count, rise=rise, turn=turn, thickness=thickness, height=count * rise) * MM**3
    assert above.volume() == pytest.approx(expected, rel=0.004)


@pytest.mark.parametrize(("winds", "way"), [("anticlockwise", 1), ("clockwise", -1)])
def test_it_winds_the_way_it_says(winds: str, way: int) -> None:
    """Just under the top of tread n and outside the newel there is tread n alone: at its own angle, seen from above."""
    _, block = imagined(text(winds=winds, start=30.0, turn=24.0, rise=0.2, thickness=0.19, count=6))
    body = body_of(block.mesh)
    for number in range(6):
        section = body.slice(1.5 + (number + 1) * 0.2 * MM - 0.01)
        points = np.concatenate([np.array(ring) for ring in section.to_polygons()]) - np.array([0.8, 3.5]) * MM
        outer = points[np.linalg.norm(points, axis=1) > 1.0 * MM]
        middle = math.degrees(math.atan2(*outer.mean(axis=0)[::-1]))
        assert (middle - (30.0 + way * 24.0 * (number + 0.5)) + 180) % 360 - 180 == pytest.approx(0, abs=0.5)


def test_a_built_stair_passes_the_checks_that_matter() -> None:
    """Faithful to the eye, closed, apart from floor and ceiling, in the box, and marked on the floor."""
    built = make(text(start=200))
    for check in (bodies_apart, in_box, print_closed, print_faithful):
        assert [found for found in check.run(built) if found.status != "pass"] == []
    (part,) = built.prints
    assert part.id == "turret-stair"
    low, high = part.body.vertices[:, 2].min(), part.body.vertices[:, 2].max()
    floor = next(panel for panel in built.panels if panel.id == "floor")
    assert len(floor.places) == 1
    assert low > 1.5
    assert high > 120


def test_the_mark_is_the_newel_and_the_treads_that_reach_the_floor() -> None:
    """Area of the newel's circle and of one wedge of a ring: thickness 1.3 rises reaches the floor under tread 1."""
    import shapely

    from pipeline.geometry.curves import flatten_path

    said, _ = imagined(text(turn=24.0))
    (mark,) = [mark for mark in said.marks if mark.name == "turret-stair"]
    area = shapely.Polygon(flatten_path(mark.curve, 1e-4)).area
    expected = math.pi * 0.15**2 + math.radians(24.0) / 2 * (1.1**2 - 0.15**2)
    assert area == pytest.approx(expected * MM**2, rel=1e-4)
    assert len(loop_of(mark.curve)) == len(mark.curve)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"at": [2.0, 3.5]}, "x between"),
        ({"diameter": 9.0}, "a diameter of at most"),
        ({"newel": 2.2}, "less than 2.2 m"),
        ({"count": 60, "turn": 12.0}, "at most"),
        ({"thickness": 0.19, "rise": 0.19}, "meet in an edge"),
        ({"thickness": 3.0, "rise": 0.15}, "close the way up"),
        ({"turn": 200}, "90"),
        ({"diameter": -1}, "above zero"),
    ],
)
def test_what_cannot_be_is_refused_with_what_would_fit(keys: dict[str, Any], said: str) -> None:
    """At its line, before anything is built."""
    with pytest.raises(SceneFileError) as caught:
        build_scene(text(**keys), "stair")
    assert any(said in line for line in caught.value.describe("a.toml"))


def test_a_stair_across_the_end_of_the_apron_is_refused() -> None:
    """The relief breaks there."""
    scene = text(at=[0.8, 1.2]).replace(b"depth = 6.0 }", b"depth = 6.0, apron = 20 }")
    with pytest.raises(SceneFileError, match="across the apron's end"):
        build_scene(scene, "stair")


def test_two_things_of_one_name_are_refused() -> None:
    """Parts are named after them."""
    scene = text() + b'\n[[columns]]\nname = "Turret Stair"\nat = [-1.5, 2.0]\ndiameter = 0.3\n'
    with pytest.raises(SceneFileError, match="turret"):
        build_scene(scene, "stair")
