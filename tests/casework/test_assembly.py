"""The boards as written make the box: no overlap, no gap, the stated inside, and a saw that leaves what was planned."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from pipeline.scene.box import Box

from .boxes import ENDS, JOINTS, assembled, block, box_of, boxes, overlap, planned, union

FILM = 1e-5
"""mm over all faces: six decimals in the files, and single roundings of the matrices."""


def blocks(box: Box) -> tuple[Manifold, Manifold, Manifold, Manifold]:
    """Return outside, inside, the box's inside and the lid's, in the frame of the half "box", from the scene's keys."""
    make = box.make
    assert make is not None
    end = make.board if make.end_board is None else make.end_board
    wide, high, deep, lid = box.width / 2, box.height, box.depth, make.lid - end
    outside = block(
        (-wide - make.board, -make.saw - make.lid, -make.board), (wide + make.board, deep + end, high + make.board)
    )
    inside = block((-wide, -make.saw - lid, 0), (wide, deep, high))
    return (
        outside,
        inside,
        block((-wide, 0, 0), (wide, deep, high)),
        block((-wide, -make.saw - lid, 0), (wide, -make.saw, high)),
    )


def in_shell(box: Box, body: Manifold) -> Manifold:
    """Return a body of the scene's own half in the frame of the half "box"; half a turn, so it is its own inverse."""
    make = box.make
    assert make is not None
    if box.part == "box":
        return body
    if make.hinge in ("left", "right"):
        turn = [[-1, 0, 0, 0], [0, -1, 0, -make.saw], [0, 0, 1, 0]]
    else:
        turn = [[1, 0, 0, 0], [0, -1, 0, -make.saw], [0, 0, -1, box.height]]
    return body.transform(turn)


@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.parametrize("ends", ENDS)
@given(data=st.data())
@settings(max_examples=6)
def test_the_boards_fill_the_outside_less_the_inside(joint: str, ends: str, data: st.DataObject) -> None:
    """No two boards share volume; their union has the volume of their sum; and it is the outside of the box less the
    stated inside, so no corner gapes and no finger is short. After the slab of the saw's kerf is taken out, either half
    has the planned inside, and moved together by the kerf they meet on the line with nothing lost but the slab."""
    box = data.draw(boxes(joint, ends))
    make = box.make
    assert make is not None
    bodies = {name: in_shell(box, one) for name, one in assembled(planned(box)).items()}
    outside, inside, in_box, in_lid = blocks(box)
    whole = union(list(bodies.values()))
    tolerance = FILM * sum(one.surface_area() for one in bodies.values())
    assert overlap(bodies) <= tolerance
    assert whole.volume() == pytest.approx(sum(one.volume() for one in bodies.values()), abs=tolerance)
    wanted = outside - inside
    assert (wanted - whole).volume() <= tolerance
    assert (whole - wanted).volume() <= tolerance

    front, back = whole.trim_by_plane((0, -1, 0), make.saw), whole.trim_by_plane((0, 1, 0), 0.0)
    lid_low, box_low = np.array(front.bounding_box()), np.array(back.bounding_box())
    end = make.board if make.end_board is None else make.end_board
    assert lid_low[4] - lid_low[1] == pytest.approx(make.lid, abs=1e-5)
    assert box_low[4] - box_low[1] == pytest.approx(box.depth + end, abs=1e-5)
    for half, room in ((back, in_box), (front, in_lid)):
        hull = block(tuple(half.bounding_box()[:3]), tuple(half.bounding_box()[3:]))
        assert (half ^ room).volume() <= tolerance
        assert half.volume() + room.volume() == pytest.approx(hull.volume(), abs=tolerance)
    closed = union([back, front.translate((0, make.saw, 0))])
    assert (back ^ front.translate((0, make.saw, 0))).volume() <= tolerance
    size = np.ptp(np.array(closed.bounding_box()).reshape(2, 3), axis=0)
    assert size == pytest.approx(
        (box.width + 2 * make.board, box.depth + make.lid + end, box.height + 2 * make.board), abs=1e-5
    )


@pytest.mark.parametrize(
    ("joint", "ends", "sides", "width", "end"),
    [
        ("butt", "laid on", (192, 150), 106.2, (192, 162)),
        ("mitre", "laid on", (192, 162), 106.2, (192, 162)),
        ("rebate", "laid on", (192, 156), 106.2, (192, 162)),
        ("finger", "laid on", (192, 162), 106.2, (192, 162)),
        ("butt", "let in", (192, 150), 114.2, (186, 156)),
        ("rebate", "let in", (192, 156), 114.2, (186, 156)),
    ],
)
def test_the_cut_list_is_that_worked_out_by_hand(
    joint: str, ends: str, sides: tuple[float, float], width: float, end: tuple[float, float]
) -> None:
    """180 x 150 x 85 mm inside, boards of 6, ends of 4, a lid of 24 sawn off with 1.2: the sides are 85 + 1.2 + 24 - 4
    mm wide, and two ends more where those are let in; butt, rebate and mitre as every joiner's book has them."""
    sizes = {board.id: board.size for board in planned(box_of(joint=joint, ends=ends)).boards}
    assert sizes["box-bottom"] == sizes["box-top"] == pytest.approx((sides[0], width))
    assert sizes["box-left"] == sizes["box-right"] == pytest.approx((sides[1], width))
    assert sizes["box-back"] == sizes["box-lid"] == pytest.approx(end)


def test_a_high_box_has_its_ends_grain_upright() -> None:
    """The grain of back and lid runs along the longer way, and x of a drawing is the grain."""
    casework = planned(box_of(size=(80.0, 200.0, 50.0)))
    for board in casework.boards[-2:]:
        assert board.size == pytest.approx((212.0, 92.0))
        assert np.abs(board.built_from_flat[:3, 0]) == pytest.approx([0, 0, 1])


def test_boards_let_in_without_a_rebate_stand_between_the_sides() -> None:
    """let_in = 0: they are as large as the inside."""
    casework = planned(box_of(ends="let in", let_in=0.0))
    assert casework.boards[-1].size == pytest.approx((180.0, 150.0))
    assert [board.rebates for board in casework.boards] == [()] * 6
