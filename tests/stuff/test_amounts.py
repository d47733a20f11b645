"""Masses, volumes, costs and hours against what is worked out by hand, and against other programs' volumes."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
import trimesh

from pipeline.build import Build, make
from pipeline.checks.evidence import Evidence
from pipeline.elements.vault.room_below import room_below
from pipeline.elements.vault.shape import VaultShape, shape_of
from pipeline.geometry.booleans import body_of
from pipeline.report.bill import bill_csv, bill_words
from pipeline.report.quantities import Amount, Quantities, filler_volume, painted_area, quantities
from pipeline.stages.filling import behind_vault

from .rooms import GROIN, POST, TRUE, shaped


def took(text: str, *settings: tuple[str, str]) -> Quantities:
    return quantities(made(text, *settings))


def made(text: str, *settings: tuple[str, str]) -> Evidence:
    return make(text.encode(), settings)


def one(found: Quantities, kind: str) -> Amount:
    [amount] = [amount for amount in found.amounts if amount.kind == kind]
    return amount


def cm3(amount: Amount) -> float:
    assert amount.volume is not None
    return amount.volume / 1000


def test_a_true_rooms_sheets_are_its_faces_times_their_thickness() -> None:
    """Five sheets of 1 mm make a tray of 102 x 82 x 61 round a room of 100 x 80 x 60: 30.204 cm3, at 0.7 21.1428 g."""
    amount = one(took(TRUE), "sheet")
    area = 102 * 82 * 61 - 100 * 80 * 60
    assert (amount.parts, amount.sheets, amount.offcuts, amount.of) == (5, 1, 0, "card")
    assert amount.area == pytest.approx(area, abs=1e-6)
    assert amount.volume == pytest.approx(area * 1.0, abs=1e-6)
    assert amount.mass == pytest.approx(21.1428, abs=1e-9)
    assert not amount.given


def test_a_square_post_is_printed_solid_or_hollow_as_built() -> None:
    """0.5 x 0.5 x 4 m at 1:50 is 10 x 10 x 80 mm, less the play of 0.15 at foot and head; the shell is what is left."""
    solid = one(took(TRUE + POST, ("make.printer.min_cavity", "50"), ("make.printer.density", "1.1")), "print")
    assert solid.volume == pytest.approx(10 * 10 * (80 - 2 * 0.15), rel=2e-3)
    assert solid.mass == pytest.approx(cm3(solid) * 1.1)
    assert solid.given
    evidence = made(TRUE + POST, ("make.printer.min_cavity", "2"))
    hollow = one(quantities(evidence), "print")
    assert evidence.prints[0].hollow
    assert "hollow" in hollow.note
    assert hollow.volume == pytest.approx(body_of(evidence.prints[0].body).volume(), rel=1e-9)
    assert cm3(hollow) < 0.7 * cm3(solid)


def test_sums_are_those_of_other_programs(cistern: Build) -> None:
    """All prints of the demo as trimesh reads their STL; the manifest's own areas of sheets are never less than cut."""
    entries = cistern.manifest["materials"]
    volume = 0.0
    for part in cistern.manifest["parts"]:
        if part["made_as"] == "print":
            mesh = trimesh.load(io.BytesIO(cistern.files[part["files"]["stl"]]), file_type="stl")
            volume += float(mesh.volume)
    [prints] = [entry for entry in entries if entry["kind"] == "print"]
    assert prints["volume"] == pytest.approx(volume, rel=1e-4)
    for entry in (entry for entry in entries if entry["kind"] == "sheet"):
        laid = [sheet for sheet in cistern.manifest["sheets"] if sheet["material"] == entry["name"]]
        assert len(laid) == entry["sheets"] + entry["offcuts"]
        assert entry["area"] <= sum(sheet["area_used"] for sheet in laid) + 0.01


def test_a_coat_is_its_face_times_the_finish() -> None:
    """0.5 mm of clay on the left wall's 60 x 80: 2.4 cm3, at 1.6 g/cm3 3.84 g; a price of 10 the kilo makes 0.0384."""
    clay = [
        ("left.finish", "0.5"),
        ("front.build", "false"),
        ("materials.board.coat", '"air-dried clay"'),
        ("materials.board.sealed", "true"),
    ]
    found = took(TRUE, *clay, ("stuff", '{"air-dried clay" = {price = 10}}'))
    coat = one(found, "coat")
    assert coat.volume == pytest.approx(2400.0, abs=1e-6)
    assert coat.mass == pytest.approx(3.84, abs=1e-9)
    assert coat.cost == pytest.approx(0.0384, abs=1e-12)
    assert found.cost == pytest.approx(0.0384, abs=1e-12)


def test_a_groined_room_holds_what_the_closed_form_says() -> None:
    """Over a square of side 2r: 2 pi r^3 - 8 r^3 / 3 (derived; check: 3.61652 r^3). A tunnel: a half circle's area."""
    r = 50.0
    for form, expected in (("groin", 2 * math.pi * r**3 - 8 * r**3 / 3), ("barrel", math.pi * r**2 / 2 * 2 * r)):
        for bays in (1, 3):
            lines = tuple(2 * r * k for k in range(bays + 1))
            shape = VaultShape(form=form, profile="round", width=2 * r, springing=10.0, rise=r, lines=lines)  # type: ignore[arg-type]
            body = body_of(room_below(shape, 4.0, 1e-3))
            assert body.genus() == 0
            assert body.volume() - 6 * 2 * r * lines[-1] == pytest.approx(bays * expected, rel=5e-5)


def behind(text: str, *settings: tuple[str, str]) -> tuple[Evidence, float]:
    evidence = shaped(text, *settings)
    volume = filler_volume(evidence)
    assert volume is not None
    return evidence, volume


def test_filler_is_the_box_less_the_groined_room_and_the_sheets() -> None:
    """Above the springing the box holds 102 x 100 x 59 mm; from it go the room's closed form and every sheet there."""
    r = 50.0
    evidence, volume = behind(GROIN, ("work.filler", "plaster"))
    assert evidence.room.relief.back_scale == 1.0
    above = 0.0
    for part in evidence.parts:
        cut = body_of(part.body).trim_by_plane((0.0, 0.0, 1.0), 31.0).trim_by_plane((0.0, -1.0, 0.0), -100.0)
        above += cut.volume()
    expected = 102 * 100 * (90 - 31) - (2 * math.pi * r**3 - 8 * r**3 / 3) - above
    assert volume == pytest.approx(expected, rel=1e-3)


def test_filler_stops_at_its_level_and_leaves_ways_out_free() -> None:
    """Up to 71 mm there is less by the slab above it; a window above the springing takes its prism out to the box."""
    _, whole = behind(GROIN, ("work.filler", "plaster"))
    _, low = behind(GROIN, ("work.filler", "plaster"), ("work.fill_to", "85"))
    assert whole - low == pytest.approx(102 * 100 * 5, rel=1e-6)
    window = '[[openings]]\nname = "oculus"\nwall = "left"\nat = 2.5\nwidth = 0.5\nsill = 1.6\nheight = 0.5\n'
    wider = ("box.width", "122"), ("space.width", "5.0"), ("front.build", "false")
    _, beside = behind(GROIN, ("work.filler", "plaster"), *wider)
    _, lit = behind(GROIN + window, ("work.filler", "plaster"), *wider)
    assert beside - lit == pytest.approx(10 * 10 * 10, rel=1e-3)


def test_filler_behind_the_apron_is_told_as_well() -> None:
    """In a relief, with an apron: less deep than built true, and never below nothing."""
    deeper = ("space.depth", "9.0"), ("space.apron", "20")
    _, volume = behind(GROIN, ("work.filler", "plaster"), *deeper)
    _, true = behind(GROIN, ("work.filler", "plaster"))
    assert 0 < volume != pytest.approx(true, rel=1e-3)


@pytest.mark.parametrize("apron", [0.0, 20.0])
def test_filler_in_a_relief_is_what_a_million_points_say(apron: float) -> None:
    """Points strewn evenly in the box and carried back by the formula on paper: above springing and vault, or beside.

    u = y - apron, w' = y' (L - d) / (d (L + D)), y = u' / ((L + D) d / (L (D + d)) - u' (L - d) / (L (D + d))).
    """
    fine = ("make.mesh_tolerance", "0.002")
    evidence = shaped(GROIN, ("space.depth", "9.0"), ("space.apron", str(apron)), fine)
    room, vault = evidence.room, evidence.scene.vault
    assert vault is not None
    hall, relief = room.hall, room.relief
    volume = behind_vault(
        shape_of(vault, hall), hall, relief, room.inside, bodies=(), cuts=(), level=86.0
    )  # the sheets are left out here, so that all of it is arithmetic
    low, high = np.array([-51.0, 0.0, 0.0]), np.array([51.0, relief.built_depth, 86.0])
    cells = np.stack(np.meshgrid(*3 * [np.arange(100.0)], indexing="ij")).reshape(3, -1)
    shares = (cells + np.random.default_rng(7).random(cells.shape)) / 100  # one in every cell, anywhere in it
    x, y, z = shares * (high - low)[:, None] + low[:, None]
    ex, ez, distance = 0.0, 40.0, 400.0 + apron
    deep, built = 180.0 - apron, relief.built_depth - apron
    u = np.maximum(y - apron, 0.0)
    a, b = (deep - built) / (deep * (distance + built)), built * (deep + distance) / (deep * (distance + built))
    away = u / (b - a * u)
    w = 1 + a * away
    x, y, z = ex + (x - ex) * w, np.where(y > apron, apron + away, y), ez + (z - ez) * w
    share = np.sqrt(np.clip(1 - (x / 50.0) ** 2, 0.0, None))
    across = np.sqrt(np.clip(1 - ((y - 90.0) / 90.0) ** 2, 0.0, None))
    top = 31.0 + 50.0 * np.maximum(share, across)
    filled = (z > 31.0) & ((np.abs(x) > 50.0) | (z > top))
    assert volume == pytest.approx(filled.mean() * np.prod(high - low), rel=1e-3)


def test_prices_are_of_whole_sheets_and_rates_make_hours() -> None:
    """Two sheets of 120 x 100 begun at 4 each; 5 parts at 2.5 an hour take 2 hours; nothing else has a rate."""
    found = took(
        TRUE, ("materials.board.sheet", "[150, 110]"), ("materials.board.price", "4"), ("work.rates.fit", "2.5"),
        ("work.currency", "EUR"),
    )  # fmt: skip
    sheet = one(found, "sheet")
    assert sheet.sheets > 1
    assert sheet.cost == pytest.approx(4.0 * sheet.sheets)
    assert found.efforts["fit"].hours == pytest.approx(2.0)
    assert found.hours == pytest.approx(2.0)
    assert bill_words(found).cost == f"{4 * sheet.sheets:.2f} EUR"
    assert took(TRUE).hours is None
    assert took(TRUE).cost is None


def test_what_is_painted_is_what_may_be_seen() -> None:
    """The inside of the box: 2 (60 x 80) + 2 (100 x 60) + 100 x 80; a post's outside is 4 sides and both ends."""
    assert painted_area(shaped(TRUE)) == pytest.approx(29600, abs=1e-6)
    assert painted_area(shaped(TRUE + POST)) - 29600 == pytest.approx(4 * 10 * 80 + 2 * 100, rel=2e-3)


def test_offcuts_are_used_up_before_a_sheet_is_bought() -> None:
    """A piece that holds everything leaves no sheet to pay for."""
    sheet = one(took(TRUE, ("materials.board.offcuts", "[[290, 190, 1]]"), ("materials.board.price", "4")), "sheet")
    assert (sheet.sheets, sheet.offcuts, sheet.cost) == (0, 1, 0.0)


def test_the_table_for_a_spreadsheet_holds_no_formula() -> None:
    """A currency may be any text; a cell that begins like a formula is quoted. The rows are those of the bill."""
    found = took(TRUE + POST, ("work.currency", '"=1+1"'))
    rows = list(csv.reader(io.StringIO(bill_csv(found).decode())))
    assert not [cell for row in rows for cell in row if cell[:1] in ("=", "+", "-", "@", "\t", "\r")]
    assert len(rows) == 1 + len(found.amounts)
    assert [row[1] for row in rows[1:]] == [amount.name for amount in found.amounts]
    assert rows[0][10] == "cost (=1+1)"
