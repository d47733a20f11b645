"""What is wrong with stock and settings is said before anything is written."""

from __future__ import annotations

import pytest

from pipeline.build import build_scene
from tests.refused import refusal

from ..scene_text import COVERED, DOOR, PLAIN, changed

LINE = "sheet = [300, 200]"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("sheet = [0, 200]", "materials.foam.sheet[1]: 0 is not a length above zero"),
        ("sheet = [300, 200]\nmargin = 100", "materials.foam.sheet: a margin of 100 mm on both sides leaves nothing"),
        ('sheet = ["20 cm", 200]\nmargin = "10 cm"', "leaves nothing of 200 mm; allowed: sheets wider and higher"),
        ("sheet = [300, 200]\noffcuts = [[80, 60, 1], [9, 60, 1]]", "materials.foam.offcuts[2]: a margin of 5 mm"),
        ("sheet = [300, 200]\noffcuts = [[80, 60]]", "too few items"),
        ("sheet = [300, 200]\noffcuts = [[80, 60, 0]]", "materials.foam.offcuts[1][3]: 0"),
        ("sheet = [300, 200]\noffcuts = [80, 60]", "materials.foam.offcuts[1]"),
    ],
)
def test_a_sheet_of_no_area_is_refused_at_its_line(line: str, said: str) -> None:
    """Zero sides, margins that leave nothing, offcuts without a count."""
    text = refusal(changed(PLAIN, LINE, line))
    assert said in text
    assert text.startswith("room.toml:2")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('paper = "A5"', '"A5" is none of the choices; allowed: "A4", "A3" or "Letter"'),
        ('dxf = "R14"', '"R14" is none of the choices; allowed: "R2010" or "R12"'),
        ("bridges = -1", "make.bridges: -1 is not a length of zero or more"),
        ("bridge_count = 0", "make.bridge_count: 0"),
        ("ruler = 0", "make.ruler: 0 is not a length of 0.01 mm or more"),
    ],
)
def test_unknown_paper_and_the_like_are_refused(line: str, said: str) -> None:
    """With what is allowed."""
    assert said in refusal(f"{PLAIN}\n[make]\n{line}\n")


def test_a_kerf_wider_than_a_feature_names_the_part_and_the_kerf() -> None:
    """A door 2 mm wide as built, cut 5 mm wide: placed at materials.foam.kerf, nothing written."""
    narrow = DOOR.replace("width = 1.6", "width = 0.1").replace("height = 3.0", "height = 2.0\nsill = 0.5")
    text = changed(PLAIN + narrow, LINE, LINE + "\nkerf = 5.0")
    said = refusal(text)
    assert "materials.foam.kerf: right-wall: " in said
    assert "measure the kerf again" in said.lower()


def test_an_unchanged_scene_keeps_its_sheets_byte_for_byte() -> None:
    """Two builds of one text; bridges, offcuts and all."""
    text = changed(COVERED + DOOR, LINE, LINE + "\noffcuts = [[150, 150, 2]]\nkerf = 0.2") + "\n[make]\nbridges = 0.5\n"
    one, other = (build_scene(text.encode(), "room") for _ in range(2))
    names = [name for name in one.files if name.startswith(("sheets/", "templates", "measures", "report"))]
    assert len(names) > 4
    assert all(one.files[name] == other.files[name] for name in names)
    assert one.manifest["sheets"] == other.manifest["sheets"]
