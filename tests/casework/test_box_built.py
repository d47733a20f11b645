"""A scene whose box is to be made, from text to files, and the scene in its lid."""

from __future__ import annotations

import csv
import html
import io
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from pypdf import PdfReader

from pipeline.build import Build, build_scene, make
from pipeline.casework.boards import Rebate
from pipeline.checks import board_stock, box_boards, box_fingers, lid_closes
from pipeline.checks.evidence import Evidence
from pipeline.checks.written import read_dxf
from pipeline.exports.board_drawing import rebate_rings
from pipeline.geometry.meshes import Mesh
from pipeline.scene.problems import SceneFileError
from tests.checks.holding import hold

from ..scene_text import changed
from .boxes import BOXED, body, outlines, overlap, union

LID = changed(BOXED, "back_gap = 4\n", 'back_gap = 1\npart = "lid"\n').replace("height = 78", "height = 70")


@cache
def built(text: str) -> Build:
    return build_scene(text.encode(), "boxed")


@cache
def evidence() -> Evidence:
    return make(BOXED.encode())


def test_the_files_of_a_box_go_together_as_the_manifest_places_them() -> None:
    """Through the public path: sum of volumes = outside less inside, worked by hand with boards of 6, ends of 4, a lid
    of 24 and a kerf of 1.2: 192 x 162 x (85 + 1.2 + 20 + 8) - 180 x 150 x 106.2 mm^3."""
    built_box = built(BOXED)
    entry = built_box.manifest["casework"]
    bodies = {one["id"]: body(one, built_box.files[one["files"]["dxf"]]) for one in entry["boards"]}
    assert overlap(bodies) < 0.5
    assert union(list(bodies.values())).volume() == pytest.approx(192 * 162 * 114.2 - 180 * 150 * 106.2, rel=1e-7)
    assert entry["inside"] == {"box": [180, 150, 85], "lid": [180, 150, 20]}
    assert entry["outside"] == [192, 162, 113]
    assert entry["saw"] == {"kerf": 1.2, "from_back_edge": 85, "from_outside": 89}


def test_a_box_passes_its_checks_and_its_room_is_none_the_other_for_it() -> None:
    """Making the box changes nothing of what goes into it."""
    boxed = built(BOXED)
    assert boxed.failed == 0
    told = {check["id"] for check in boxed.manifest["checks"]}
    assert {"box-boards", "box-fingers", "board-stock", "lid-closes"} <= told
    start, end = BOXED.index("[box.make]"), BOXED.index("[left]")
    plain = build_scene((BOXED[:start] + BOXED[end:]).encode(), "boxed")
    assert "casework" not in plain.manifest
    assert plain.manifest["parts"] == boxed.manifest["parts"]
    names = ("bottom", "top", "left", "right", "back", "lid")
    assert {name for name in boxed.files if name not in plain.files} == {
        *(f"box/box-{name}.{kind}" for name in names for kind in ("dxf", "svg")), "box/cut-list.csv",
        "pictures/box.png", "sheets/ply-1.dxf", "sheets/ply-1.svg",
    }  # fmt: skip


def test_the_saw_line_and_the_hinges_are_drawn_where_the_report_says() -> None:
    """On PLACE of every side: the rim of the box 85 mm from the back edge, that of the lid 1.2 mm farther, both across
    the board; on the left, two hinges a quarter of 162 mm from the ends with dashes 6 mm from either rim."""
    files = built(BOXED).files
    for name in ("bottom", "top", "left", "right"):
        lines = outlines(files[f"box/box-{name}.dxf"], "PLACE")
        assert [line[:, 1].tolist() for line in lines[:2]] == [[85, 85], [86.2, 86.2]]
        assert len(lines) == (2 + 2 * 3 if name == "left" else 2)
    marks = outlines(files["box/box-left.dxf"], "PLACE")[2:]
    assert sorted({float(line[0, 0]) for line in marks if line[0, 0] == line[1, 0]}) == [40.5, 121.5]
    assert sorted({float(line[0, 1]) for line in marks if line[0, 1] == line[1, 1]}) == [79, 92.2]
    assert outlines(files["box/box-back.dxf"], "PLACE") == []


def test_boards_lie_on_their_sheet_along_its_grain_with_the_kerf_added() -> None:
    """The four sides of plywood share a sheet, none turned by a quarter; their outlines are a kerf of 0.2 mm larger.
    Back and lid, 4 mm thick, name no sheet and are on none."""
    (sheet,) = [one for one in built(BOXED).manifest["sheets"] if one["material"] == "ply"]
    assert sorted(one["id"] for one in sheet["parts"]) == ["box-bottom", "box-left", "box-right", "box-top"]
    for one in sheet["parts"]:
        assert abs(np.array(one["sheet_from_flat"])[0, 0]) == pytest.approx(1.0)
    sizes = sorted(
        np.ptp(line, axis=0).round(4).tolist() for line in outlines(built(BOXED).files["sheets/ply-1.dxf"], "OUTLINE")
    )
    assert sizes == [[162.2, 106.4]] * 2 + [[192.2, 106.4]] * 2


def test_the_cut_list_reads_as_a_table() -> None:
    """One row for each board; lengths along the grain."""
    rows = list(csv.DictReader(io.StringIO(built(BOXED).files["box/cut-list.csv"].decode())))
    assert [(row["board"], row["length along grain"], row["width"], row["thickness"]) for row in rows] == [
        ("box-bottom", "192.00", "106.20", "6"), ("box-top", "192.00", "106.20", "6"),
        ("box-left", "162.00", "106.20", "6"), ("box-right", "162.00", "106.20", "6"),
        ("box-back", "192.00", "162.00", "4"), ("box-lid", "192.00", "162.00", "4"),
    ]  # fmt: skip


def test_fingers_without_a_machine_are_on_paper() -> None:
    """Four boards with fingers that name no sheet are on the templates, front and mirrored; lasered ones are not, nor
    are boards with square ends, which a rule marks out."""

    def on_paper(text: str) -> list[str]:
        pages = PdfReader(io.BytesIO(make(text.encode()).files["templates.pdf"])).pages
        return sorted(re.findall(r"box-[a-z]+", "".join(page.extract_text() for page in pages)))

    by_hand = changed(BOXED, 'material = "ply"\n', "")
    assert on_paper(by_hand) == sorted(2 * ["box-bottom", "box-left", "box-right", "box-top"])
    assert on_paper(BOXED) == []
    assert on_paper(changed(by_hand, 'joint = "finger"', 'joint = "rebate"')) == []


def test_the_page_tells_the_saw_line_and_the_cautions() -> None:
    """What is sawn is told with where, and with what to mind."""
    page = built(BOXED).files["report.html"].decode()
    assert "The box itself" in page
    assert "89.00 mm from the outside of the back" in page
    assert "Saws and routers." in page
    assert "Wood dust." in page


def test_a_scene_in_the_lid_gets_what_the_saw_leaves() -> None:
    """Part "lid" with the same [box]: 24 - 4 = 20 mm of depth, everything inside it, and the same six boards."""
    lid, box = built(LID), built(BOXED)
    assert lid.failed == 0
    relief = lid.manifest["relief"]
    assert relief["built_depth"] == pytest.approx(20 - 1 - 3 - 0.5)
    boards = {name: data for name, data in box.files.items() if name.startswith("box/")}
    assert {name: lid.files[name] for name in boards} == boards
    entry = lid.manifest["casework"]
    bodies = [body(one, lid.files[one["files"]["dxf"]]) for one in entry["boards"]]
    low, high = np.array(union(bodies).bounding_box()).reshape(2, 3)
    assert [*low, *high] == pytest.approx([-96, -1.2 - 85 - 4, -6, 96, 20 + 4, 156], abs=1e-5)
    for part in make(LID.encode()).panels:
        assert part.body.vertices[:, 1].min() > -1e-6
        assert part.body.vertices[:, 1].max() < 20
    assert "make them once" in lid.files["report.html"].decode()


def test_the_boards_of_box_and_lid_are_cut_and_bought_once() -> None:
    """Both scenes draw them, that in the box alone lays them on sheets, on paper and on the bill; else whoever cuts the
    sheets of both has two boxes."""
    lid, box = built(LID), built(BOXED)
    by_hand = tuple(built(text.replace('material = "ply"\n', "")) for text in (LID, BOXED))
    for build, found in ((lid, False), (box, True)):
        assert any(one["material"] == "ply" for one in build.manifest["sheets"]) == found
        kinds = {one["kind"] for one in build.manifest["materials"]}
        assert ("board" in kinds, "fittings" in kinds) == (found, found)
        assert any(one["name"] == "ply" for one in build.manifest["materials"]) == found
        assert ("Cut the box's boards" in words(build)) == found
    for build, found in zip(by_hand, (False, True), strict=True):
        pages = PdfReader(io.BytesIO(build.files["templates.pdf"])).pages
        assert any("box-left" in page.extract_text() for page in pages) == found
    assert {name for name in lid.files if name.startswith("box/")} == {
        name for name in box.files if name.startswith("box/")
    }


def words(build: Build) -> str:
    """Return what the page says, without its tags."""
    page = build.files["report.html"].decode()
    return html.unescape(" ".join(re.sub(r"<(style|script)[^>]*>.*?</\1>|<[^>]+>", " ", page, flags=re.S).split()))


def test_hinges_and_their_screws_are_on_the_bill() -> None:
    """Two up to a sixth of 162 mm long on the left, four screws each; a side above 400 mm takes a third."""

    def fittings(text: str) -> list[str]:
        rows = csv.DictReader(io.StringIO(built(text).files["materials.csv"].decode()))
        return [f"{row['parts']} {row['name']}: {row['note']}" for row in rows if row["what"] == "Fittings"]

    assert fittings(BOXED) == [
        "2 hinges: up to 27 mm long, their holes about 6 mm from the pin",
        "8 screws: within the board's 6 mm",
    ]
    assert fittings(changed(BOXED, "lid = 24", 'lid = 24\nhinge = "top"'))[0].startswith("2 hinges: up to 32 mm long")


def test_boards_too_thin_for_screws_hang_on_a_strip() -> None:
    """Of 1 mm: no hinge is bought, marked or told to be screwed on; the strip is as long as the side, 152 mm."""
    text = changed(BOXED.replace('material = "ply"\n', ""), "board = 6", "board = 1")
    build, said = built(text), words(built(text))
    rows = list(csv.DictReader(io.StringIO(build.files["materials.csv"].decode())))
    assert [(row["parts"], row["name"], row["note"]) for row in rows if row["what"] == "Fittings"] == [
        ("1", "strip", "linen or leather, 152 mm long, glued over the hinge line")
    ]
    assert len(outlines(build.files["box/box-left.dxf"], "PLACE")) == 2
    assert "boards of 1 mm hold no screws, so glue a strip of linen or leather" in said
    assert "holes drilled first" not in said


def test_boards_on_sheets_are_told_so_and_planed_ones_how_long_a_strip_they_take() -> None:
    """Of 6 mm by hand: sides of 192, 192, 162 and 162 mm in a strip 106.2 mm wide, 708 mm and five saw cuts."""
    lasered, by_hand = words(built(BOXED)), words(built(BOXED.replace('material = "ply"\n', "")))
    assert "Cut the four sides from their sheets" in lasered
    assert "from one strip" not in lasered
    assert "from one strip, at least 708 mm long and five saw cuts" in by_hand
    assert "Measure every sheet with a caliper, or ten in a pile with a ruler: foam 3 mm, ply 6 mm." in lasered


@pytest.mark.parametrize(
    ("hinge", "other", "opening"),
    [
        ("left", "right", "beside the box, on what the box stands on"),
        ("right", "left", "beside the box, on what the box stands on"),
        ("top", "bottom", "falls shut of itself"),
        ("bottom", "top", "at least 24 mm"),
    ],
)
def test_the_hinge_is_told_as_either_half_sees_it(hinge: str, other: str, opening: str) -> None:
    """What is left in front of the box is right for whoever looks into the lid, and top is bottom; each way of
    opening has what it needs told."""
    box, lid = (words(built(changed(text, "lid = 24", f'lid = 24\nhinge = "{hinge}"'))) for text in (BOXED, LID))
    assert f"Hinge line {hinge}, outside" in box
    assert f"Hinge line {hinge}, outside" in lid
    assert f"seen into the lid, as this scene is, it is {other}" in lid
    assert "seen into the lid" not in box
    assert opening in box
    assert opening in lid


def test_a_lid_too_low_for_a_room_says_what_is_missing() -> None:
    """A lid that leaves 2 mm holds no sheet of 3 mm, clearance of 0.5 and walls of 3 mm: 4 + 3.5 + 3 is least."""
    text = changed(LID, "lid = 24", "lid = 6").replace("back_gap = 1", "back_gap = 0")
    with pytest.raises(SceneFileError) as caught:
        make(text.encode())
    (said,) = caught.value.describe("a.toml")
    assert "box.make.lid: back gap, back sheet, clearance and apron leave -1.5 mm of depth" in said
    assert "allowed: more than 10.5 mm" in said


def test_a_board_of_another_thickness_fails() -> None:
    """A left board drawn for 6 mm and made of 7 reaches 1 mm into the room, and into bottom and top."""
    casework = evidence().casework
    assert casework is not None
    thick = tuple(replace(one, thickness=7.0) if one.id == "box-left" else one for one in casework.boards)
    findings = box_boards.run(replace(evidence(), casework=replace(casework, boards=thick)))
    assert [finding.status for finding in findings[:2]] == ["fail", "fail"]
    assert findings[1].value == pytest.approx(150 * 106.2)


def test_a_board_out_of_its_place_fails() -> None:
    """A right board 1 mm nearer lies in bottom and top by its fingers, and a saw line off by 1 mm is told."""
    casework = evidence().casework
    assert casework is not None
    shift = np.eye(4)
    shift[:3, 3] = [0, 1.0, 0]
    moved = tuple(
        replace(one, built_from_flat=shift @ one.built_from_flat) if one.id == "box-right" else one
        for one in casework.boards
    )
    findings = box_boards.run(replace(evidence(), casework=replace(casework, boards=moved)))
    assert [finding.status for finding in findings] == ["fail", "fail", "pass", "pass", "pass", "fail"]
    assert findings[-1].value == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("sheet", "grain", "over", "held", "remedy"),
    [
        # 192 mm along the grain on 140: strips glued side by side would be as short.
        ("[150, 300]", "true", "52.0", (192.0, 140.0), "; use a sheet at least 202 mm long along its grain, or set "
         "materials.ply.grain to false if its grain may run the other way"),
        ("[150, 150]", "true", "52.0", (192.0, 140.0), "; use a sheet at least 202 mm long along its grain"),
        # 106.2 mm across the grain on 90: two strips make it.
        ("[500, 100]", "true", "16.2", (106.2, 90.0), "; use a larger sheet, or glue one up from strips along "
         "the grain"),
        # Without a grain it is laid the way that lacks least, 192 on 186; strips go the other way, 106.2 on 95 not.
        ("[196, 105]", "false", "11.2", (106.2, 95.0), "; use a sheet at least 202 mm long"),
    ],
)  # fmt: skip
def test_a_board_larger_than_its_sheet_fails(
    sheet: str, grain: str, over: str, held: tuple[float, float], remedy: str
) -> None:
    """Told by the side that lacks most, with what would fit: a board is glued up in its width, never in its length."""
    text = changed(BOXED, "grain = true\nsheet = [500, 400]", f"grain = {grain}\nsheet = {sheet}")
    findings = {one.part: one for one in board_stock.run(make(text.encode()))}
    bottom = findings["box-bottom"]
    assert bottom.status == "fail"
    assert f": {over} mm too large" in bottom.message
    assert bottom.message.endswith(remedy)
    assert (bottom.value, bottom.limit) == pytest.approx(held)
    for one in findings.values():
        assert (one.id, one.unit) == ("board-stock", "mm")
        assert (one.status == "fail") == ("too large" in one.message)
        assert one.value is not None
        assert one.limit is not None
        assert (one.status == "fail") == (one.value > one.limit)
    assert {one.status for one in board_stock.run(evidence())} == {"pass"}


def test_a_whole_box_is_told_by_its_figures() -> None:
    """Nothing shared and nothing open, but for a film of FILM over all boards; a saw line for each board with one."""
    boards = {one.id: one for one in evidence().boards}
    overlap_found, open_found, *saw = box_boards.run(evidence())
    area = sum(
        box_boards.written_body(one, read_dxf(evidence().files[f"box/{one.id}.dxf"])).surface_area()
        for one in boards.values()
    )
    for one in (overlap_found, open_found):
        assert (one.id, one.part, one.status, one.unit) == ("box-boards", "", "pass", "mm3")
        assert one.limit == pytest.approx(box_boards.FILM * area)
        assert one.value is not None
        assert 0 <= one.value <= box_boards.FILM * area
    assert [one.part for one in saw] == [one.id for one in boards.values() if one.saw]
    for one in saw:
        assert (one.id, one.status, one.limit, one.unit) == ("box-boards", "pass", box_boards.SAW, "mm")
        assert one.value == pytest.approx(0.0, abs=box_boards.SAW / 2)


def test_narrow_fingers_are_warned_of() -> None:
    """Fingers of 4 mm in boards of 6 are short grain."""
    narrow = make(changed(BOXED, "lid = 24", "lid = 24\nfinger = 4").encode())
    assert [one.status for one in box_fingers.run(evidence())] == ["pass"]
    (finding,) = box_fingers.run(narrow)
    assert finding.status == "warn"
    assert finding.value == pytest.approx(20 / 5)
    assert (finding.id, finding.part, finding.limit, finding.unit) == ("box-fingers", "", 6.0, "mm")
    assert finding.message.startswith("fingers 4.00 mm wide are narrower than the boards' 6 mm, and break out easily")


def test_only_fingers_are_asked_for_their_width() -> None:
    """Of a box that is made, and made so; one as wide as the board is thick will do."""
    case = evidence().casework
    assert case is not None
    (fine,) = box_fingers.run(evidence())
    assert fine.value is not None
    assert fine.message == f"fingers are {fine.value:.2f} mm wide in boards of 6 mm"
    butted = replace(case, shell=replace(case.shell, make=case.shell.make.model_copy(update={"joint": "butt"})))
    assert box_fingers.run(replace(evidence(), casework=butted)) == []
    assert box_fingers.run(replace(evidence(), casework=None)) == []


@pytest.mark.parametrize(
    ("out", "status"),
    [
        (0.0, "pass"),
        (0.0009, "pass"),
        (0.0011, "warn"),
        (8.0, "warn"),
        (19.99, "warn"),
        (20.01, "fail"),
        (21.0, "fail"),
    ],
)
def test_what_stands_out_before_the_opening_is_held_against_the_lid(out: float, status: str) -> None:
    """The lid has 20 mm: 8 mm go into it with 0.17 mm kept off the far side (R = 186: 186 - sqrt(186^2 - 8^2))."""
    first, *others = evidence().panels
    nearest = first.body.vertices[:, 1].min()
    shifted = Mesh(vertices=first.body.vertices - [0, nearest + out, 0], triangles=first.body.triangles)
    (finding,) = lid_closes.run(replace(evidence(), panels=(replace(first, body=shifted), *others)))
    assert finding.status == status
    assert ("0.17 mm" in finding.message) == (out == 8.0)
    assert finding.part == ("" if status == "pass" else first.id)
    assert (finding.id, finding.limit, finding.unit) == ("lid-closes", 20.0, "mm")
    assert finding.value == pytest.approx(out, abs=1e-9)


def test_an_empty_box_closes() -> None:
    """Nothing stands in it, so nothing stands out."""
    (finding,) = lid_closes.run(replace(evidence(), panels=(), bents=(), prints=()))
    assert (finding.part, finding.status, finding.value, finding.limit) == ("", "pass", 0.0, 20.0)
    assert finding.message == "nothing stands out before the rim; the lid has 20 mm"
    case = evidence().casework
    assert case is not None
    in_lid = replace(evidence(), casework=replace(case, shell=replace(case.shell, part="lid")), panels=())
    (finding,) = lid_closes.run(in_lid)
    assert (finding.limit, finding.message) == (85.0, "nothing stands out before the rim; the box has 85 mm")
    assert lid_closes.run(replace(evidence(), casework=None)) == []


def test_a_step_that_only_touches_a_boards_edge_is_no_step() -> None:
    """Rebates may reach past the outline, which bounds them; one that begins there takes nothing away."""
    casework = evidence().casework
    assert casework is not None
    board = casework.boards[0]
    (low_x, low_y), (high_x, high_y) = board.corners.min(axis=0), board.corners.max(axis=0)
    past = Rebate(name="past", low=(high_x, low_y), high=(high_x + 9, high_y), depth=1.0)
    half = Rebate(name="half", low=((low_x + high_x) / 2, low_y), high=(high_x + 9, high_y), depth=1.0)
    assert rebate_rings(replace(board, rebates=(past,))) == []
    (ring,) = rebate_rings(replace(board, rebates=(past, half)))
    assert np.ptp(ring, axis=0) == pytest.approx([(high_x - low_x) / 2, high_y - low_y])


def test_findings_on_the_box_are_whole() -> None:
    """Of every board, and of the box as one."""
    checks = (box_boards.CHECK, box_fingers.CHECK, board_stock.CHECK, lid_closes.CHECK)
    assert hold(evidence(), checks) == {"pass"}
    assert [finding.part for finding in board_stock.run(evidence())] == [
        board.id for board in evidence().boards if board.material
    ]
