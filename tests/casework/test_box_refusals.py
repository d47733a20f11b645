"""Boxes that cannot be made are refused with what would fit."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import pytest

from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene

from ..scene_text import PLAIN, changed
from .boxes import BOXED

HAND = changed(PLAIN, "back_gap = 4\n", "back_gap = 4\n\n[box.make]\nboard = 6\nlid = 24\nsaw = 1.2\n")


def refusal(text: str) -> str:
    with pytest.raises(SceneFileError) as caught:
        read_scene(text)
    return "\n".join(caught.value.describe("a.toml"))


def made(text: str, *lines: str) -> str:
    return changed(text, "lid = 24\n", "lid = 24\n" + "\n".join(lines) + "\n")


REFUSED = [
    (changed(HAND, "lid = 24", "lid = 5"), "a.toml:12:1: box.make.lid: a lid 5 mm high is no thicker than its board of 6 mm, and has no sides; allowed: above 6 mm. Make it higher: 12 mm leaves 6 mm of room in it."),
    (changed(HAND, "lid = 24", 'lid = "6 mm"'), "no thicker than its board of 6 mm"),
    (changed(HAND, "lid = 24", "lid = 1e6"), "a.toml:12:1: box.make.lid: 1000000.0 is not a believable length here; allowed: up to 2000 mm."),
    (changed(HAND, "lid = 24", "lid = -5"), "a.toml:12:1: box.make.lid: -5 is not a length above zero."),
    (made(HAND, 'joint = "finger"', "finger = 0"), "a.toml:14:1: box.make.finger: 0 is not a length of 1 mm or more. Take one to two boards' thickness, or leave finger out: then it is two, or what the lid has room for."),
    (made(HAND, "end_board = 24"), "a lid 24 mm high is no thicker than its board of 24 mm"),
    (made(HAND, 'joint = "finger"', "finger = 12"), "box.make.finger: fingers of 12 mm are wider than half the sides of the lid, which are 18 mm deep; allowed: at most 9 mm, so that two of them lock. Make them narrower, or the lid higher."),
    (made(HAND, 'joint = "rebate"', "rebate = 6"), "box.make.rebate: 6 mm goes through a board of 6 mm; allowed: below 6 mm. Make it shallower; 3 mm is usual."),
    (made(HAND, 'joint = "rebate"', "rebate = 0"), "box.make.rebate: 0 is not a length above zero"),
    (made(HAND, 'ends = "let in"', "let_in = 7"), "box.make.let_in: 7 mm goes through a board of 6 mm"),
    (changed(HAND, "saw = 1.2", "saw = 0"), "a.toml:13:1: box.make.saw: 0 is not a length above zero. Saw a scrap and measure the slot: a fine hand saw takes about 0.5 mm, a band saw 1, a circular saw 2 to 3."),
    (changed(HAND, "saw = 1.2", "saw = -1"), "-1 is not a length above zero. Saw a scrap"),
    (changed(HAND, "saw = 1.2", "saw = 12"), "12 is not a believable length here; allowed: up to 10 mm."),
    (changed(HAND, "saw = 1.2\n", ""), "box.make.saw: missing"),
    (changed(HAND, "board = 6", "board = 0"), "box.make.board: 0 is not a length above zero"),
    (made(HAND, 'joint = "dovetail"'), 'box.make.joint: "dovetail" is none of the choices; allowed: "butt", "mitre", "rebate" or "finger".'),
    (made(HAND, "finger = 8"), 'box.make.finger: finger is of joint = "finger", and the corners are "mitre"; allowed: joint = "finger" beside it. Take finger out, or change the joint.'),
    (made(HAND, "rebate = 3"), 'rebate is of joint = "rebate", and the corners are "mitre"'),
    (made(HAND, "let_in = 3"), "box.make.let_in: back and lid are laid on, and reach into nothing"),
    (made(HAND, "screws = 18"), "box.make.screws: screws 18 mm from the edge miss the lid's sides, which are 18 mm deep; allowed: below 18 mm; 6 mm is safe."),
    (made(HAND, 'material = "oak"'), 'box.make.material: there is no material "oak"; allowed: "foam".'),
    (made(HAND, 'material = "foam"'), 'box.make.material: "foam" is 3 mm thick, and board is 6 mm; allowed: board = 3, or a sheet of 6 mm. Measure the sheet, and write what it is in both places.'),
    (made(HAND, 'end_material = "foam"'), '"foam" is 3 mm thick, and end_board is 6 mm'),
    (changed(PLAIN, "back_gap = 4\n", 'back_gap = 4\npart = "lid"\n'), "box.part: the lid's depth is what the saw leaves of it, and nothing tells how the box is made; allowed: a lid of a box with a table [box.make]."),
    (made(changed(HAND, "depth = 85", "depth = 5000"), 'joint = "finger"', "finger = 1"), "fingers of 1 mm make 5000 of them along sides 5000 mm deep; allowed: at most 200: 25 mm or wider."),
    (BOXED + '[[columns]]\nname = "box lid"\nat = [1.0, 4.0]\ndiameter = 0.6\n', "gives the id box-lid, which is that of the board box-lid"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), REFUSED)
def test_what_cannot_be_made_is_refused_in_words(text: str, expected: str) -> None:
    """Each message says what was found and what would fit; a lid of 24 mm leaves 24 - 6 = 18 mm of sides."""
    assert expected in refusal(text)


def test_everything_wrong_with_a_box_is_told_at_once() -> None:
    """One message for each key, in the order of the file."""
    text = made(changed(HAND, "saw = 1.2", "saw = 0"), "rebate = 3", "depth = 4")
    assert [line.split(":")[3].strip() for line in refusal(text).splitlines()] == ["box.make.depth", "box.make.saw"]
    text = made(changed(HAND, "lid = 24", "lid = 24"), "rebate = 9", "let_in = 3", 'material = "foam"')
    keys = [line.split(":")[3].strip() for line in refusal(text).splitlines()]
    assert keys == ["box.make.rebate", "box.make.rebate", "box.make.let_in", "box.make.material"]


def test_what_the_refusals_offer_is_taken() -> None:
    """The lid of 12 mm, the fingers of 9, the rebate of 3 and the screws of 6 that they name can be made."""
    for text in (
        changed(HAND, "lid = 24", "lid = 12"),
        made(HAND, 'joint = "finger"', "finger = 9"),
        made(HAND, 'joint = "rebate"', "rebate = 3"),
        made(HAND, "screws = 6"),
        made(HAND, "end_board = 3", 'end_material = "foam"'),
    ):
        assert read_scene(text).box.make is not None
