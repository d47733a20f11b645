"""What ``depth`` says in words, held against the relief's formulas and against what the scene then becomes."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.report import choices
from pipeline.room.choosing import Choice, own_choice
from pipeline.scene.read import read_scene
from tests.eye.test_depth import BARE, told, written
from tests.scene_text import COVERED

ROOM = BARE.format(distance=1000, metres=3.0, built=100)
"""193 mm between its walls, its floor 80 mm under the eye, seen 300 mm deep in 100."""


def lines_of(capsys: pytest.CaptureFixture[str], path: Path, *more: str, code: int = 0) -> list[str]:
    assert main(["depth", str(path), *more]) == code
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize(("hold", "held"), [("depth", "the apparent depth"), ("back-scale", "the back scale")])
def test_a_row_tells_each_eyes_figures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], hold: str, held: str
) -> None:
    """s = (D + d) / (D + L) and V = d (L + D) / (L - d), L from s where that is held; the width is 193 s, the floor
    falls away over V by 80 mm and the walls by 96.5, the ceiling by what is left of 160 mm; 1:10 over s at the back."""
    first, *_, three, own, far = lines_of(
        capsys, written(tmp_path, ROOM), "--hold", hold, "--distances", "500,1000,2000"
    )
    assert first == f"{held} held while the eye moves; * is the scene's own"
    assert [row[0] for row in (three, own, far)] == [" ", "*", " "]
    for row, eye in ((three, 500.0), (own, 1000.0), (far, 2000.0)):
        scale = 1100 / 1300 if hold == "back-scale" else (eye + 100) / (eye + 300)
        length = (eye + 100) / scale - eye
        vanishing = 100 * (length + eye) / (length - 100)
        floor, wall, ceiling = (math.degrees(math.atan(off / vanishing)) for off in (80, 96.5, 160 - 3.5 - 83))
        expected = f"{row[0]} {eye:8.1f} {length / 100:7.2f} m  {scale:7.4f} {193 * scale:9.1f} {10 / scale:8.1f}"
        assert row.startswith(expected)
        angles = re.findall(r"([\d.]+)\N{DEGREE SIGN}", row)
        assert angles == [f"{angle:.1f}" for angle in (floor, wall, wall, ceiling)]
        assert row.endswith("   none")


def test_a_distance_without_a_room_says_why_in_its_row() -> None:
    """In its place among the others, in words and for programs."""
    own = own_choice(read_scene(ROOM.encode()))
    rows: list[Choice | str] = ["5 mm: the eye stands in the box", own]
    *_, why, last = choices.table(own, rows, True)
    assert (why, last[0]) == ("  5 mm: the eye stands in the box", "*")
    document = choices.document(own, rows, {}, {}, False)
    assert (document["refused"], document["held"]) == (["5 mm: the eye stands in the box"], "back_scale")
    assert document["rows"] == [document["own"]]


def figure_in(line: str, key: str) -> str:
    found = re.search(rf"{re.escape(key)} = ([\d.]+)", line)
    assert found is not None, line
    return found[1]


@pytest.mark.parametrize(("goal", "wanted"), [("rake", 12.0), ("smallest-unit", 0.5), ("back-width", 140.0)])
def test_what_is_found_gives_the_figure_when_it_is_put_into_the_scene(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], goal: str, wanted: float
) -> None:
    """The keys as they are told, with the digits they are told with."""
    path = written(tmp_path, COVERED)
    lines = lines_of(capsys, path, f"--{goal}", f"{wanted:g}")
    unit = "degrees" if goal == "rake" else "mm"
    start = lines.index(f"{goal.replace('-', ' ')} of {wanted:g} {unit}:")
    eye, depth = lines[start + 1 :]
    assert "the apparent depth staying 12.000 m (250.00 mm)" in eye
    assert "the eye staying at 420.00 mm" in depth
    for line, key in ((eye, "eye.distance"), (depth, "space.depth")):
        own = told(capsys, path, "--set", f"{key}={figure_in(line, key)}")["own"]
        found = {
            "rake": own["rake_deg"],
            "smallest-unit": own["smallest_unit"]["size"],
            "back-width": own["back_width"],
        }
        assert found[goal] == pytest.approx(wanted, rel=3e-4)
        assert f"back scale {own['back_scale']:.4f}" in line


def test_what_is_out_of_reach_is_told_both_ways(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No back wall is wider than the hall; nearer than 20 mm and farther than 20 m no eye is sought."""
    path = written(tmp_path, ROOM)
    assert main(["depth", str(path), "--back-width", "194"]) == 2
    said = capsys.readouterr()
    low, high = 193 * 120 / 320, 193 * 20100 / 20300
    by_eye = f"no eye.distance gives it: that reaches {low:.4g} to {high:.4g} mm"
    heading, first, second = said.out.splitlines()[-3:]
    assert (heading, first) == ("back width of 194 mm:", f"  {by_eye}")
    assert second.startswith("  no space.depth gives it: that reaches ")
    assert f"a back width of 194 mm is out of reach: {by_eye}; no space.depth gives it" in said.err


def test_asked_to_be_quiet_it_says_nothing_but_what_programs_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """JSON stays, text does not."""
    path = written(tmp_path, ROOM)
    assert lines_of(capsys, path, "--quiet") == []
    assert json.loads("\n".join(lines_of(capsys, path, "--quiet", "--json")))["own"]["eye_distance"] == 1000


def test_a_smallest_unit_says_which_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its size, the surface it lies on and which of its sides."""
    path = written(tmp_path, COVERED)
    unit = told(capsys, path)["own"]["smallest_unit"]
    (own,) = (line for line in lines_of(capsys, path) if line.startswith("*"))
    assert own.endswith(f"{unit['size']:7.3f} ({unit['surface']}, {unit['which']})")
    rows = lines_of(capsys, path)[3:]
    assert len(rows) >= 5
    eyes = [float(row[1:].split()[0]) for row in rows]
    assert eyes == sorted(eyes)
    assert (eyes[0] >= 210, eyes[-1] <= 840, 420.0 in eyes) == (True, True, True)
