"""Scenes that cannot be built, through the public path: what is said, where, and what would fit."""

from __future__ import annotations

import pytest

from pipeline.build import build_scene
from tests.refused import refusals

from ..scene_text import COVERED, DOOR, PLAIN, changed

PIER = """
[[columns]]
name = "pier"
at = [-3.0, 4.0]
diameter = 0.5
"""

FLAT = changed(DOOR, 'head = "round"', 'head = "flat"')


def line_of(text: str, words: str) -> int:
    return text[: text.index(words)].count("\n") + 1


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        (changed(PLAIN, "height = 78", "height = 148"), "height = 148", "148 mm is above or below the hall"),
        (changed(PLAIN, "height = 78", "height = 78\nright = -87"), "right = -87", "-87 mm is beside the hall"),
        (changed(PLAIN, "depth = 12.0", "depth = 2.0"), "depth = 2.0", "at least 3.72 m"),
        (changed(PLAIN, "depth = 12.0", "back_scale = 0.0"), "back_scale = 0.0", "back_scale"),
        (changed(PLAIN, "depth = 12.0", "depth = 12.0\nwidth = 9.0"), "width = 9.0", "at most 8.304 m"),
        (changed(PLAIN, "depth = 12.0", "depth = 12.0\nheight = 7.0"), "height = 7.0", "at most 6.888 m"),
        (changed(PLAIN, "depth = 12.0", "depth = 12.0\nbuilt_depth = 80"), "built_depth = 80", "at most 77.5 mm"),
        (changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 78"), "depth = 85", "leave"),
        (PLAIN + changed(FLAT, "width = 1.6", "width = 13"), "width = 13", "wider than the right wall"),
        (PLAIN + changed(DOOR, "at = 6.0", "at = 0.5"), "at = 0.5", "between 0.8 and 11.2 m"),
        (PLAIN + changed(DOOR, "height = 3.0", "height = 7.0"), "height = 7.0", "at most 6.888 m"),
        (PLAIN + changed(DOOR, "height = 3.0", "height = 0.5"), "height = 0.5", "at least 0.8 m"),
        (PLAIN + changed(PIER, "-3.0", "-5.0"), "at = [-5.0", "x between -4.152 and 4.152 m"),
        (PLAIN + changed(PIER, "4.0", "14.0"), "at = [-3.0, 14.0", "12"),
        (COVERED.replace('pattern = "english"', 'pattern = "running"\nlength = 0.002\nheight = 0.001\njoint = 0.0001'),
         "[covers.brick]", "at most 400,000"),
        (changed(PLAIN, "depth = 12.0", "depth = 90000.0"), "depth = 90000.0", "a depth of 2.386e+04 m at 1:48"),
        # 173 x 144 rays 1 mm apart from 201 x 21 eyes 20 mm apart
        (changed(PLAIN, "height = 78", "height = 78\nbox = [4000, 400]"), "box = [", "105,153,552 rays"),
        (changed(PLAIN, "width = 180", "width = 2001"), "width = 2001", "up to 2000 mm"),
        (changed(PLAIN, "scale = 48", "scale = 5e-324"), "scale = 5e-324", "0.001 or more"),
        (changed(PLAIN, "depth = 12.0", "depth = 12.0\nbuilt_depth = 8") + DOOR + "reveal = 1.5\n", "reveal = 1.5",
         "by more than the hole's width"),
        (PLAIN + DOOR + "[right]\nbuild = false\n", "wall =", "is not built"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_at_its_place(text: str, at: str, words: str) -> None:
    """One message, at the line of the key, with what would be allowed."""
    messages = refusals(text)
    assert len(messages) == 1
    assert messages[0].startswith(f"room.toml:{line_of(text, at)}:")
    assert words in messages[0]


def test_a_body_thinner_than_its_play_is_said() -> None:
    """An arch of a hundredth of a millimetre falls to pieces where it stands against the walls."""
    arch = '[[arches]]\nname = "foil"\nat = 1\nspringing = 1\nring = 1\ndepth = 1e-5\n'
    message = refusals(PLAIN + arch)[0]
    assert message.startswith(
        f"room.toml:{line_of(PLAIN + arch, '[[arches]]')}:1: arches[1]: no one body is left of foil"
    )


def test_an_eye_that_would_stand_in_the_box_is_said() -> None:
    """D = (s L - d) / (1 - s) minus the apron must come out before the opening."""
    text = changed(changed(PLAIN, "distance = 420\n", ""), "depth = 12.0", "depth = 12.0\nback_scale = 0.3\napron = 20")
    assert "inside the box" in refusals(text)[0]


def test_an_unsolvable_triple_is_said() -> None:
    """s L must exceed d."""
    text = changed(changed(PLAIN, "distance = 420\n", ""), "depth = 12.0", "depth = 12.0\nback_scale = 0.3")
    assert "more than the built depth" in refusals(text)[0]


def test_overlapping_openings_are_both_named() -> None:
    """And by how much."""
    second = changed(changed(DOOR, '"door"', '"window"'), "at = 6.0", "at = 7.0")
    message = refusals(PLAIN + DOOR + second)[0]
    assert "'window' overlaps 'door'" in message
    assert message.startswith(f"room.toml:{line_of(PLAIN + DOOR + second, 'at = 7.0')}:")


def test_a_column_in_a_doorway_is_said() -> None:
    """An engaged column marks the wall it stands against; a hole there is in its way."""
    message = refusals(PLAIN + DOOR + '[[columns]]\nname = "pier"\nat = [4.0, 6.0]\ndiameter = 0.5\nengaged = true\n')[
        0
    ]
    assert "stands in the opening 'door'" in message


def test_an_opening_that_leaves_nothing_of_its_wall_is_said() -> None:
    """A flat opening as large as the wall."""
    text = PLAIN + '[[openings]]\nname = "all"\nwall = "left"\nat = 6.0\nwidth = 12.0\nheight = 6.888\n'
    assert "leave no one piece" in refusals(text)[0]


SQUARE = 'process = "knife"\nsheet = [300, 200]\n\n[make]\nedges = "square"\n'
LOW_STEPS = '[[steps]]\nname = "rise"\nat = 2.0\ncount = 2\nrise = {rise}\ngoing = 0.6\n'


def test_a_riser_that_the_sheets_about_it_leave_nothing_of_is_said() -> None:
    """0.06 m is 1.2 mm at 1:48: under a tread of 3 mm sheet, cut square, the riser's edges would pass one another."""
    text = changed(PLAIN, 'process = "knife"\nsheet = [300, 200]\n', SQUARE)
    messages = refusals(text + LOW_STEPS.format(rise=0.06))
    assert len(messages) == 2, "both risers"
    assert "by 1.1" in messages[0]
    assert "leave nothing of it" in messages[0]
    assert messages[0].startswith(f"room.toml:{line_of(text + LOW_STEPS, '[[steps]]')}:")
    build_scene((text + LOW_STEPS.format(rise=0.18)).encode(), "room")


def test_bays_built_shorter_than_their_webs_are_thick_are_said() -> None:
    """The hall's 12 m, 250 mm at 1:48, are built 77.5 mm deep before an eye at 420 mm: by the relief's formula
    y' = d (L + D) y / (L (D + d) + (L - d) y) with D, d, L = 420, 77.5, 250 the last of n bays is 77.5 - y'(L - L / n)
    long: 3.07 mm of 19 bays, 2.91 mm of 20, and the sheet is 3 mm thick."""

    def built(y: float) -> float:
        return 77.5 * (250 + 420) * y / (250 * (420 + 77.5) + (250 - 77.5) * y)

    def last(bays: int) -> float:
        return 77.5 - built(250 * (1 - 1 / bays))

    most = max(bays for bays in range(1, 100) if last(bays) >= 3.0)
    vault = '[vault]\nform = "groin"\nspringing = 3.0\nrise = 3.0\nbays = {}\n'
    message = refusals(PLAIN + vault.format(40))[0]
    assert message.startswith(f"room.toml:{line_of(PLAIN + vault.format(40), 'bays = ')}:")
    assert f"the last of 40 bays would be built {last(40):.2g} mm long" in message
    assert f"allowed: at most {most}" in message


def test_everything_wrong_with_elements_is_said_at_once() -> None:
    """Two bad openings, two messages."""
    one = changed(DOOR, "height = 3.0", "height = 9.0")
    two = changed(changed(DOOR, '"door"', '"other"'), "at = 6.0", "at = 11.9")
    assert len(refusals(PLAIN + one + two)) == 2


def test_two_parts_of_one_name_are_refused() -> None:
    """A pair of free columns makes post-1 and post-2; a third named so would take one's file."""
    pair = '[[columns]]\nname = "post"\nat = [[-2.0, 4.0], [2.0, 4.0]]\ndiameter = 0.5\n'
    other = '[[columns]]\nname = "post 2"\nat = [0.0, 4.0]\ndiameter = 0.5\n'
    message = refusals(PLAIN + pair + other)[0]
    line = line_of(PLAIN + pair + other, 'name = "post 2"')
    assert "'post-2', as another part is" in message
    assert message.startswith(f"room.toml:{line}:")


def test_a_room_built_true_is_no_error() -> None:
    """L = d, written in metres, is the identity however it rounds: back scale 1, nothing vanishes."""
    for key in ("depth = 3.72", f"depth = {77.5 * 48 / 1000 - 1e-12:.17f}", "back_scale = 1.0"):
        made = build_scene(changed(PLAIN, "depth = 12.0", key).encode(), "room")
        assert made.manifest["relief"]["back_scale"] == 1.0, key
        assert made.manifest["relief"]["vanishing_depth"] is None
        assert made.failed == 0


def test_a_room_without_end_is_built() -> None:
    """Of 900 m at 1:48 all is squeezed into 80 mm: infinity, V = d (L + D) / (L - d), lies within the back sheet."""
    made = build_scene(changed(PLAIN, "depth = 12.0", "depth = 900.0").encode(), "room")
    assert made.manifest["relief"]["vanishing_depth"] < made.manifest["relief"]["built_depth"] + 3.0
    assert made.failed == 0
