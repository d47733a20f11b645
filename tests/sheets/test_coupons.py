"""Test pieces: their sizes read back from the written files, and the reading's way back into the scene."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
import shapely

from pipeline.cli import main
from pipeline.geometry.curves import flatten_path, polygon
from pipeline.scene.editing import EditError, with_values
from pipeline.sheets.coupons import BLOCKS, kerf_read, make_coupon, slot_widths
from pipeline.sheets.kerf import widen

from ..scene_text import PLAIN
from .reading import chords, shapes

SCENES = Path(__file__).parent.parent.parent / "scenes"


def scene(folder: Path, text: str = PLAIN) -> Path:
    path = folder / "room.toml"
    path.write_text(text)
    return path


@pytest.mark.parametrize("thickness", [0.3, 1.0, 3.0, 8.0])
def test_the_comb_read_back_has_the_slots_it_names(thickness: float, tmp_path: Path) -> None:
    """GDAL's outline of the comb, less its hull: one slot for each width, rising, the thickness among them."""
    room = scene(tmp_path, PLAIN.replace("thickness = 3.0", f"thickness = {thickness}"))
    assert main(["coupon", "foam", "--scene", str(room), "--out", str(tmp_path), "--quiet"]) == 0
    read = shapes((tmp_path / "room-foam-coupon.dxf").read_bytes(), tmp_path)
    comb = max((shapely.Polygon(line) for line in read["OUTLINE"]), key=lambda shape: shape.area)
    slots = comb.convex_hull.difference(comb).geoms
    found = sorted(slot.bounds[2] - slot.bounds[0] for slot in slots)
    assert found == pytest.approx(list(slot_widths(thickness)), abs=1e-6)
    assert min(abs(width - thickness) for width in found) < 1e-6


def test_blocks_cut_apart_measure_what_the_formula_says() -> None:
    """The gauge's blocks as shapely leaves them after a cut of 0.138 mm round every line: 48.62 mm in a row."""
    coupon, kerf = make_coupon("card", 1.0), 0.138
    lines = shapely.union_all([shapely.LinearRing(coupon.gauge), *map(shapely.LineString, coupon.cuts.tolist())])
    cut = lines.buffer(kerf / 2, cap_style="square", join_style="mitre")
    blocks = shapely.Polygon(coupon.gauge).difference(cut).geoms
    row = sum(block.bounds[2] - block.bounds[0] for block in blocks)
    assert len(blocks) == BLOCKS
    assert row == pytest.approx(48.62, abs=1e-9)
    assert kerf_read(row, 1.0) == pytest.approx(kerf, abs=1e-9)


def test_a_square_cut_with_the_kerf_read_comes_out_true() -> None:
    """The whole way round: read k, offset by k/2, cut a band of k, keep the nominal 20 mm."""
    kerf = kerf_read(48.62, 1.0)
    path = widen(polygon([(0, 0), (20, 0), (20, 20), (0, 20)]), kerf / 2, 0.01)
    contour = shapely.LinearRing(flatten_path(path, 0.01))
    left = shapely.Polygon(contour).difference(contour.buffer(kerf / 2, join_style="mitre"))
    assert left.bounds == pytest.approx((0, 0, 20, 20), abs=1e-9)


def test_nothing_of_the_letters_is_cut_or_leaves_the_drawing(tmp_path: Path) -> None:
    """Strokes cross no outline and no cut, and are no shorter than a tenth of a millimetre."""
    room = scene(tmp_path)
    assert main(["coupon", "foam", "--scene", str(room), "--out", str(tmp_path), "--quiet"]) == 0
    read = shapes((tmp_path / "room-foam-coupon.dxf").read_bytes(), tmp_path)
    strokes = shapely.MultiLineString(list(chords(read["NOTES"])))
    for line in (*read["OUTLINE"], *read["HOLES"]):
        assert strokes.disjoint(line.exterior if line.geom_type == "Polygon" else line)
    assert np.linalg.norm(np.diff(chords(read["NOTES"]), axis=1), axis=2).min() >= 0.1


def test_the_same_coupon_twice_is_the_same_bytes(tmp_path: Path) -> None:
    """No dates, no chance."""
    room = scene(tmp_path)
    for folder in ("a", "b"):
        assert main(["coupon", "foam", "--scene", str(room), "--out", str(tmp_path / folder), "--quiet"]) == 0
    for one in (tmp_path / "a").iterdir():
        assert one.read_bytes() == (tmp_path / "b" / one.name).read_bytes()


def test_a_reading_is_told_and_not_written_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """(50 - 48.62) / 10 = 0.138."""
    room = scene(tmp_path)
    assert main(["coupon", "foam", "--scene", str(room), "--read", "48.62"]) == 0
    assert "kerf = 0.138" in capsys.readouterr().out
    assert room.read_text() == PLAIN


@pytest.mark.parametrize("name", ["cistern", "deck", "tunnel"])
def test_a_reading_changes_one_line_of_a_demo_scene(name: str, tmp_path: Path) -> None:
    """Lines but one are the same, comments and all; the parsed file differs in the kerf alone."""
    before = (SCENES / f"{name}.toml").read_text()
    material = next(iter(tomllib.loads(before)["materials"]))
    room = scene(tmp_path, before)
    room.chmod(0o640)
    assert main(["coupon", material, "--scene", str(room), "--read", "48.62", "--write", "--quiet"]) == 0
    after = room.read_text()
    expected = tomllib.loads(before)
    expected["materials"][material]["kerf"] = 0.138
    assert tomllib.loads(after) == expected
    gone = set(before.splitlines()) - set(after.splitlines())
    new = set(after.splitlines()) - set(before.splitlines())
    assert len(new) == 1
    assert all("kerf" in line for line in gone | new)
    assert room.stat().st_mode & 0o777 == 0o640
    assert [path.name for path in tmp_path.iterdir()] == ["room.toml"]


@pytest.mark.parametrize(
    "text",
    [
        "materials.card = { thickness = 1.0 } # thin\n",
        "[materials]\ncard.thickness = 1.0\nother.thickness = 2\n",
        '[materials.card]\nkerf = "0.1 mm" # old\nthickness = 1.0\n',
        "[materials.card]\r\nthickness = 1.0 # Windows\r\n",
    ],
)
def test_every_way_to_write_a_material_keeps_its_comments(text: str) -> None:
    """Inline, dotted, with a unit, with Windows' line ends."""
    edited = with_values(text, {("materials", "card", "kerf"): 0.2})
    assert tomllib.loads(edited)["materials"]["card"]["kerf"] == 0.2
    assert [word for word in ("# thin", "# old", "# Windows") if word in text] == [
        word for word in ("# thin", "# old", "# Windows") if word in edited
    ]
    assert edited.count("\r\n") >= text.count("\r\n")


def test_a_material_that_is_not_there_is_refused() -> None:
    """Nothing to change."""
    with pytest.raises((EditError, KeyError)):
        with_values(PLAIN, {("materials", "card", "kerf"): 0.2})


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["foma"], 'did you mean "foam"'),
        (["foam", "--read", "51"], "allowed: 30 to 50 mm"),
        (["foam", "--read", "12"], "measure again"),
        (["foam", "--write"], "--read"),
    ],
)
def test_slips_are_refused(arguments: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, what is allowed, nothing written."""
    room = scene(tmp_path)
    assert main(["coupon", *arguments, "--scene", str(room), "--out", str(tmp_path / "out")]) == 2
    assert said.lower() in capsys.readouterr().err.lower()
    assert [path.name for path in tmp_path.iterdir()] == ["room.toml"]


def test_a_sheet_too_small_for_the_pieces_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It says how much room they need."""
    room = scene(tmp_path, PLAIN.replace("sheet = [300, 200]", "sheet = [60, 60]"))
    assert main(["coupon", "foam", "--scene", str(room), "--out", str(tmp_path / "out")]) == 2
    assert "the test pieces need" in capsys.readouterr().err
