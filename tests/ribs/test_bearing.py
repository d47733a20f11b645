"""What springers stand on is wide enough."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pipeline.elements import column
from pipeline.elements.model import Imagined, gather
from pipeline.room.bearing import find_slight_capitals
from tests.ribs.samples import HALL, imagined

SPRINGING = replace(HALL, height=3.2 * 1000 / 48)
"""With a vault the walls, and so the columns, end at its springing."""


def _room(diameter: float, capital_width: float) -> Imagined:
    half = SPRINGING.metres(SPRINGING.width / 2)
    keys = {"name": "pier", "at": [[-half, 4.0], [half, 4.0]], "engaged": True, "base": 0.3, "capital": 0.4}
    table = column.ColumnTable.model_validate({**keys, "diameter": diameter, "capital_width": capital_width})
    return gather([imagined(), column.imagine(table, SPRINGING, ("columns", 0))])


@pytest.mark.parametrize(("diameter", "capital_width"), [(0.4, 1.0), (0.4, 1.2), (0.5, 1.11)])
def test_a_capital_that_projects_less_than_the_ribs_is_refused(diameter: float, capital_width: float) -> None:
    """A rib d deep springs d from the pier along its track; a diagonal's end, square to a track that makes the angle
    g with the arch's, meets the bay line d / cos g from the wall, which is as far as the springer reaches."""
    needed = 0.25 * math.hypot(HALL.width, HALL.depth / 3) / HALL.width
    (problem,) = find_slight_capitals(_room(diameter, capital_width), SPRINGING)
    assert problem.path == ("columns", 0, "diameter")
    assert f"reaches {diameter * capital_width / 2:.4g} m" in problem.found
    assert problem.allowed == f"at least {needed:.4g} m"


@pytest.mark.parametrize(("diameter", "capital_width"), [(0.5, 1.12), (0.4, 1.4), (0.6, 1.3)])
def test_a_capital_that_projects_as_far_as_the_ribs_carries_them(diameter: float, capital_width: float) -> None:
    assert find_slight_capitals(_room(diameter, capital_width), SPRINGING) == []


def test_a_column_between_the_springers_carries_none() -> None:
    keys = {"name": "pier", "at": [[-1.0, 6.0]], "diameter": 0.2}
    said = gather([imagined(), column.imagine(column.ColumnTable.model_validate(keys), SPRINGING, ("columns", 0))])
    assert find_slight_capitals(said, SPRINGING) == []


def test_an_arch_from_wall_to_wall_is_carried_by_the_column_under_each_of_its_feet() -> None:
    """Ribs of a barrel vault have two feet, each 0.25 m deep; the other one, a hall's width away, is another's."""
    half = SPRINGING.metres(SPRINGING.width / 2)
    keys = {"name": "pier", "at": [[-half, 4.0], [half, 4.0]], "engaged": True, "base": 0.3, "capital": 0.4}
    for diameter, slight in ((0.5, 0), (0.3, 1)):
        piers = column.ColumnTable.model_validate({**keys, "diameter": diameter, "capital_width": 1.1})
        said = gather([imagined(form="barrel"), column.imagine(piers, SPRINGING, ("columns", 0))])
        problems = find_slight_capitals(said, SPRINGING)
        assert len(problems) == slight
        assert all(problem.allowed == "at least 0.25 m" for problem in problems)
