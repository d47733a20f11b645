"""Lights that cannot be so are refused with what would fit."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import re

import pytest

from pipeline.build import shape
from tests.refused import refusal

from ..figures.people import STEPPED
from .lamps import ROOM, beam, lamp

POST = '\n[[columns]]\nname = "post"\nat = [1.0, 4.0]\ndiameter = 0.6\nbase = 0.3\n'
WINDOW = '\n[[openings]]\nname = "window"\nwall = "right"\nat = 6.0\nwidth = 2.0\nsill = 1.0\nheight = 2.5\n'
REFUSED = [
    (lamp(0, -0.5, 2), "lights[1].at: 'lantern' hangs 0.5 m before the opening, on the viewer's side; allowed: y of 0 or more"),
    (lamp(0, 3, 0), "lights[1].at: 'lantern' lies on the floor; allowed: a height above 0 m"),
    (lamp(0, 3, -1), "lies under the floor"),
    (lamp(0, 3, 7.2), "lights[1].at: 'lantern' hangs 7.2 m up, the ceiling is at 6.888 m; allowed: a height below 6.888 m"),
    (beam(0, 0, 0), "lights[1].direction: [0, 0, 0] leads nowhere"),
    ('\n[[lights]]\nname = "a"\nkind = "lamp"\n', "lights[1].kind: 'a' is a lamp without at; allowed: at. Add at = [x, y, height] (m)"),
    ('\n[[lights]]\nname = "a"\nkind = "beam"\n', "lights[1].kind: 'a' is a beam without direction"),
    (lamp(0, 3, 2, more="direction = [0, -1, 0]"), "lights[1].direction: 'lantern' is a lamp, and direction is a beam's"),
    (beam(0, -1, 0, more="at = [0, 1, 1]"), "lights[1].at: 'moon' is a beam, and at is a lamp's"),
    ('\n[[lights]]\nname = "a"\nkind = "torch"\n', "lights[1].kind"),
    (lamp(0, 3, 2, more="supply = 9"), "lights[1].supply: 'lantern' has supply without forward and current; allowed: all three of supply, forward and current"),
    (lamp(0, 3, 2, more="supply = 3.0\nforward = 3.2\ncurrent = 0.02"), "lights[1].supply: 3 V do not light an LED that needs 3.2 V; allowed: a supply above 3.2 V"),
    (lamp(0, 3, 2, more="supply = 230.0\nforward = 3.2\ncurrent = 0.02"), "lights[1].supply"),
    (lamp(0, 3, 2) + lamp(1, 3, 2, "Lantern"), "gives the id lantern"),
    (POST + lamp(1.0, 4.0, 2.0), "lights[1].at: 'lantern' is within 'post'; allowed: a place clear of it: it reaches over x 0.61 to 1.39, y 3.61 to 4.39, height 0 to 6.888 m"),
    (beam(0.5, -0.5, -0.5), "lights[1].direction: the light of 'moon' comes from outside the hall, and no opening lets it in; allowed: an opening with beyond = \"bare\" or \"light\""),
    (WINDOW + beam(0.5, -0.5, -0.5), "lights[1].direction: the light of 'moon' enters no opening; allowed: x below 0, through 'window' in the right wall, as direction = [-1, 0, -1] does"),
    (WINDOW + beam(0.0, -0.5, -0.5), "the light of 'moon' enters no opening"),
    (WINDOW + lamp(-6, 3, 2), "lights[1].at: the light of 'lantern' enters no opening; allowed: x above 4.152 m, through 'window' in the right wall"),
    (WINDOW + "reveal = 0.5\n" + beam(-0.1, -1.0, -0.1), "squarer to the wall where a reveal is deep"),
    (WINDOW + "reveal = 0.5\n" + lamp(4.18, 2, 2), "lights[1].at: an LED for 'lantern' would sit within the right wall, which is 3 mm thick; allowed: a place in the hall, x between -4.152 and 4.152 m, y below 12 m, height below 6.888 m; x above 4.152 m, through 'window' in the right wall, as at = [5.15, 6, 2.25] does. Move the lamp"),
    (WINDOW + lamp(4.18, 3, 2), "lights[1].at: an LED for 'lantern' would sit within the part right-wall; allowed: a place free of parts, such as "),
]  # fmt: skip


@pytest.mark.parametrize(("more", "expected"), REFUSED)
def test_what_is_no_light_is_refused_in_words(more: str, expected: str) -> None:
    """Each message says what is there and what would fit; the hall is 8.304 x 12 x 6.888 m."""
    assert expected in refusal(ROOM + more)


DEEP, BACK = WINDOW + "reveal = 0.5\n", WINDOW.replace("right", "back")
SHUT = [
    (WINDOW, beam(0.5, -0.5, -0.5)),
    (WINDOW + "reveal = 2.0\n", beam(-0.1, -1.0, -0.1)),
    (WINDOW, lamp(0, 15, 2)),
    (WINDOW.replace("sill = 1.0", "sill = 0.0"), lamp(-6, 3, 2)),
    (DEEP, lamp(4.18, 2, 2)),
    (BACK, beam(-1e-6, 0.0, -1.0)),
    (BACK, lamp(-6, 3, 2)),
    (WINDOW + BACK.replace("window", "lunette"), lamp(-6, 3, 2)),
]


@pytest.mark.parametrize(("hole", "light"), SHUT)
def test_every_light_offered_enters(hole: str, light: str) -> None:
    """Written as the message says, it is taken, and shines into the hall."""
    offered = re.findall(r"as (at|direction) = (\[[^]]*\]) does", refusal(ROOM + hole + light))
    assert len(offered) == hole.count("[[openings]]")
    for key, value in offered:
        evidence = shape((ROOM + hole + re.sub(rf"{key} = \[[^]]*\]", f"{key} = {value}", light)).encode())
        assert evidence.casts[0].patches


@pytest.mark.parametrize("way", [(-1e-300, 0.0, -1e-300), (-5e-324, 0.0, 0.0), (-1e6, 0.0, -1e6)])
def test_a_direction_may_be_of_any_length(way: tuple[float, float, float]) -> None:
    """So its key says: the squares of small numbers are nothing, and were divided by."""
    (cast,) = shape((ROOM + WINDOW + beam(*way)).encode()).casts
    assert cast.patches


def test_every_place_offered_beside_a_wall_is_free() -> None:
    """Moved to each place it names, the lamp's LED keeps clear of all parts."""
    offered = re.findall(r"x = (-?[\d.]+)", refusal(ROOM + WINDOW + lamp(4.18, 3, 2)))
    assert offered
    for x in offered:
        (led,) = shape((ROOM + WINDOW + lamp(float(x), 3, 2)).encode()).leds
        assert led.usable


def test_a_lamp_above_the_vault_is_refused_and_one_as_high_as_said_is_not() -> None:
    """A round barrel of 3 m over half a span of 4.152 m, springing at 2 m, is 2 + 3 sqrt(1 - (3/4.152)^2) m up at 3 m."""
    card = '\n[materials.card]\nthickness = 0.5\nprocess = "knife"\nsheet = [300, 200]\nmin_bend = 1.0\n[front]\nmaterial = "card"\n'
    walls = "".join(f'\n[{name}]\nmaterial = "foam"\n' for name in ("left", "right", "back", "floor"))
    vault = '\n[vault]\nform = "barrel"\nbays = 3\nspringing = 2.0\nrise = 3.0\nprofile = "round"\nmaterial = "card"\n'
    said = refusal(ROOM + card + walls + vault + lamp(3.0, 3.0, 4.5))
    room = float(re.findall(r"below ([\d.]+) m", said)[0])
    assert pytest.approx(room, abs=0.005) == 2 + 3 * (1 - (3 / 4.152) ** 2) ** 0.5
    assert shape((ROOM + card + walls + vault + lamp(3.0, 3.0, room - 0.3)).encode()).casts[0].cell == ""


def test_a_lamp_under_a_raised_floor_is_refused() -> None:
    """Behind three risers of 0.15 m the floor lies 0.45 m up."""
    assert "lies under the floor there, 0.45 m up; allowed: a height above 0.45 m" in refusal(
        STEPPED + lamp(0, 11, 0.3)
    )
    assert shape((STEPPED + lamp(0, 11, 0.8)).encode()).casts[0].cell == ""
