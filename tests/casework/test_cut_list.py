"""The cut list in words."""

# ruff: noqa: E501 - each line of the list stands whole, as it is printed

from __future__ import annotations

import pytest

from pipeline.casework.cut_list import end_words, rebate_words

from .boxes import box_of, planned


@pytest.mark.parametrize(
    ("joint", "board", "ends", "rebates"),
    [
        # Top and bottom run on past the corner: 6 mm there, less the 3 mm that the back reaches into the sides.
        ("butt", "bottom", "square, over the other sides", ["for the back and lid boards 4.00 wide, 3.00 deep, stopped 3.00 mm short of the ends"]),
        ("butt", "left", "square, between top and bottom", ["for the back and lid boards 4.00 wide, 3.00 deep"]),
        ("rebate", "top", "square, rebated to take the other sides", [
            "at both ends 6.00 wide, 3.00 deep",
            "for the back and lid boards 4.00 wide, 3.00 deep, stopped 3.00 mm short of the ends",
        ]),
        ("rebate", "right", "square, into the rebates", ["for the back and lid boards 4.00 wide, 3.00 deep"]),
        # A mitre opens the rebate at its end: at half the thickness it is half a thickness in.
        ("mitre", "left", "mitred 45 deg; length is the long point's, outside", ["for the back and lid boards 4.00 wide, 3.00 deep"]),
        ("mitre", "back", "square, let in", []),
    ],
)  # fmt: skip
def test_ends_and_rebates_are_told_as_they_are_cut(joint: str, board: str, ends: str, rebates: list[str]) -> None:
    """Boards of 6 mm, ends of 4 let in by 3."""
    casework = planned(box_of(joint=joint, ends="let in"))
    (one,) = [each for each in casework.boards if each.id == f"box-{board}"]
    assert end_words(casework.shell, one) == ends
    assert rebate_words(one) == rebates


def test_a_finger_that_only_touches_a_rebate_does_not_stop_it() -> None:
    """Sides 84 + 6 mm deep behind the saw, fingers of 6: the last is as wide as the back board is thick. It is a notch
    of one pair of sides, whose rebate runs out there, although the next finger begins where the rebate ends."""
    casework = planned(box_of(size=(180.0, 150.0, 84.0), joint="finger", finger=6.0, ends="let in", end_board=6.0))
    told = {board.id: rebate_words(board) for board in casework.boards}
    assert told["box-bottom"][0] != told["box-left"][0]
    assert sorted("stopped" in told[name][0] for name in ("box-bottom", "box-left")) == [False, True]
