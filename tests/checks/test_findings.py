"""What every finding says, whatever it finds: whose question it answers, of which part, and in which unit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from pipeline.build import Build, make
from pipeline.checks import (
    CHECKS,
    bodies_apart,
    in_box,
    panel_feature,
    panel_stock,
    print_bed,
    print_closed,
    print_edges,
    print_wall,
)
from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.written import read_stl
from pipeline.elements.bodies import Solid
from pipeline.exports.stl import write_stl
from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.meshes import Mesh, weld
from pipeline.sheets.gaps import Gap
from tests.checks.holding import ELSEWHERE, hold, hold_finding
from tests.checks.test_panel_checks import moved
from tests.checks.test_print_faithful import PRINTS
from tests.scene_text import COVERED, DOOR, PLAIN, changed

OF_FILES = (print_closed.CHECK, print_wall.CHECK, print_edges.CHECK, print_bed.CHECK)
QUICK = (*OF_FILES, in_box.CHECK, bodies_apart.CHECK, panel_feature.CHECK, panel_stock.CHECK)


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    """Panels with covers and a door; a post, a half pier and an arch."""
    return make((COVERED + DOOR.replace("at = 6.0", "at = 9.0") + PRINTS).encode())


def with_triangles(evidence: Evidence, change: Callable[[Mesh], Mesh]) -> Evidence:
    """Return the evidence with the written file of every print changed."""
    files = dict(evidence.files)
    for part in evidence.prints:
        path = evidence.entries[part.id]["files"]["stl"]
        files[path] = write_stl(change(weld(read_stl(files[path]))), part.id)
    return replace(evidence, files=files)


def with_printer(evidence: Evidence, **keys: object) -> Evidence:
    """Return the evidence with another printer."""
    make_table = evidence.scene.make
    printer = make_table.printer.model_copy(update=keys)
    scene = evidence.scene.model_copy(update={"make": make_table.model_copy(update={"printer": printer})})
    return replace(evidence, scene=scene)


SPOILT: dict[str, Callable[[Evidence], Evidence]] = {
    "a wall out of the box": lambda evidence: moved(evidence, "left-wall", (-1.5, 0, 0)),
    "a wall within others": lambda evidence: moved(evidence, "left-wall", (0.5, 0, 0)),
    "prints torn": lambda evidence: with_triangles(
        evidence, lambda mesh: Mesh(vertices=mesh.vertices, triangles=mesh.triangles[1:])
    ),
    "prints inside out": lambda evidence: with_triangles(
        evidence, lambda mesh: Mesh(vertices=mesh.vertices, triangles=mesh.triangles[:, ::-1].copy())
    ),
    "prints under the bed": lambda evidence: with_triangles(
        evidence, lambda mesh: Mesh(vertices=mesh.vertices - np.array([0, 0, 1.0]), triangles=mesh.triangles)
    ),
    "a small coarse printer": lambda evidence: with_printer(evidence, min_wall=5.0, bed=(9.0, 9.0, 9.0)),
}


def test_every_finding_of_a_good_scene_is_whole(evidence: Evidence) -> None:
    """Id, part, message, and a unit to every figure that is no count."""
    assert hold(evidence, CHECKS) <= {"pass", "warn"}


def test_every_finding_of_the_demo_scenes_is_whole(demo: Build) -> None:
    """As the manifest tells it."""
    findings = [Finding(**{**told, "part": told["part"] or ""}) for told in demo.manifest["checks"]]
    parts = {part["id"] for part in demo.manifest["parts"]}
    boards = {board["id"] for board in (demo.manifest.get("casework") or {}).get("boards", ())}
    others = {finding.part for finding in findings if finding.id in ELSEWHERE}
    assert {finding.id for finding in findings} <= {check.id for check in CHECKS}
    for finding in findings:
        hold_finding(finding, finding.id, parts | boards | others | {""})
    assert {finding.status for finding in findings} <= {"pass", "warn"}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT.keys())
def test_every_finding_of_a_spoilt_scene_is_whole(spoil: Callable[[Evidence], Evidence], evidence: Evidence) -> None:
    """And something fails."""
    assert "fail" in hold(spoil(evidence), QUICK)


@pytest.mark.parametrize("check", OF_FILES, ids=lambda check: check.id)
def test_every_print_is_asked_for_by_its_own_file(check: Check, evidence: Evidence) -> None:
    """In the order of the prints: with one file torn in two, its figure alone changes."""
    parts = [part.id for part in evidence.prints]
    before = check.run(evidence)
    assert [finding.part for finding in before] == parts
    path = evidence.entries[parts[1]]["files"]["stl"]
    mesh = weld(read_stl(evidence.files[path]))
    flat = Mesh(vertices=mesh.vertices * [9.0, 9.0, 0.004], triangles=mesh.triangles)
    after = check.run(replace(evidence, files={**evidence.files, path: write_stl(flat, parts[1])}))
    assert [number for number, pair in enumerate(zip(before, after, strict=True)) if pair[0] != pair[1]] == [1]


def test_walls_are_held_against_the_printers_own_least(evidence: Evidence) -> None:
    """And a printer's bed against its own size."""
    for finding in print_wall.run(with_printer(evidence, min_wall=5.0)):
        assert (finding.status, finding.limit) == ("fail", 5.0)
        assert "5 mm is needed" in finding.message
    for finding in print_bed.run(with_printer(evidence, bed=(9.0, 8.0, 7.0))):
        assert finding.status == "fail"
        assert "on a bed of 9 x 8 x 7 mm" in finding.message
        assert "mm too large; tilt it on the bed, or split it" in finding.message


def test_how_far_a_part_reaches_past_the_box_is_its_figure(evidence: Evidence) -> None:
    """Its leftmost corner against the box's inside, 90 mm from the middle; what lies within reaches past by nothing."""
    spoilt = moved(evidence, "left-wall", (-1.5, 0, 0))
    findings = {finding.part: finding for finding in in_box.run(spoilt)}
    past = -90 - next(panel for panel in spoilt.panels if panel.id == "left-wall").body.vertices[:, 0].min()
    assert 0 < past < 1.5
    assert findings["left-wall"].value == pytest.approx(past, abs=1e-9)
    assert f"reaches {past:.2f} mm out of the box" in findings["left-wall"].message
    within = [finding for part, finding in findings.items() if part != "left-wall"]
    assert {(finding.value, finding.message) for finding in within} == {(0.0, "lies inside the box")}
    assert {(f.limit, f.unit) for f in findings.values()} == {(in_box.ROUNDING, "mm")}


def test_parts_that_keep_clear_are_counted_by_pairs(evidence: Evidence) -> None:
    """n (n - 1) / 2 of them, and the play that prints have."""
    (finding,) = bodies_apart.run(evidence)
    count = len(evidence.parts)
    pairs = count * (count - 1) // 2
    assert finding.message == f"{pairs} pairs of parts compared; none overlap, prints stand off by 0.15 mm"
    assert (finding.part, finding.value, finding.limit) == ("", 0.0, bodies_apart.COMMON_MM3)


def test_a_bar_between_two_windows_is_told_by_its_width() -> None:
    """From 6.80 to 6.85 m, as the relief has it: on a wall that is seen so steeply hardly a third of a millimetre."""
    first = DOOR.replace("height = 3.0", "height = 2.0\nsill = 0.8")
    other = first.replace('"door"', '"other"').replace("at = 6.0", "at = 7.65")
    made = make((PLAIN + first + other).encode())
    findings = {finding.part: finding for finding in panel_feature.run(made)}
    ends = np.array([[made.room.hall.width / 2, y * 1000 / 48, 40.0] for y in (6.8, 6.85)])
    expected = float(np.linalg.norm(np.subtract(*made.room.relief.build_points(ends))))
    narrow = findings["right-wall"]
    assert narrow.status == "warn"
    assert narrow.value is not None
    assert narrow.value == pytest.approx(expected, abs=panel_feature.FOUND_TO)
    assert f"{narrow.value:.2f} mm is narrower than the sheet's 3 mm" in narrow.message
    assert findings["left-wall"].status == "pass"


def test_room_on_a_sheet_is_less_by_both_its_margins() -> None:
    """The lesser side of a sheet may be its first or its second; told is that with least to spare, its 82 mm on 186."""
    for sheet in ("[200, 300]", "[300, 200]"):
        text = changed(PLAIN, "sheet = [300, 200]", f"sheet = {sheet}\nmargin = 7")
        finding = next(f for f in panel_stock.run(make(text.encode())) if f.part == "floor")
        wide, high = (int(side) - 14 for side in sheet.strip("[]").split(", "))
        assert f"on foam {wide} x {high} mm within its margin" in finding.message
        assert (finding.status, finding.limit) == ("pass", 186)
        assert finding.value is not None
        assert round(finding.value) == 82


def test_a_body_wholly_within_another_is_found_though_their_surfaces_are_far_apart() -> None:
    """Two millimetres cubed in the middle of ten: common is all of it, however wide the gap between the surfaces."""
    large = manifold3d.Manifold.cube((10.0, 10.0, 10.0))
    small = manifold3d.Manifold.cube((2.0, 2.0, 2.0)).translate((4.0, 4.0, 4.0))
    for pair in ((large, small), (small, large)):
        finding = bodies_apart.check_pair("one", "other", pair, 4.0, 0.15)
        assert finding is not None
        assert (finding.status, finding.unit) == ("fail", "mm3")
        assert finding.value == pytest.approx(8.0, rel=1e-9)
        assert finding.message.startswith("one and other overlap by 8 mm3")


def test_play_may_be_less_by_a_rounding_and_no_more() -> None:
    """Of the figures in the files; sheets, which need none, may touch."""
    one = manifold3d.Manifold.cube((5.0, 5.0, 5.0))
    for gap, play, status in ((0.148, 0.15, None), (0.14, 0.15, "warn"), (0.0, 0.0, None)):
        finding = bodies_apart.check_pair("one", "other", (one, one.translate((5.0 + gap, 0, 0))), gap, play)
        assert (finding and finding.status) == status


def test_a_print_too_near_a_sheet_is_told(evidence: Evidence) -> None:
    """Let down by 0.1 mm toward the floor a post has less than its play; sheets beside one another need none."""
    prints = []
    for part in evidence.prints:
        body = Mesh(vertices=part.body.vertices - np.array([0, 0, 0.1]), triangles=part.body.triangles)
        prints.append(replace(part, body=body) if part.id == "post" else part)
    findings = bodies_apart.run(replace(evidence, prints=tuple(prints)))
    assert {finding.status for finding in findings} == {"warn"}
    (finding,) = findings
    assert finding.value is not None
    assert finding.limit == 0.15
    assert 0 < finding.value < 0.15
    assert "floor" in finding.message
    assert "less than the play of 0.15 mm" in finding.message


def test_a_part_as_large_as_the_sheet_within_its_margins_fits_to_the_last_bit(evidence: Evidence) -> None:
    """100 x 40 on 120 x 60 with 10 mm all round, or on 60 x 120 turned; with a grain it must not be turned."""
    foam = evidence.scene.materials["foam"]
    for sheet, grain, over in (((120.0, 60.0), False, 0.0), ((60.0, 120.0), False, 0.0), ((60.0, 120.0), True, 60.0)):
        table = foam.model_copy(update={"sheet": sheet, "margin": 10.0, "grain": grain, "offcuts": ()})
        assert panel_stock.best_fit((100.0, 40.0), table)[0] == over


@pytest.mark.parametrize(("solid", "count"), [("post", 0), ("other", 1)])
def test_pieces_of_one_print_may_touch_and_prints_may_not(evidence: Evidence, solid: str, count: int) -> None:
    """Two cubes side by side in mid-air: cut from one thing, or each its own."""
    post = next(part for part in evidence.prints if part.id == "post")
    assert isinstance(post.solid, Solid)
    box = mesh_of(manifold3d.Manifold.cube((4.0, 4.0, 4.0)))
    pieces = []
    for number, (name, x) in enumerate((("post", 0.0), (solid, 4.0)), start=1):
        body = Mesh(vertices=box.vertices + np.array([x, 30.0, 60.0]), triangles=box.triangles)
        pieces.append(replace(post, solid=replace(post.solid, id=name), body=body, piece=number))
    findings = [f for f in bodies_apart.run(replace(evidence, prints=tuple(pieces))) if f.status != "pass"]
    assert [(f.status, f.part, f.value) for f in findings] == [("warn", "post-1", 0.0)] * count


@pytest.mark.parametrize(("build", "limit"), [(None, None), (True, None), (False, 0.6)])
@pytest.mark.parametrize("widest", [0.4, 0.6, 0.7])
def test_the_widest_gap_in_the_opening_is_told(
    monkeypatch: pytest.MonkeyPatch, evidence: Evidence, build: bool | None, limit: float | None, widest: float
) -> None:
    """Of those in the opening, however they are listed; only where the front frame was refused is one wider than the
    clearance and what can be read, 0.5 + 0.1 mm, warned of."""
    gaps = [
        Gap(at="back", part="back wall", corner="upper left", side="top", size=9.0),
        Gap(at="opening", part="sheets", corner="lower right", side="right side", size=0.2),
        Gap(at="opening", part="sheets", corner="upper right", side="top", size=widest),
        Gap(at="opening", part="sheets", corner="lower left", side="left side", size=0.3),
    ]
    monkeypatch.setattr(in_box, "box_gaps", lambda panels, inside: tuple(gaps) if panels and inside else ())
    front = evidence.scene.front.model_copy(update={"build": build})
    *parts, told = in_box.run(replace(evidence, scene=evidence.scene.model_copy(update={"front": front})))
    assert [finding.part for finding in parts] == [part.id for part in evidence.parts]
    wide = build is False and widest > 0.6
    assert (told.id, told.part, told.status) == ("in-box", "", "warn" if wide else "pass")
    assert (told.value, told.unit) == (widest, "mm")
    assert told.limit == (None if limit is None else pytest.approx(limit))
    said = f"the widest gap in the opening is {widest:.2f} mm, between the sheets and the box's top, upper right"
    assert told.message == said + ("; build a front frame, which follows the opening" if wide else "")
    monkeypatch.setattr(in_box, "box_gaps", lambda panels, inside: tuple(gaps[:1]))
    assert [finding.part for finding in in_box.run(evidence)] == [part.id for part in evidence.parts]


@pytest.mark.parametrize(("deep", "status"), [(0.9e-3, None), (1.1e-3, "fail")])
def test_a_film_in_common_is_rounding(deep: float, status: str | None) -> None:
    """Two cubes of 1 mm that share a film of COMMON_MM3, less a tenth or more by one."""
    one = manifold3d.Manifold.cube((1.0, 1.0, 1.0))
    finding = bodies_apart.check_pair("one", "other", (one, one.translate((0, 0, 1 - deep))), 0.0, 0.0)
    assert (finding and finding.status) == status
    assert (finding and finding.part) == (status and "one")
    assert (finding and finding.limit) == (status and bodies_apart.COMMON_MM3)
