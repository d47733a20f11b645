"""How deep, from where: against the figures of relief perspective, and units measured one by one."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from pipeline.cli import main
from pipeline.elements.covers import lay_units
from pipeline.report import draughting as pen
from pipeline.report.trade_off import ticks
from pipeline.room.measure import measure
from pipeline.scene.read import read_scene
from tests.scene_text import COVERED, PLAIN, changed

SCENES = Path(__file__).parents[2] / "scenes"
BARE = """\
format = 1
box = {{ width = 200, height = 160, depth = 300 }}
eye = {{ distance = {distance}, height = 83 }}
space = {{ scale = 10, depth = {metres}, built_depth = {built} }}
materials.card = {{ thickness = 3.0, process = "knife", sheet = [400, 400] }}
"""


def told(capsys: pytest.CaptureFixture[str], path: Path, *more: str) -> dict[str, Any]:
    assert main(["depth", str(path), "--json", *more]) == 0
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    return document


def written(folder: Path, text: str) -> Path:
    path = folder / "room.toml"
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    ("distance", "apparent", "built", "vanishing", "scale"),
    [(1000, 300, 100, 650, 0.84615), (500, 600, 150, 366.667, 0.59091)],
)
def test_figures_are_those_of_relief_perspective(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    distance: int,
    apparent: int,
    built: int,
    vanishing: float,
    scale: float,
) -> None:
    """V = d (L + D) / (L - d), s = (D + d) / (D + L), lean atan(h / V); V and s by the harmonic law."""
    text = BARE.format(distance=distance, metres=apparent / 100, built=built)
    own = told(capsys, written(tmp_path, text))["own"]
    assert own["vanishing_depth"] == pytest.approx(vanishing, abs=5e-4)
    assert own["back_scale"] == pytest.approx(scale, abs=5e-6)
    assert own["back_width"] == pytest.approx(scale * (200 - 2 * 3.5), abs=2e-3)
    assert own["rake_deg"] == pytest.approx(math.degrees(math.atan((83 - 3) / vanishing)), abs=1e-4)
    assert own["lean_deg"]["left"] == pytest.approx(math.degrees(math.atan(96.5 / vanishing)), abs=1e-4)


def test_goals_are_met_where_the_formulas_say(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """D = (s L - d) / (1 - s) and L = (D + d) / s - D for the width; V = h / tan(rake) solved for D and for L."""
    path = written(tmp_path, BARE.format(distance=1000, metres=3.0, built=100))
    wide, steep = told(capsys, path, "--back-width", "150mm", "--rake", "9deg")["goals"]
    s, d, length, eye = 150 / 193, 100.0, 300.0, 1000.0
    by_eye, by_depth = wide["by"]
    assert by_eye["met"][0]["eye_distance"] == pytest.approx((s * length - d) / (1 - s), abs=1e-5)
    assert by_depth["met"][0]["apparent_depth"] == pytest.approx((eye + d) / s - eye, abs=1e-5)
    v = 80 / math.tan(math.radians(9))
    by_eye, by_depth = steep["by"]
    assert by_eye["met"][0]["eye_distance"] == pytest.approx(v * (length - d) / d - length, abs=1e-4)
    assert by_depth["met"][0]["apparent_depth"] == pytest.approx(d * (v + eye) / (v - d), abs=1e-4)


def test_a_goal_out_of_reach_is_told_with_the_reach(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """s < 1, so no back wall is wider than the hall; s > d / L however near the eye comes."""
    path = written(tmp_path, BARE.format(distance=1000, metres=3.0, built=100))
    assert main(["depth", str(path), "--back-width", "194", "--json"]) == 2
    said = capsys.readouterr()
    by_eye, by_depth = json.loads(said.out)["goals"][0]["by"]
    assert by_eye["met"] == by_depth["met"] == []
    assert by_eye["reach"] == pytest.approx([193 * 120 / 320, 193 * 20100 / 20300], rel=1e-6)
    assert by_depth["reach"][1] == pytest.approx(193, rel=1e-9)
    assert "72.38 to 191.1 mm" in said.err


@pytest.mark.parametrize("hold", ["depth", "back-scale"])
def test_what_is_held_stays_while_the_eye_moves(capsys: pytest.CaptureFixture[str], hold: str) -> None:
    """The tunnel gives its back scale, the cistern its depth; either may be held."""
    document = told(capsys, SCENES / "tunnel.toml", "--hold", hold, "--distances", "200:600:100")
    key = hold.replace("-", "_") if hold == "back-scale" else "apparent_depth"
    assert [row["eye_distance"] for row in document["rows"]] == [200, 300, 400, 500, 600]
    assert {row[key] for row in document["rows"]} == {document["own"][key]}


def test_figures_are_those_of_the_build(capsys: pytest.CaptureFixture[str]) -> None:
    """Also where a passage behind the back wall settles the built depth."""
    text = (SCENES / "cistern.toml").read_bytes()
    document = told(capsys, SCENES / "cistern.toml", "--distances", "380")
    relief = measure(read_scene(text, [("eye.distance", "380")])).relief
    assert document["rows"][0]["built_depth"] == pytest.approx(relief.built_depth, abs=1e-6)
    assert document["rows"][0]["back_scale"] == pytest.approx(relief.back_scale, abs=1e-9)


@pytest.mark.parametrize("pattern", ["running", "header", "english", "flags", "planks", "herringbone"])
def test_the_smallest_unit_is_the_smallest_of_all_units(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pattern: str
) -> None:
    """Every unit of every covered face through the 4 x 4 matrix, its four sides measured.

    The room is as deep as whole units come out, so that some end at the back wall; they also end level with the eye.
    """
    text = changed(COVERED, 'pattern = "english"', f'pattern = "{pattern}"\nlength = 0.3\nwidth = 0.14\njoint = 0.02')
    text = changed(text, '[floor]\ncover = "flags"', '[floor]\ncover = "brick"')
    text = changed(text, "depth = 12.0", "depth = 12.14")  # 76 (0.14 + 0.02) - 0.02 = 38 (0.3 + 0.02) - 0.02
    scene = read_scene(text)
    hall, relief = (room := measure(scene)).hall, room.relief
    least = math.inf
    for face, level in (("left-wall", False), ("back-wall", False), ("floor", True)):
        units = lay_units(scene.covers["brick"], hall.scale, *hall.size(face), level=level)
        sizes = np.linalg.norm(np.roll(units, -1, axis=1) - units, axis=2)
        cover = scene.covers["brick"]
        whole = np.isin(np.round(sizes * hall.scale / 1000, 9), [cover.length, cover.width, cover.height]).all(axis=1)
        uv1 = np.concatenate([units[whole], np.ones((*units[whole].shape[:2], 1))], axis=2)
        points = uv1 @ hall.imagined_from_host(face).T[:, :3]
        inside = (points[..., 1] <= hall.depth + 1e-6).all(axis=1)
        built = relief.build_points(points[inside].reshape(-1, 3)).reshape(-1, 4, 3)
        least = min(least, float(np.linalg.norm(np.roll(built, -1, axis=1) - built, axis=2).min()))
    own = told(capsys, written(tmp_path, text))["own"]
    slack = 1.06 if pattern == "herringbone" else 1.004  # herringbone units end where their own corners come to lie
    assert own["smallest_unit"]["size"] <= least * (1 + 1e-9)
    assert least <= own["smallest_unit"]["size"] * slack


def test_without_covers_there_is_no_smallest_unit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Told as none; asked for, refused."""
    path = written(tmp_path, PLAIN)
    assert told(capsys, path)["own"]["smallest_unit"] is None
    assert main(["depth", str(path), "--smallest-unit", "0.8mm"]) == 2
    assert "no surface of this scene has a cover" in capsys.readouterr().err


def test_the_picture_rings_the_scene_on_its_own_curve(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In every chart the ring lies on the thick curve: within half a step of its points, and between them."""
    path = tmp_path / "trade.svg"
    told(capsys, SCENES / "deck.toml", "--picture", str(path), "--rake", "12deg")
    root = ElementTree.fromstring(path.read_bytes())
    name = "{http://www.w3.org/2000/svg}"
    rings = [(float(c.get("cx", "")), float(c.get("cy", ""))) for c in root.iter(f"{name}circle")]
    curves = [c.get("d", "")[1:].split("L") for c in root.iter(f"{name}path") if c.get("class") == "heavy"]
    assert len(rings) == len(curves) == 3
    for (x, y), points in zip(rings, curves, strict=True):
        xs, ys = np.array([[float(v) for v in point.split()] for point in points]).T
        assert y == pytest.approx(np.interp(x, xs, ys), abs=0.1)


def test_every_curve_of_the_picture_is_labelled(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As many labels as curves in every chart, none on another, each on its curve's side of the scene's own."""
    path = tmp_path / "trade.svg"
    told(capsys, written(tmp_path, COVERED), "--picture", str(path))
    root = ElementTree.fromstring(path.read_bytes())
    name = "{http://www.w3.org/2000/svg}"
    curves = [c for c in root.iter(f"{name}path") if c.get("class") in ("heavy", "ray")]
    texts = [(c.text or "", float(c.get("y", ""))) for c in root.iter(f"{name}text")]
    labels = [(text, down) for text, down in texts if re.fullmatch(r"[\d.]+ m", text)]
    assert len(labels) == len(curves) == 12
    for chart in range(3):
        own = sorted(labels[4 * chart : 4 * chart + 4], key=lambda label: label[1])
        depths = [float(text.split()[0]) for text, _ in own]
        assert depths == sorted(depths, reverse=chart == 1)
        assert np.diff([down for _, down in own]).min() >= pen.FONT - 0.011  # written to a hundredth


def test_what_the_picture_may_not_replace(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only SVG, and never the scene."""
    path = written(tmp_path, PLAIN)
    assert main(["depth", str(path), "--picture", str(tmp_path / "x.png")]) == 2
    (tmp_path / "room.svg").hardlink_to(path)
    assert main(["depth", str(path), "--picture", str(tmp_path / "room.svg")]) == 2
    assert "over the scene" in capsys.readouterr().err
    assert path.read_text() == PLAIN


@pytest.mark.parametrize("wrong", [["--rake", "95"], ["--back-width", "-3"], ["--distances", "9:1:1"], ["--rake", "x"]])
def test_wrong_figures_are_refused(tmp_path: Path, wrong: list[str]) -> None:
    """Usage errors leave with code 2."""
    with pytest.raises(SystemExit) as left:
        main(["depth", str(written(tmp_path, PLAIN)), *wrong])
    assert left.value.code == 2


def test_a_wrong_scene_is_refused_in_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With line and column."""
    path = written(tmp_path, changed(PLAIN, "height = 78", "height = 400"))
    assert main(["depth", str(path)]) == 2
    assert f"{path}:12:1: eye.height" in capsys.readouterr().err


def test_ticks_are_round_and_inside() -> None:
    """1, 2 or 5 times a power of ten apart."""
    assert ticks(210, 840) == [400, 600, 800]
    assert ticks(0, 0.8) == pytest.approx([0, 0.2, 0.4, 0.6, 0.8])
