"""Figures that cannot stand where they should are refused with the room there is."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import re

import pytest

from pipeline.build import make
from pipeline.scene.problems import SceneFileError

from ..scene_text import changed
from .people import ROOM, STEPPED, figure

POST = '[[columns]]\nname = "post"\nat = [1.0, 4.0]\ndiameter = 0.6\nbase = 0.3\n'
ARCH = '[[arches]]\nname = "arch"\nat = 4.0\nspringing = 2.5\nring = 0.4\ndepth = 0.5\n'
APRON = changed(ROOM, "depth = 12.0", "depth = 12.0\napron = 20")
DOOR = '[[openings]]\nname = "door"\nwall = "right"\nat = 6.0\nwidth = 1.6\nheight = 3.0\nhead = "round"\nbeyond = "passage"\nlength = 0.5\n'


def refusal(text: str) -> str:
    with pytest.raises(SceneFileError) as caught:
        make(text.encode())
    return "\n".join(caught.value.describe("a.toml"))


REFUSED = [
    (ROOM + figure(x=4.2), "figures[1].at: 'warden' at [4.2, 4] reaches out of the hall; it is 0.453 m across the hall and 0.266 m along it; allowed: x between -3.925 and 3.925 m, y 0.133 to 11.87 m"),
    (ROOM + figure(y=12.0), "reaches out of the hall"),
    (ROOM + figure(y=0.05), "reaches out of the hall"),
    (ROOM + DOOR + figure(x=4.3, y=6.0), "Move it; openings and what is behind them hold no figures"),
    (ROOM + figure(height=7.5), "figures[1].height: 'warden' is 7.5 m tall, the ceiling is 6.888 m over the floor it stands on"),
    (STEPPED + figure(y=8.8), "figures[1].at: 'warden' stands on steps, or across an end of them; allowed: x between -3.925 and 3.925 m, y 0.133 to 8.317 m or 9.283 to 11.87 m"),
    (STEPPED + figure(y=10.0, height=6.5), "the ceiling is 6.438 m over the floor it stands on"),
    (APRON + figure(y=0.9), "'warden' stands across the apron's end, 0.96 m behind the opening, where the floor folds; allowed: x between -3.925 and 3.925 m, y 0.133 to 0.827 m or 1.093 to 11.87 m"),
    (ROOM + POST + figure(), "figures[1].at: 'warden' stands in 'post'"),
    (ROOM + ARCH + figure(x=3.8, facing=90), "figures[1].at: 'warden' stands in 'arch'"),
    (ROOM + figure("a") + figure("A", x=-1.0), "gives the id a"),
    (ROOM + figure(height=0.0), "figures[1].height: 0.0 is not a length above zero"),
    (ROOM + figure(facing=400), "figures[1].facing"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), REFUSED)
def test_what_cannot_stand_is_refused_in_words(text: str, expected: str) -> None:
    """Each message says what is there and what would fit; numbers follow from the hall's 8.304 x 12 x 6.888 m: the
    box's 180 and 150 mm less two sheets of 3 mm and 0.5 mm of clearance on each side and above."""
    assert expected in refusal(text)


@pytest.mark.parametrize("more", [POST, ARCH])
def test_every_place_the_refusal_offers_is_clear(more: str) -> None:
    """Moved to each of the ends it names, the figure stands."""
    x, y, facing = (1.0, 4.0, 0.0) if more == POST else (3.9, 4.0, 90.0)
    offered = re.findall(r"([xy]) (?:up to|from) (-?[\d.]+) m", refusal(ROOM + more + figure(x=x, y=y, facing=facing)))
    assert len(offered) >= 2
    for axis, value in offered:
        place = {"x": x, "y": y, axis: float(value)}
        assert make((ROOM + more + figure(x=place["x"], y=place["y"], facing=facing)).encode()).scene.figures


def test_under_an_arch_there_is_room() -> None:
    """Its legs stand at the walls; in the middle a figure passes beneath its crown."""
    assert make((ROOM + ARCH + figure(x=0.0)).encode()).scene.figures


def test_a_figure_in_a_printed_body_is_refused() -> None:
    """Ribs of a vault are bodies given by facets; at the wall they come down to the springing."""
    vault = '[vault]\nform = "groin"\nbays = 3\nspringing = 1.0\nrise = 3.0\nrib_width = 0.5\nrib_depth = 0.25\nwebs = "print"\n'
    said = refusal(changed(ROOM, "[floor]", vault + "\n[floor]") + figure(x=3.9, y=4.0))
    assert "figures[1].at: 'warden' stands in '" in said
