"""What columns say of themselves: ids, sections, contacts, marks, and what cannot stand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from pipeline.elements.column import ColumnTable
from pipeline.elements.hall_shape import Hall
from pipeline.geometry import curves
from tests.prints.samples import HALL, columns, only


def test_one_place_and_several_are_written_alike() -> None:
    """`at = [x, y]` is one place, a list of them several; lengths may carry their unit."""
    keys: dict[str, Any] = {"name": "pier", "diameter": 0.5}
    assert ColumnTable.model_validate({**keys, "at": [1, "200 cm"]}).at == ((1.0, 2.0),)
    assert ColumnTable.model_validate({**keys, "at": [[1, 2], [3, 4]]}).at == ((1.0, 2.0), (3.0, 4.0))
    for bad in ([], [1.0], [1.0, 2.0, 3.0], [[1.0]], "here", [[1.0, math.nan]]):
        with pytest.raises(ValidationError):
            ColumnTable.model_validate({**keys, "at": bad})


def test_ids_name_side_and_number() -> None:
    """Engaged piers carry their wall and the number of their place; free ones the number, a single one none."""
    engaged = columns(at=[[-3.9, 4.0], [3.9, 4.0]], engaged=True)
    assert [solid.id for solid in engaged.solids] == ["pier-left-1", "pier-right-2"]
    assert [solid.id for solid in columns(at=[[-1, 4], [1, 4]]).solids] == ["pier-1", "pier-2"]
    assert only(columns(at=[1, 4])).id == "pier"


def test_engaged_axis_lies_on_the_wall_and_opens_to_it() -> None:
    """Half a column stands in the hall: its section is centred on the wall's plane."""
    solid = only(columns(at=[-3.0, 4.0], engaged=True))
    low, high = curves.bounds(solid.levels[0].section)
    assert (low + high) / 2 == pytest.approx([-170.0, 4000 / 24], abs=1e-9)
    assert solid.opens == "left-wall"
    assert set(solid.contacts) == {"floor", "ceiling", "left-wall"}


def test_pier_in_the_middle_of_the_back_is_engaged_with_the_back_wall() -> None:
    """A corner pier belongs to its side wall, one in the middle of the back to the back wall."""
    assert only(columns(at=[0.2, 11.9], engaged=True)).opens == "back-wall"
    corner = only(columns(at=[4.0, 12.0], engaged=True))
    assert corner.opens == "right-wall"
    assert "back-wall" in corner.contacts


@pytest.mark.parametrize(("section", "share"), [("round", math.pi / 4), ("square", 1.0), ("octagon", 2 / (1 + 2**0.5))])
def test_diameter_is_across_the_flats(section: str, share: float) -> None:
    """Areas over the square of the width: pi/4, 1, and 2 (sqrt 2 - 1) of the regular octagon."""
    level = only(columns(section=section)).levels[0]
    width = 600 / 24
    assert curves.signed_area(level.section) == pytest.approx(share * width**2, rel=1e-12)
    assert np.ptp(curves.bounds(level.section), axis=0) == pytest.approx([width, width], abs=1e-9)


def test_levels_rise_from_floor_to_ceiling_with_base_and_capital() -> None:
    """Base and capital are as high and as wide as asked, the shaft keeps the diameter."""
    solid = only(columns(base=0.4, capital=0.5, base_width=1.4, capital_width=1.2))
    heights = [level.at for level in solid.levels]
    widths = [float(np.ptp(curves.bounds(level.section)[:, 0])) for level in solid.levels]
    assert heights == sorted(heights)
    assert (heights[0], heights[-1]) == pytest.approx((3.0, 283.0), abs=1e-9)
    assert (widths[0], widths[-1]) == pytest.approx((35.0, 30.0), abs=1e-9)
    shaft = [h for h, w in zip(heights, widths, strict=True) if w == pytest.approx(25.0, abs=1e-9)]
    assert (shaft[0] - 3.0, 283.0 - shaft[-1]) == pytest.approx((400 / 24, 500 / 24), abs=1e-9)


def test_footprint_of_an_engaged_pier_is_an_exact_half_circle() -> None:
    """Clipped by the wall at its axis, the mark has half the circle's area and stays on the floor."""
    imagined = columns(at=[4.0, 4.0], engaged=True)
    floor = next(mark for mark in imagined.marks if mark.host == "floor")
    assert curves.signed_area(floor.curve) == pytest.approx(math.pi / 8 * 25.0**2, rel=1e-9)
    assert curves.bounds(floor.curve)[1, 0] == pytest.approx(340.0, abs=1e-9)
    assert sum(not curve.straight for curve in floor.curve) == 2
    wall = next(mark for mark in imagined.marks if mark.host == "right-wall")
    assert curves.signed_area(wall.curve) == pytest.approx(25.0 * 280.0, rel=1e-9)


def test_footprint_at_the_end_of_the_hall_is_a_quarter() -> None:
    """An engaged pier at y = 0 is cut by the opening too."""
    imagined = columns(at=[4.0, 0.0], engaged=True)
    assert curves.signed_area(imagined.marks[0].curve) == pytest.approx(math.pi / 16 * 25.0**2, rel=1e-9)


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"at": [5.0, 3.0]}, ("at",), "x between -4.08 and 4.08"),
        ({"at": [[1.0, 3.0], [1.0, 13.0]]}, ("at", 1), "y between 0 and 12"),
        ({"at": [1.0, -0.5]}, ("at",), "y between 0 and 12"),
        ({"diameter": 9.0}, ("diameter",), "less than 8.16"),
        ({"base": 5.0, "capital": 2.0}, ("base",), "at most the hall's height, 6.72"),
    ],
)
def test_impossible_columns_say_how_much_room_there_is(
    keys: dict[str, Any], key: tuple[str | int, ...], words: str
) -> None:
    """A problem names its key and what is allowed; nothing else is said."""
    imagined = columns(**keys)
    assert imagined.solids == ()
    (problem,) = imagined.problems
    assert problem.path == ("columns", 0, *key)
    assert words in problem.allowed


def test_column_across_the_aprons_end_is_refused() -> None:
    """Solids lie wholly behind or wholly before the apron's end; touching it is allowed."""
    hall = Hall(scale=24, width=340, height=280, depth=500, floor=3, apron=50, front=0)
    (problem,) = columns(hall, at=[1.0, 1.2]).problems
    assert "apron" in problem.found
    assert columns(hall, at=[1.0, 1.5], diameter=0.6).problems == ()
    assert columns(hall, at=[1.0, 0.9], diameter=0.6).problems == ()
    assert HALL.apron == 0
