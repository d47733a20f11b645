"""Hand measures against distances in the built box."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
import shapely

from pipeline.build import make
from pipeline.geometry.curves import evaluate
from pipeline.parts.model import Panel
from pipeline.sheets.measures import HEADINGS, corners_of, measure_panel, measures_csv

from ..scene_text import COVERED, DOOR, PLAIN


def panel(text: str, name: str) -> Panel:
    return next(panel for panel in make(text.encode()).panels if panel.id == name)


def test_edges_and_diagonals_are_distances_of_built_corners() -> None:
    """The four corners of the left wall by the ray law: E + (P - E) s at the back, themselves at the opening."""
    scale, eye = (420 + 77.5) / (420 + 250), np.array([0, -420, 78.0])
    front = [np.array([-86.5, 0, z]) for z in (3.0, 146.5)]
    back = [eye + (np.array([-86.5, 250, z]) - eye) * scale for z in (3.0, 146.5)]
    found = {one.what: one.value for one in measure_panel(panel(PLAIN, "left-wall"))}
    assert found["edge 1-2"] == pytest.approx(np.linalg.norm(back[0] - front[0]))
    assert found["edge 2-3"] == pytest.approx(np.linalg.norm(back[1] - back[0]))
    assert found["edge 3-4"] == pytest.approx(np.linalg.norm(back[1] - front[1]))
    assert found["edge 4-1"] == pytest.approx(143.5)
    assert found["diagonal 1-3"] == pytest.approx(np.linalg.norm(back[1] - front[0]))
    assert found["diagonal 2-4"] == pytest.approx(np.linalg.norm(front[1] - back[0]))
    assert found["rise 1-2"] == pytest.approx(back[0][2] - front[0][2])


WINDOW = """
[[openings]]
name = "window"
wall = "right"
at = 3.0
width = 1.0
sill = 2.0
height = 1.8
head = "flat"
"""


def test_every_corner_of_doors_and_windows_is_found_with_compasses() -> None:
    """Two arcs from the base's corners meet at each corner and curve: 2 n - 3 lengths fix n points.

    Where they meet is reckoned by the law of cosines, on the base's left, where the sheet is.
    """
    wall = panel(PLAIN + DOOR + WINDOW, "right-wall")
    places = [one for one in measure_panel(wall) if one.what.startswith(("corner", "curve"))]
    outline = corners_of(wall.cut.outline)
    (pair,) = {one.edges for one in places}
    first, second = (outline[int(name) - 1] for name in pair.split(" and "))
    size = math.dist(first, second)
    along, up = (second - first) / size, np.array([first[1] - second[1], second[0] - first[0]]) / size
    found = {}
    for one in places:
        assert one.other is not None
        share = (one.value**2 + size**2 - one.other**2) / (2 * size)
        found[one.what] = first + share * along + math.sqrt(max(0.0, one.value**2 - share**2)) * up
    (window,) = wall.cut.holes
    expected = {f"corner {number}": at for number, at in enumerate(outline, start=1) if str(number) not in pair.split()}
    expected |= {f"corner a{number}": at for number, at in enumerate(corners_of(window), start=1)}
    arcs = [edge.curve for edge in wall.cut.outline if not edge.curve.straight]
    assert len(places) == len(expected) + len(arcs)
    for name, at in expected.items():
        assert found[name] == pytest.approx(at, abs=1e-6)
    for name in found.keys() - expected.keys():
        assert (
            min(np.linalg.norm(evaluate(arc, np.linspace(0, 1, 4001)) - found[name], axis=1).min() for arc in arcs)
            < 0.02
        )
    assert [one for one in measure_panel(panel(PLAIN, "right-wall")) if "corner" in one.what] == []


def test_runs_are_where_the_courses_meet_the_edges() -> None:
    """Bed joint n of the left wall leaves the opening at n g - j/2 above the floor (1:48), whatever the relief."""
    wall = panel(COVERED, "left-wall")
    runs = [one for one in measure_panel(wall) if one.what == "run" and one.edges == "2-3 to 4-1"]
    expected = np.array([n * 75 / 48 - 5 / 48 for n in range(1, 92)])
    heights = sorted(143.5 - (one.other or 0.0) for one in runs)
    assert np.array(heights) == pytest.approx(expected[: len(heights)], abs=1e-6)
    assert len(heights) >= 90


@pytest.mark.parametrize("more", ["", '\n[make]\nedges = "square"\njoint = "butt"\n'], ids=["bevel", "butt"])
@pytest.mark.parametrize("name", ["left-wall", "right-wall", "back-wall", "floor"])
def test_every_guide_lies_on_a_run(name: str, more: str) -> None:
    """A rule laid from mark to mark, each its distance from its corner toward the next, passes along every guide.

    The mark is sought as a person would: the point of the edge so far from the corner.
    """
    found = panel(COVERED + DOOR + more, name)
    sides = [edge.curve for edge in found.cut.outline]
    lowest = int(np.argmin([np.round(side.start.sum(), 6) for side in sides]))
    sides = sides[lowest:] + sides[:lowest]
    rules = []
    for one in measure_panel(found):
        if one.what != "run" or one.other is None:
            continue
        ends = []
        for side, along in zip(one.edges.split(" to "), (one.value, one.other), strict=True):
            curve = sides[int(side.split("-")[0]) - 1]
            points = evaluate(curve, np.linspace(0, 1, 4001))
            ends.append(points[np.argmin(np.abs(np.linalg.norm(points - points[0], axis=1) - along))])
        rules.append(ends)
    lines = shapely.linestrings(np.array(rules))
    ends_of_guides = shapely.points(found.guides)
    nearest = np.full(len(found.guides), np.inf)
    for line in lines:
        nearest = np.minimum(nearest, shapely.distance(ends_of_guides, line).max(axis=1))
    assert nearest.max() < 0.03
    assert len(rules) < len(found.guides)


def test_a_finer_rule_is_rounded_to_less() -> None:
    """make.ruler = 0.25: every rounded length is a multiple, and half of it is the most that is lost."""
    made = make((COVERED + "\n[make]\nruler = 0.25\n").encode())
    rows = list(csv.reader(io.StringIO(made.files["measures.csv"].decode())))
    for row in rows[1:]:
        assert float(row[4]) * 4 == pytest.approx(round(float(row[4]) * 4))
        assert abs(float(row[3]) - float(row[4])) <= 0.1251 + 0.005


def test_rounding_is_told_for_the_eye() -> None:
    """At most a quarter of a millimetre is lost: at 420 mm that is 2.05 arc minutes."""
    panels = make(COVERED.encode()).panels
    rows = list(csv.reader(io.StringIO(measures_csv(panels, 420.0).decode())))
    assert rows[0] == list(HEADINGS)
    worst = math.degrees(0.25 / 420) * 60
    for row in rows[1:]:
        exact, shown = float(row[3]), float(row[4])
        assert shown == pytest.approx(round(shown * 2) / 2)
        assert abs(exact - shown) <= 0.2551
        assert float(row[7]) <= worst + 0.06
    assert {row[0] for row in rows[1:]} == {panel.id for panel in panels}
