"""Where a real LED sits: the image of the imagined lamp, and of the ideal point of a beam."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.build import make
from pipeline.checks.evidence import Evidence
from pipeline.report.light_rows import light_entries
from pipeline.room.light_places import place_light

from ..scene_text import changed
from .lamps import ROOM as BARE
from .lamps import beam, lamp

ROOM = BARE + "".join(
    f'\n[[openings]]\nname = "{wall} window"\nwall = "{wall}"\nat = 4.0\nwidth = 1.5\nsill = 1.0\nheight = 2.0\n'
    for wall in ("left", "right", "back")
)
APRON = changed(ROOM, "depth = 12.0", "depth = 12.0\napron = 20")


def places(text: str) -> list[dict[str, object]]:
    return light_entries(make(text.encode()))


@pytest.mark.parametrize("room", [ROOM, APRON])
def test_a_lamp_sits_at_the_image_of_the_imagined_one(room: str) -> None:
    """In the formula x' = ex + (x - ex) / w: 2 m right, 6 m in and 3 m up are 41.667, 125 and 62.5 mm at 1:48."""
    evidence = make((room + lamp(2.0, 6.0, 3.0)).encode())
    relief = evidence.room.relief
    w = 1 + relief.a * (125 - relief.apron)
    expected = [41.6666667 / w, relief.apron + relief.b * (125 - relief.apron) / w, 78 + (3 + 62.5 - 78) / w]
    (entry,) = light_entries(evidence)
    assert expected == pytest.approx(entry["place"], abs=1e-5)
    assert entry["inside_box"] is True
    assert entry["kind"] == "lamp"


@pytest.mark.parametrize(("room", "apron"), [(ROOM, 0.0), (APRON, 20.0)])
def test_a_beam_toward_the_viewer_comes_from_a_point_of_the_vanishing_plane(room: str, apron: float) -> None:
    """(k dx/dy, V, k dz/dy) from the eye's axis, k = V + D, V = d (L + D) / (L - d): far behind a box of 85 mm."""
    built, apparent, distance = 77.5 - apron, 250.0 - apron, 420.0 + apron
    vanishing = built * (apparent + distance) / (apparent - built)
    k = vanishing + distance
    (entry,) = places(room + beam(0.5, -0.8, -0.4))
    assert [k * 0.5 / -0.8, apron + vanishing, 78 + k * -0.4 / -0.8] == pytest.approx(entry["place"], abs=1e-4)
    assert entry["inside_box"] is False


def lit(text: str) -> Evidence:
    return make(text.encode())


@pytest.mark.parametrize(
    ("way", "nature"),
    [((0.3, -1.0, -1.0), "leaving"), ((0.3, 1.0, -1.0), "converging"), ((0.3, 0.0, -1.0), "parallel")],
)
def test_light_leaves_its_point_runs_together_in_it_or_stays_parallel(
    way: tuple[float, float, float], nature: str
) -> None:
    """By the sign of dy alone."""
    evidence = lit(ROOM + beam(*way))
    room = evidence.room
    place = place_light(evidence.scene.lights[0], room.hall, room.relief, room.inside)
    assert place.nature == nature
    assert (place.point is None) == (nature == "parallel")


@given(
    st.tuples(*[st.floats(-1, 1)] * 3),
    st.floats(-80, 80),
    st.floats(1, 249),
    st.floats(4, 140),
    st.floats(0.01, 1.0),
)
def test_every_imagined_ray_of_a_beam_goes_through_its_point_when_built(
    way: tuple[float, float, float], x: float, y: float, z: float, on: float
) -> None:
    """Two points of an imagined ray and the light's point lie on one line when built, whatever way it travels."""
    direction = np.array(way)
    assume(np.linalg.norm(direction) > 0.1 and abs(direction[1]) > 0.02)
    evidence = beams(tuple(round(value, 3) for value in way))
    room = evidence.room
    light = evidence.scene.lights[0]
    start = np.array([x, y, z])
    end = start + on * 50 * light.way()
    assume(0 <= end[1] < 2000)
    place = place_light(light, room.hall, room.relief, room.inside)
    assert place.point is not None
    a, b = room.relief.build_points([start, end])
    along, to_point = b - a, np.array(place.point) - a
    off = np.linalg.norm(np.cross(along, to_point)) / np.linalg.norm(along) / np.linalg.norm(to_point)
    assert off < 1e-8
    leaves = along @ to_point < 0
    assert (place.nature == "leaving") == leaves


PLAIN_ROOM = lit(ROOM + beam(0.0, -1.0, 0.0))


def beams(way: tuple[float, ...]) -> Evidence:
    """Return the plain room with another beam, without building it again."""
    light = PLAIN_ROOM.scene.lights[0].model_copy(update={"direction": way})
    return replace(PLAIN_ROOM, scene=PLAIN_ROOM.scene.model_copy(update={"lights": (light,)}))
