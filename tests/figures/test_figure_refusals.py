"""Figures that cannot stand where they should are refused with the room there is."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import re
from functools import cache

import pytest

from pipeline.build import make
from pipeline.elements.figure import FigureTable
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.room.crowding import find_crowded
from pipeline.room.imagine import imagine
from pipeline.room.measure import measure
from pipeline.scene.read import read_scene
from tests.refused import refusal

from ..scene_text import changed
from .people import ROOM, STEPPED, figure

POST = '[[columns]]\nname = "post"\nat = [1.0, 4.0]\ndiameter = 0.6\nbase = 0.3\n'
ARCH = '[[arches]]\nname = "arch"\nat = 4.0\nspringing = 2.5\nring = 0.4\ndepth = 0.5\n'
APRON = changed(ROOM, "depth = 12.0", "depth = 12.0\napron = 20")
DOOR = '[[openings]]\nname = "door"\nwall = "right"\nat = 6.0\nwidth = 1.6\nheight = 3.0\nhead = "round"\nbeyond = "passage"\nlength = 0.5\n'


REFUSED = [
    (ROOM + figure(x=4.2), "figures[1].at: 'warden' at [4.2, 4] reaches out of the hall; it is 0.453 m across the hall and 0.266 m along it; allowed: x between -3.925 and 3.925 m, y 0.133 to 11.87 m"),
    (ROOM + figure(y=12.0), "reaches out of the hall"),
    (ROOM + figure(y=0.05), "reaches out of the hall"),
    (ROOM + DOOR + figure(x=4.3, y=6.0), "Move it; openings and what is behind them hold no figures"),
    (ROOM + figure(height=7.5), "figures[1].height: 'warden' is 7.5 m tall, the ceiling is 6.888 m over the floor it stands on"),
    (STEPPED + figure(y=8.8), "figures[1].at: 'warden' stands on steps, beside them, or across an end of them; allowed: x between -3.925 and 3.925 m, y 0.133 to 8.317 m or 9.283 to 11.87 m"),
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


VAULT = '[vault]\nform = "barrel"\nbays = 3\nspringing = 2.0\nrise = 3.0\nprofile = "round"\nmaterial = "card"\n\n'
CARD = '\n[materials.card]\nthickness = 0.5\nprocess = "knife"\nsheet = [300, 200]\nmin_bend = 1.0\n\n[front]\nmaterial = "card"\n'
SURFACES = "".join(f'\n[{name}]\nmaterial = "foam"\n' for name in ("left", "right", "back"))


def vaulted(more: str) -> str:
    """Return a room under a vault springing at 2 m."""
    text = changed(ROOM, "[floor]", VAULT + '[floor]\nmaterial = "foam"')
    return text + CARD + SURFACES + more


def test_a_figure_that_reaches_through_the_vault_is_refused_and_one_as_tall_as_said_is_not() -> None:
    """A round barrel of 3 m over half a span of 4.152 m, springing at 2 m: an ellipse.

    The shoulders, at 0.82 of the stature and 0.259 of it wide, and the head, half as wide, come nearest to it at their
    outer ends; the lower of both counts.
    """
    tall = 3.4
    said = refusal(vaulted(figure(x=3.6, y=2.0, height=tall)))
    room = float(re.findall(r"allowed: at most ([\d.]+) m", said)[0])
    assert "figures[1].height: 'warden' is 3.4 m tall, the vault is" in said
    ends = ((3.6 + 0.259 / 2 * tall, 0.82), (3.6 + 0.259 / 4 * tall, 1.0))
    over = [(2 + 3 * (1 - (end / 4.152) ** 2) ** 0.5) / up for end, up in ends]
    assert min(over) == pytest.approx(room, abs=0.02)
    assert make(vaulted(figure(x=3.6, y=2.0, height=room - 0.01)).encode()).scene.figures
    assert make(vaulted(figure(x=0.0, y=2.0, height=tall)).encode()).scene.figures


def test_a_figure_in_a_body_of_facets_is_refused() -> None:
    """Ribs of a groin vault are such bodies; at the wall they come down to the springing, below its crown."""
    groined = vaulted(figure(x=3.5, y=4.0, height=2.2))
    groined = changed(groined, 'form = "barrel"', 'form = "groin"\nrib_width = 0.5\nrib_depth = 0.8')
    assert "figures[1].at: 'warden' stands in '" in refusal(groined)


@cache
def below() -> tuple[Imagined, Hall]:
    """Return a vaulted room and what it is imagined as."""
    scene = read_scene(vaulted("").encode())
    room = measure(scene)
    return imagine(scene, room), room.hall


@pytest.mark.parametrize("tall", [1.55 + 0.01 * step for step in range(40)])
def test_a_figure_far_below_a_vault_is_not_refused_for_the_last_digit_of_its_height(tall: float) -> None:
    """1.72 m under 5 m was: share times stature, divided by the share again, is not always the stature."""
    table = FigureTable(name="reader", height=tall, at=(-0.9, 4.2), facing=60.0)
    said, hall = below()
    assert find_crowded(said, [table], hall) == []
