"""Units to be made by hand against counts on paper, and what is laid against other ways to its volume."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import shapely

from pipeline.keeping.kept import NOTHING_KEPT
from pipeline.stages.covering import lay_face_units
from pipeline.stages.hand_work import HandWork, hand_work, sizes_of

from .rooms import GROIN, TRUE, shaped

WALL = TRUE.replace("[left]\n", '[left]\ncover = "work"\n')
"""The left wall is 3 m long and 4 m high."""
BRICK = '[covers.work]\npattern = "{}"\nlength = 0.59\nwidth = 0.29\nheight = 0.19\njoint = 0.01\n'
"""Five stretchers or ten headers to a course, twenty courses."""


def by_hand(text: str, *settings: tuple[str, str]) -> dict[str, HandWork]:
    evidence = shaped(text, *settings)
    works = hand_work(evidence.scene, evidence.room, evidence.panels, evidence.bents, NOTHING_KEPT)
    return {work.part: work for work in works}


COUNTS = [
    # ten even courses and ten odd ones, each counted on paper from the left end of the wall
    ("stack", 20 * 5, 0),  # no lap: whole everywhere
    ("running", 10 * 5 + 10 * 4, 10 * 2),  # odd: a half, four whole, a half
    ("header", 10 * 10 + 10 * 9, 10 * 2),  # odd: a half header at either end
    ("english", 10 * 9 + 10 * 5, 10 * 2),  # even: header, closer, eight headers, half a header; odd: five stretchers
    ("flemish", 10 * 6 + 10 * 6, 10 * 1 + 10 * 2),  # even: S H S H S H and half a stretcher; odd: H c S H S H S, c
]


@pytest.mark.parametrize(("pattern", "whole", "cut"), COUNTS, ids=[count[0] for count in COUNTS])
def test_units_of_a_wall_are_those_counted_on_paper(pattern: str, whole: int, cut: int) -> None:
    """3 m of five bricks of 0.59 with joints of 0.01, twenty courses of 0.19: the bonds as the trade has them."""
    work = by_hand(WALL + BRICK.format(pattern))["left-wall"]
    assert (work.whole, work.cut) == (whole, cut)


def test_a_hole_takes_units_out_and_cuts_its_neighbours() -> None:
    """Stack bond: a door from 0.9 to 2.1 m, 1.0 m high, takes one and two halves from five of twenty courses."""
    door = '[[openings]]\nname = "door"\nwall = "left"\nat = 1.5\nwidth = 1.2\nheight = 1.0\nhead = "flat"\n'
    work = by_hand(WALL + BRICK.format("stack") + door)["left-wall"]
    # Bricks run 0-0.59, 0.6-1.19, 1.2-1.79, 1.8-2.39, 2.4-2.99: in the five courses the third goes, the second and the
    # fourth are cut, the first and the last stay. The fifth course's top is at 0.99, below the head.
    assert (work.whole, work.cut) == (15 * 5 + 5 * 2, 5 * 2)


def test_putty_is_the_units_less_the_joints_times_the_finish() -> None:
    """Running bond, 90 whole units and 20 halves of a coat of 0.5 mm, 400 mm2 to the square metre at 1:50."""
    work = by_hand(WALL + BRICK.format("running"), ("left.finish", "0.5"), ("front.build", "false"))["left-wall"]
    # the half at the far end of an odd course ends with the wall: from 2.7 m on it is 0.3 long
    metres = 90 * 0.59 * 0.19 + 10 * 0.29 * 0.19 + 10 * 0.30 * 0.19
    assert work.units_area == pytest.approx(metres * 400, rel=1e-6)
    assert work.units == pytest.approx(metres * 400 * 0.5, rel=1e-6)
    assert work.coat == 0.0


def test_units_in_relief_are_the_hulls_of_their_carried_corners() -> None:
    """Laid up 0.06 m on a wall of a room 9 m deep in 60 mm: every unit a body with flat faces, as manifold3d has it."""
    deep = ("space.depth", "9.0"), ("covers.work.relief", "0.06"), ("covers.work.relief_as", "guides")
    text = WALL + BRICK.format("stack")
    work, evidence = by_hand(text, *deep)["left-wall"], shaped(text, *deep)
    [panel] = [panel for panel in evidence.panels if panel.id == "left-wall"]
    units = lay_face_units(panel.face, evidence.scene.covers["work"], 50, evidence.room.hall.foot)
    volume = 0.0
    for unit in units:
        feet = np.column_stack([unit, np.ones(4)]) @ panel.face.imagined_from_host[:3].T
        corners = evidence.room.relief.build_points(np.vstack([feet, feet + 0.06 * 20 * panel.face.inward]))
        volume += manifold3d.Manifold.hull_points(corners).volume()
    assert work.units == pytest.approx(volume, rel=1e-9)
    assert (work.whole, work.cut) == (15 * 20, 0)


def test_an_apron_parts_units_for_their_area_but_not_for_their_number() -> None:
    """The fold lies at 20 mm, in the second brick; built true, both leaves together hold what one did."""
    folded = by_hand(WALL + BRICK.format("stack"), ("space.depth", "9.0"), ("space.apron", "20"))["left-wall"]
    assert (folded.whole, folded.cut) == (15 * 20, 0)
    true = by_hand(WALL + BRICK.format("stack"))["left-wall"]
    assert true.units_area == pytest.approx(100 * 0.59 * 0.19 * 400, rel=1e-6)
    assert 0.5 * true.units_area < folded.units_area < true.units_area


def test_faces_that_are_printed_are_no_work_for_hands() -> None:
    """A cover in relief is made by the printer."""
    assert "left-wall" not in by_hand(WALL + BRICK.format("stack"), ("covers.work.relief", "0.06"))


def test_whole_sizes_are_those_of_the_bond() -> None:
    """Headers and stretchers in English and Flemish bond, one size elsewhere; 1:50 makes 0.59 m 11.8 mm."""
    evidence = shaped(WALL + BRICK.format("english"))
    sizes = sizes_of(evidence.scene.covers["work"], 50)
    assert [size for pair in sizes for size in pair] == pytest.approx([11.8, 3.8, 5.8, 3.8])


def test_units_of_a_vault_fill_its_cells() -> None:
    """Stack bond without visible joints: the units of a bent cell are its area, whatever the relief makes of it."""
    text = (
        TRUE.replace('[ceiling]\nmaterial = "board"\n', "")
        .replace("depth = 3.0", "depth = 9.0")
        .replace('edges = "square"', 'edges = "bevel"')  # square webs are cut back from their groins, by a hundredth
        + '[vault]\nform = "groin"\nspringing = 1.5\nrise = 2.4\nmaterial = "paper"\ncover = "work"\n'
        "[materials.paper]\nthickness = 0.2\nmin_bend = 0.01\n[front]\nbuild = false\n"
        '[covers.work]\npattern = "stack"\nlength = 0.3\nheight = 0.2\njoint = 0.0\n'
    )
    evidence = shaped(text)
    works = by_hand(text)
    for bent in evidence.bents:
        assert works[bent.id].units_area == pytest.approx(bent.area, rel=4e-3)


def test_units_under_a_round_head_are_those_counted_brick_by_brick() -> None:
    """The back wall under the groin: 5 m wide, upright to 1.5 m, then half a circle; 0.59 m bricks, half a lap.

    Counted here with rectangles against that outline; less than a fiftieth of a brick is mortar.
    """
    text = GROIN.replace("[back]\n", '[back]\ncover = "work"\n') + BRICK.format("running")
    turns = np.linspace(0.0, np.pi, 2001)
    head = np.column_stack([2.5 + 2.5 * np.cos(turns), 1.5 + 2.5 * np.sin(turns)])
    wall = shapely.Polygon(np.vstack([[[0.0, 0.0], [5.0, 0.0]], head]))
    whole = cut = 0
    for course in range(20):
        for place in range(10):
            left, foot = 0.6 * place - 0.3 * (course % 2), 0.2 * course
            brick = shapely.box(left, foot, left + 0.59, foot + 0.19)
            pieces = shapely.get_parts(brick & wall)
            held = shapely.area(pieces) / brick.area
            whole += int((held > 1 - 1e-6).sum())
            cut += int(((held > 0.02) & (held <= 1 - 1e-6)).sum())
    work = by_hand(text)["back-wall"]
    assert (work.whole, work.cut) == (whole, cut)
