"""Room for figures: against one another, and for stock figures, which are deeper than the relief makes people."""

from __future__ import annotations

import re

import pytest

from pipeline.build import make, shape
from pipeline.checks import figure_scale
from pipeline.checks.figure_room import run
from pipeline.checks.model import Finding
from pipeline.elements.hall_shape import Hall
from pipeline.relief.collineation import Relief
from pipeline.room.figuring import stand

from ..lights.lamps import lamp
from .people import ROOM, STEPPED, figure

POST = '[[columns]]\nname = "post"\nat = [1.0, 4.0]\ndiameter = 0.6\n'


def findings(text: str) -> dict[str, Finding]:
    """Return what the check says, by figure."""
    return {finding.part: finding for finding in run(shape(text.encode()))}


def test_two_figures_in_one_place_fail_and_where_the_second_is_sent_both_stand() -> None:
    """Their stances are 0.266 m deep; the ends told keep them a depth or a breadth apart."""
    said = findings(ROOM + figure("a") + figure("b", y=4.1))
    assert (said["a"].status, said["b"].status) == ("warn", "fail")
    assert "takes the same room as 'a'" in said["b"].message
    offered = re.findall(r"([xy]) (?:up to|from) (-?[\d.]+) m", said["b"].message)
    assert len(offered) == 4
    for axis, value in offered:
        place = {"x": 1.0, "y": 4.1, axis: float(value)}
        moved = findings(ROOM + figure("a") + figure("b", x=place["x"], y=place["y"]))
        assert moved["b"].status != "fail"


def test_figures_back_to_back_are_no_fault() -> None:
    """0.27 m apart, each 0.266 m deep, they touch nowhere as imagined; as stock figures they would."""
    said = findings(ROOM + figure("a") + figure("b", y=4.27))
    assert {one.status for one in said.values()} == {"warn"}
    assert "would reach into 'b'" in said["a"].message


@pytest.mark.parametrize(("x", "y", "words"), [
    (1.0, 4.45, "into post"), (0.0, 11.86, "into back-wall"), (0.0, 0.14, "out of the opening"),
])  # fmt: skip
def test_a_stock_figure_is_told_how_thin_it_must_be(x: float, y: float, words: str) -> None:
    """The gap along the hall from the middle of its feet to what it meets, built, is half of what is told.

    The gap is taken from the relief's formula, along the line of sight of nobody: on the floor, at the figure's x.
    """
    (finding,) = findings(ROOM + POST + figure(x=x, y=y)).values()
    assert finding.status == "warn"
    assert words in finding.message
    evidence = shape((ROOM + POST + figure(x=x, y=y)).encode())
    relief, hall = evidence.room.relief, evidence.room.hall
    edge = {"into post": 4.3, "into back-wall": 12.0, "out of the opening": 0.0}[words]
    here, there = (
        float(relief.build_points([[hall.millimetres(x), hall.millimetres(value), hall.floor]])[0, 1])
        for value in (y, edge)
    )
    assert finding.value == pytest.approx(2 * abs(here - there), abs=0.05)
    assert finding.limit == pytest.approx(stand(evidence.scene.figures[0], hall, relief).stock_depth)


def test_a_figure_with_room_passes_and_tells_its_depth() -> None:
    """0.152 of its built stature, as it looks at the viewer."""
    (finding,) = findings(ROOM + figure(x=-2.0, y=6.0)).values()
    built = stand(shape((ROOM + figure(x=-2.0, y=6.0)).encode()).scene.figures[0], *_of(ROOM)).height
    assert finding.status == "pass"
    assert finding.value == pytest.approx(0.152 * built)


def _of(text: str) -> tuple[Hall, Relief]:
    room = shape(text.encode()).room
    return room.hall, room.relief


def test_before_steps_a_stock_figure_is_told_of_them() -> None:
    """The flight begins at 8.45 m."""
    (finding,) = findings(STEPPED + figure(y=8.3)).values()
    assert "would reach into the steps behind it" in finding.message


def test_a_lamp_in_a_figure_fails_and_one_before_it_does_not() -> None:
    """Its stance is an ellipse of 0.45 by 0.27 m, 1.75 m tall."""
    for place, status in (((1.0, 4.0, 1.2), "fail"), ((1.0, 4.0, 1.9), "pass"), ((1.0, 3.8, 1.2), "pass")):
        (finding,) = findings(ROOM + figure() + lamp(*place)).values()
        assert finding.status == status
        assert ("'lantern' hangs within it" in finding.message) == (status == "fail")


def test_who_gives_the_height_of_the_model_is_told() -> None:
    """28 mm is a common model's height; at 1:48 that is 0.6 mm."""
    (finding,) = figure_scale.run(make((ROOM + figure(height=0.028)).encode()))
    assert finding.status == "warn"
    assert "give the height of the person in the imagined room, not of the model" in finding.message


def test_turned_figures_have_their_shoulders_along_the_hall() -> None:
    """0.259 of the built stature, and half of it each way: 0.45 m of shoulders stand free at 0.3 m of the wall."""
    (finding,) = findings(ROOM + figure(x=-2.0, y=6.0, facing=90)).values()
    (other,) = findings(ROOM + figure(x=-2.0, y=6.0)).values()
    assert finding.limit is not None
    assert other.limit is not None
    assert finding.limit / other.limit == pytest.approx(0.259 / 0.152)
