"""Bonds against the trade's published figures and laws, read off the guides; scale 1:1, so imagined mm are mm."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.elements.covers import PATTERNS, CoverTable, lay_cover
from pipeline.elements.covers.table import Pattern
from pipeline.elements.surfaces import Family
from tests.covers import wall


def lay(u: float, v: float, *, level: bool = False, **table: Any) -> list[Family]:
    return lay_cover(CoverTable.model_validate(table), 1.0, u, v, level=level)


def test_four_courses_are_300_mm() -> None:
    """Coordinating height 75 (BS EN 771-1): the fourth bed's upper side is at 300."""
    assert wall.beds(lay(1000, 400))[3] + 10 / 2 == pytest.approx(300, abs=1e-9)


@pytest.mark.parametrize(
    ("bricks", "opening", "coordinating", "pier"),
    [
        (0.5, 122.5, 112.5, 102.5),
        (1, 235, 225, 215),
        (2.5, 572.5, 562.5, 552.5),
        (34, 7660, 7650, 7640),
        (70, 15760, 15750, 15740),
    ],
)
def test_runs_of_bricks_have_the_published_lengths(
    bricks: float, opening: float, coordinating: float, pier: float
) -> None:
    """CO+, CO and CO- of n bricks are 225 n + 10, 225 n and 225 n - 10 (MasonryFirst TIS 9, rows of its table)."""
    even, odd = wall.perpends(lay(16000, 200))[:2]
    course = even if bricks == int(bricks) else odd
    joint = course[int(np.ceil(bricks)) - 1]
    assert pier == pytest.approx(joint - 5, abs=1e-9)
    assert coordinating == pytest.approx(joint + 5, abs=1e-9)
    # A joint on either side: from the wall's start to the joint's far side, with the start's own joint before it.
    assert opening == pytest.approx((joint + 5) - (-10), abs=1e-9)


@pytest.mark.parametrize(("height", "courses"), [(71, 12), (52, 16), (113, 8)])
def test_german_formats_make_whole_courses_to_the_metre(height: float, courses: int) -> None:
    """NF 12, DF 16, 2DF 8 courses (DIN 4172, module 125): beds of 12 mm give way so that they fill 1000 mm."""
    beds = wall.beds(lay(500, 1000, length=0.240, height=height / 1000, width=0.115, joint=0.012, fit_gauge=True))
    gauge = 1000 / courses
    expected = gauge * np.arange(1, courses + 1) - (gauge - height) / 2
    wall.assert_equal(beds, expected)


@pytest.mark.parametrize(("joint", "courses", "rows"), [(12, 28, [(22, 77), (6, 76)]), (10, 29, [(25, 74), (4, 75)])])
def test_gauge_is_fitted_to_2150_mm(joint: float, courses: int, rows: list[tuple[int, float]]) -> None:
    """The published examples: 2150 mm are 22 courses of 77 and 6 of 76, or 25 of 74 and 4 of 75 (28 or 29)."""
    assert sum(count * height for count, height in rows) == 2150
    assert sum(count for count, _ in rows) == courses
    mean = 2150 / courses
    beds = wall.beds(lay(500, 2150, joint=joint / 1000, fit_gauge=True))
    assert len(beds) == courses
    wall.assert_equal(np.diff(beds), mean)
    assert beds[0] == pytest.approx(65 + (mean - 65) / 2, abs=1e-9)


def test_three_modular_courses_are_eight_inches() -> None:
    """3 courses = 8 in although 3 (2 1/4 + 3/8) = 7 7/8 (BIA Technical Note 10B): the beds share out the rest."""
    sizes: dict[str, Any] = {"length": "7.625 in", "width": "3.625 in", "height": "2.25 in", "joint": "0.375 in"}
    beds = wall.beds(lay(500, 8 * 25.4, fit_gauge=True, **sizes))
    wall.assert_equal(np.diff(beds), 8 * 25.4 / 3)
    assert len(beds) == 3


@settings(deadline=None)
@given(height=st.floats(10, 5000), joint=st.floats(0, 20))
def test_fitted_courses_are_whole_and_never_overlap(height: float, joint: float) -> None:
    """Whole courses fill the height with a joint not below zero, unless the face is lower than one unit."""
    beds = wall.beds(lay(300, height, joint=joint / 1000, fit_gauge=True))
    courses = len(wall.perpends(lay(300, height, joint=joint / 1000, fit_gauge=True)))
    gauge = height / courses
    assert courses == 1 or gauge > 65
    # The last joint is nothing when the units fill the height by themselves.
    expected = (gauge * np.arange(1, courses + 1) - (gauge - 65) / 2)[: len(beds)]
    wall.assert_equal(beds, expected)
    assert courses - 1 <= len(beds) <= courses
    nearer = [
        n for n in (courses - 1, courses + 1) if n and abs(height / n - 65 - joint) < abs(gauge - 65 - joint) - 1e-9
    ]
    assert all(height / n <= 65 for n in nearer)


def test_the_last_course_is_cut_without_fitting() -> None:
    """Course n fills n g to n g + height: on 1000 mm the 14th starts at 975 and its perpends end at the top."""
    families = lay(1000, 1000)
    assert wall.beds(families)[-1] == pytest.approx(970, abs=1e-9)
    assert wall.all_lines(families)[:, :, 1].max() == 1000
    assert len(wall.perpends(families)) == 14


def test_no_perpend_stands_in_a_joint_under_the_ceiling() -> None:
    """On 300 mm the fourth bed lies just below the top; above its middle there is mortar and no unit."""
    families = lay(1000, 300)
    wall.assert_equal(wall.beds(families), [70, 145, 220, 295])
    assert len(wall.perpends(families)) == 4


@pytest.mark.parametrize(
    ("pattern", "courses"),
    [
        ("running", [[220, 445, 670, 895], [107.5, 332.5, 557.5, 782.5]]),
        ("stack", [[220, 445, 670, 895], [220, 445, 670, 895]]),
        ("third", [[220, 445, 670, 895], [70, 295, 520, 745, 970], [145, 370, 595, 820]]),
        (
            "header",
            [
                [107.5, 220, 332.5, 445, 557.5, 670, 782.5, 895],
                [51.25, 163.75, 276.25, 388.75, 501.25, 613.75, 726.25, 838.75, 951.25],
            ],
        ),
        (
            "english",
            [[107.5, 163.75, 276.25, 388.75, 501.25, 613.75, 726.25, 838.75, 951.25], [220, 445, 670, 895]],
        ),
        ("flemish", [[220, 332.5, 557.5, 670, 895], [107.5, 163.75, 388.75, 501.25, 726.25, 838.75]]),
    ],
)
def test_perpends_stand_where_a_bricklayer_sets_them_out(pattern: str, courses: list[list[float]]) -> None:
    """Set out by hand along one metre: bricks of 215 and 102.5, closers of 46.25, joints of 10, middles marked."""
    found = wall.perpends(lay(1000, 6 * 75 - 20, pattern=pattern))
    assert len(found) == 6
    for number, course in enumerate(found):
        wall.assert_equal(course, courses[number % len(courses)])


def test_set_out_from_the_units_english_and_flemish_courses_add_up() -> None:
    """The same places by adding units: each unit and its joint in turn, no formula."""
    header, stretcher, closer = 102.5, 215.0, 46.25
    rows = {
        "english": ([header, closer] + [header] * 8, [stretcher] * 5),
        "flemish": ([stretcher, header] * 4, [header, closer] + [stretcher, header] * 4),
    }
    for pattern, (even, odd) in rows.items():
        found = wall.perpends(lay(1000, 150, pattern=pattern))
        for units, course in zip((even, odd), found, strict=True):
            expected = np.cumsum(np.array(units) + 10) - 5
            wall.assert_equal(course, expected[expected < 1000])


@pytest.mark.parametrize(
    ("pattern", "lap"),
    [("running", 112.5), ("third", 75), ("header", 56.25), ("english", 56.25), ("flemish", 56.25)],
)
def test_no_perpend_stands_over_another_and_the_lap_is_the_bonds(pattern: str, lap: float) -> None:
    """Half, third, half a header, quarter, quarter of a stretcher: the least shift between neighbouring courses."""
    courses = wall.perpends(lay(5000, 900, pattern=pattern))
    for below, above in pairwise(courses):
        shifts = np.abs(np.subtract.outer(above, below)).min(axis=1)
        # The quoin's own perpends have a longer lap; none has a shorter.
        assert shifts.min() == pytest.approx(lap, abs=1e-9)


def test_stack_bond_has_no_lap() -> None:
    """Every perpend stands on the one below."""
    courses = wall.perpends(lay(5000, 900, pattern="stack"))
    assert all(course == courses[0] for course in courses)


def test_flemish_headers_stand_over_the_middle_of_stretchers() -> None:
    """In both kinds of course, the middle of a header is the middle of a stretcher below (and above)."""
    courses = wall.perpends(lay(5000, 900, pattern="flemish"))
    middles: list[dict[str, list[float]]] = []
    for course in courses:
        joints = np.array([-5.0, *course])
        sizes = np.diff(joints) - 10
        at = (joints[:-1] + joints[1:]) / 2
        middles.append({"header": list(at[np.isclose(sizes, 102.5)]), "stretcher": list(at[np.isclose(sizes, 215)])})
    for below, above in pairwise(middles):
        # The quoin header and what lies beyond the last perpend have no stretcher of their own.
        for header in (m for m in above["header"] if 200 < m < 4700):
            assert np.abs(np.array(below["stretcher"]) - header).min() < 1e-9


def test_queen_closers_are_headers_split_lengthways() -> None:
    """Half a brick split lengthways: (102.5 - 10) / 2, next to the quoin header."""
    for pattern, number in (("english", 0), ("flemish", 1)):
        first, second = wall.perpends(lay(2000, 300, pattern=pattern))[number][:2]
        assert first - 5 == pytest.approx(102.5, abs=1e-9)
        assert second - first - 10 == pytest.approx((102.5 - 10) / 2, abs=1e-9)


def test_planks_run_along_the_hall_unless_across() -> None:
    """On a floor v runs along the hall, on a wall u does; ``across`` turns the planks on either."""
    sizes = {"pattern": "planks", "length": 2.4, "width": 0.15, "joint": 0.004}
    for level, across in ((True, False), (True, True), (False, False), (False, True)):
        long_joints = lay(1000, 1000, level=level, across=across, **sizes)[0]
        way = long_joints.lines[0, 1] - long_joints.lines[0, 0]
        runs_in_v = level != across
        assert tuple(way) == ((0, 1000) if runs_in_v else (1000, 0))
        places = long_joints.lines[:, 0, 0 if runs_in_v else 1]
        wall.assert_equal(places, 154 * np.arange(1, 7) - 2)


def test_butt_joints_of_planks_step_by_thirds() -> None:
    """Planks of 900 with joints of 3 on a floor: butts at 903 m - 1.5, then a third and two thirds further."""
    families = lay(450, 2000, level=True, pattern="planks", length=0.897, width=0.147, joint=0.003)
    butts = [family for family in families if family.course is not None]
    expected = [[898.5, 1798.5], [298.5, 1198.5], [598.5, 1498.5]]
    for number, family in enumerate(butts):
        wall.assert_equal(sorted(family.lines[:, 0, 1]), expected[number])
        assert (family.lines[:, 0, 1] == family.lines[:, 1, 1]).all()


def test_flags_start_at_the_front_left_corner() -> None:
    """Rows 300 deep of flags 450 long with joints of 10: half a flag further on every second row."""
    families = lay(1500, 900, level=True, pattern="flags", length=0.45, width=0.30, joint=0.01)
    wall.assert_equal(wall.beds(families), [305, 615])
    wall.assert_equal(wall.perpends(families)[0], [455, 915, 1375])
    wall.assert_equal(wall.perpends(families)[1], [225, 685, 1145])


def sizes_of(pattern: Pattern) -> set[tuple[float, float]]:
    stretcher, header, closer = (75.0, 225.0), (75.0, 112.5), (56.25, 75.0)
    sizes: dict[str, set[tuple[float, float]]] = {
        "header": {header},
        "english": {stretcher, header, closer},
        "flemish": {stretcher, header, closer},
        "flags": {(112.5, 225.0)},
        "planks": {(112.5, 225.0)},
        "herringbone": {(112.5, 225.0)},
    }
    return sizes.get(pattern, {stretcher})


@pytest.mark.parametrize("pattern", PATTERNS)
def test_every_whole_cell_is_a_unit_and_its_joint(pattern: Pattern) -> None:
    """The guides divide the face into rectangles of unit plus joint and nothing else, away from its border."""
    cells = wall.cells(lay(2130, 1270, pattern=pattern), 2130, 1270)
    found = set()
    for cell in cells:
        short, long = wall.sides(cell)
        assert cell.area == pytest.approx(short * long, abs=cell.length * wall.GRID)
        found.add((round(short, 4), round(long, 4)))
    assert found == sizes_of(pattern)


@settings(deadline=None)
@given(length=st.floats(60, 400), width=st.floats(40, 150), joint=st.floats(0, 20))
def test_herringbone_units_are_congruent_whatever_their_ratio(length: float, width: float, joint: float) -> None:
    """The lattice (W, W), (L, -L) closes for any L and W: all whole cells are L x W, at 45 degrees."""
    sizes: dict[str, Any] = {"length": length / 1000, "width": width / 1000, "joint": joint / 1000}
    cells = wall.cells(lay(1500, 1200, pattern="herringbone", **sizes), 1500, 1200)
    expected = sorted((length + joint, width + joint))
    assert len(cells) >= 4
    for cell in cells:
        np.testing.assert_allclose(wall.sides(cell), expected, rtol=0, atol=1e-5)
        assert cell.area == pytest.approx(expected[0] * expected[1], abs=cell.length * wall.GRID)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_nothing_is_drawn_twice_or_beyond_the_face(pattern: Pattern) -> None:
    """The length of all guides is the length of their union, and the face's box holds them."""
    lines = wall.all_lines(lay(1830, 1270, pattern=pattern))
    drawn = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum()
    assert wall.union_length(lines) == pytest.approx(drawn, rel=1e-9)
    assert lines.min() >= 0
    assert lines[..., 0].max() <= 1830
    assert lines[..., 1].max() <= 1270


@pytest.mark.parametrize("pattern", sorted(set(PATTERNS) - {"herringbone"}))
def test_lines_lie_at_least_as_many_steps_apart_as_their_numbers(pattern: Pattern) -> None:
    """Thinning relies on it: two lines of a family are |difference of numbers| steps apart or more."""
    for family in lay(1830, 1270, pattern=pattern):
        places = family.lines[:, 0] @ family.step / np.linalg.norm(family.step) ** 2
        apart = np.abs(np.subtract.outer(places, places))
        assert (apart >= np.abs(np.subtract.outer(family.numbers, family.numbers)) - 1e-9).all()


def test_herringbone_joints_beside_one_another_lie_one_width_apart() -> None:
    """Parallel joints that overlap along their length: neighbours in number are W apart, none is nearer."""
    for family in lay(1830, 1270, pattern="herringbone"):
        ways = family.lines[0, 1] - family.lines[0, 0]
        unit = ways / np.linalg.norm(ways)
        places = family.lines[:, 0] @ [-unit[1], unit[0]]
        spans = np.sort(family.lines @ unit, axis=1)
        both = np.minimum.outer(spans[:, 1], spans[:, 1]) - np.maximum.outer(spans[:, 0], spans[:, 0]) > 1e-6
        apart = np.abs(np.subtract.outer(places, places))
        np.fill_diagonal(both, False)
        assert apart[both].min() == pytest.approx(112.5, abs=1e-9)
        next_door = both & (np.abs(np.subtract.outer(family.numbers, family.numbers)) == 1)
        wall.assert_equal(apart[next_door & (apart < 130)], 112.5)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_scale_divides_everything(pattern: Pattern) -> None:
    """Metres x 1000 / scale: at 1:48 on a face 48 times smaller the guides are the same, 48 times smaller."""
    full, small = (lay_cover(CoverTable(pattern=pattern), scale, 2000 / scale, 1000 / scale) for scale in (1.0, 48.0))
    for a, b in zip(full, small, strict=True):
        np.testing.assert_allclose(b.lines * 48, a.lines, rtol=0, atol=1e-8)


def test_a_face_smaller_than_a_unit_has_no_guides() -> None:
    """No joint, no line."""
    assert lay(100, 60) == []
