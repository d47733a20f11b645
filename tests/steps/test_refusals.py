"""Steps that cannot be are refused with the room there is."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import pytest

from pipeline.build import make
from tests.refused import refusal

from .flight_text import ROOM, flight

DOOR = '[[openings]]\nname = "door"\nwall = "back"\nat = 4.0\nwidth = 1.2\nheight = 2.5\n'
COLUMN = '[[columns]]\nname = "post"\nat = [2.0, 8.2]\ndiameter = 0.4\n'
ARCH = '[[arches]]\nname = "arch"\nat = 8.2\nspringing = 1.5\nring = 0.4\ndepth = 0.5\n'

REFUSED = [
    (flight(rise=0), "steps[1].rise: a rise of nothing"),
    (flight(at=11.5), "steps[1].at: the flight ends at 12.46 m, the hall at 12 m"),
    (flight(at=11.5), "less than 11.04 m"),
    (flight(count=20, rise=0.4), "the floor behind would lie 8 m up, the ceiling is at 6.984 m; allowed: less than 0.3492 m"),
    (flight(count=20, going=0.1), "the floor behind would lie 4 m up and be seen from below"),
    (flight(count=20, going=0.1), "below the eye, which is 3.648 m over the front floor"),
    (flight(rise=-0.5), "would reach"),
    (flight(width=2.0), "steps[1].width: a flight across the hall is as wide as the hall"),
    (flight(side="left"), "steps[1].width: missing"),
    (flight(side="left", width=9.0), "leaves nothing of the floor beside the flight; allowed: less than the hall's 8.4 m"),
    (flight(count=1, made="print"), "a flight of one riser has no treads to print"),
    (flight(at=0.0), "leaves no floor before it"),
    (flight("a") + flight("b", at=8.5), "steps[2].at: at 8.5 m the flight leaves no floor before it, which begins at 8.96 m"),
    (flight("a") + flight("A", at=10.5), "gives the id a"),
    (flight(cover="brik"), 'there is no cover "brik"'),
    (flight(material="oak"), 'there is no material "oak"'),
    (flight() + DOOR, "'door' begins under the floor"),
    (flight() + COLUMN, "columns[1].at: the column stands on steps, or across an end of them"),
    (flight() + ARCH, "arches[1].at: its legs stand on steps, or across an end of them"),
    (flight() + ARCH.replace("8.2", "10").replace("1.5", "0.4"), "the floor lies 0.6 m up there, the arch springs 0.4 m up"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), REFUSED)
def test_what_cannot_be_built_is_refused_in_words(text: str, expected: str) -> None:
    """Each refusal says what was found or what is allowed."""
    assert expected in refusal(ROOM + text)


def test_steps_on_the_apron_are_refused() -> None:
    """The relief breaks at the apron's end."""
    room = ROOM.replace("depth = 12.0", "depth = 12.0\napron = 20")
    assert "the flight begins on the apron, which ends 0.96 m behind" in refusal(room + flight(at=0.7))


def test_a_fall_of_what_is_allowed_fits_and_a_little_more_does_not() -> None:
    """The room stated for a lower floor is the room there is."""
    said = refusal(ROOM + flight("pit", count=1, rise=-3.0))
    most = float(said.split("at most ")[1].split(" m")[0])
    make((ROOM + flight("pit", count=1, rise=-round(most - 0.001, 4))).encode())
    assert "at most" in refusal(ROOM + flight("pit", count=1, rise=-round(most + 0.01, 4)))
