"""Checks on panels and bodies that must catch what is wrong."""

from __future__ import annotations

import re
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from pipeline.build import make
from pipeline.checks import bare_box, bodies_apart, in_box, panel_feature, panel_outline, panel_stock
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.checks.panel_feature import narrowest
from pipeline.exports.drawing import COLOURS, Layer, Shape
from pipeline.exports.dxf import write_dxf
from pipeline.exports.panel_drawing import draw_panel
from pipeline.geometry import curves
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Region, loop_of

from ..scene_text import COVERED, DOOR, PLAIN, changed


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    return make((COVERED + DOOR).encode())


def moved(evidence: Evidence, part: str, by: tuple[float, float, float]) -> Evidence:
    """Return the evidence with one panel pushed somewhere else."""
    panels = []
    for panel in evidence.panels:
        if panel.id != part:
            panels.append(panel)
            continue
        body = Mesh(vertices=panel.body.vertices + np.array(by), triangles=panel.body.triangles)
        seen = Mesh(vertices=panel.visible.vertices + np.array(by), triangles=panel.visible.triangles)
        panels.append(replace(panel, body=body, visible=seen))
    return replace(evidence, panels=tuple(panels))


def failing(findings: list[Finding]) -> set[str]:
    return {finding.part for finding in findings if finding.status == "fail"}


def test_a_part_outside_the_box_is_found(evidence: Evidence) -> None:
    """Half a millimetre of clearance is used up, then the wall stands in the board."""
    assert failing(in_box.run(evidence)) == set()
    assert failing(in_box.run(moved(evidence, "left-wall", (-1.5, 0, 0)))) == {"left-wall"}


def test_parts_that_overlap_are_found(evidence: Evidence) -> None:
    """The left wall pushed half a millimetre into the room cuts into floor, ceiling and back wall."""
    assert failing(bodies_apart.run(evidence)) == set()
    findings = bodies_apart.run(moved(evidence, "left-wall", (0.5, 0, 0)))
    assert {finding.status for finding in findings} == {"fail"}
    assert len(findings) >= 2


@pytest.mark.parametrize(
    ("at", "status", "value"),
    [(4.0, "fail", 8.0), (9.0, "fail", 4.0), (10.1, "warn", 0.1), (10.2, None, None)],
    ids=["within", "half out", "too near", "apart"],
)
def test_a_print_within_another_is_found_though_no_surfaces_are_near(
    at: float, status: str | None, value: float | None
) -> None:
    """A cube of 2 mm in, across, and beside one of 10 mm; the play is 0.15 mm."""
    large = manifold3d.Manifold.cube((10.0, 10.0, 10.0))
    small = manifold3d.Manifold.cube((2.0, 2.0, 2.0)).translate((at, 4.0, 4.0))
    for one, other in ((large, small), (small, large)):
        finding = bodies_apart.check_pair("one", "other", (one, other), one.min_gap(other, 0.35), 0.15)
        assert (finding and finding.status) == status
        assert (finding and finding.value) == pytest.approx(value)


def test_the_bare_box_is_found_where_a_wall_is_missing(evidence: Evidence) -> None:
    """Without its back wall the room ends on the box; rays through the door do not count."""
    assert bare_box.run(evidence)[0].status == "pass"
    bare = bare_box.run(moved(evidence, "back-wall", (0, 0, 40)))
    assert [finding.status for finding in bare] == ["fail"]
    assert "back-wall" in bare[0].message


@pytest.mark.parametrize(("finish", "status"), [(1.0, "pass"), (0.0, "fail")])
def test_a_finish_stands_before_its_sheet_and_closes_the_room(evidence: Evidence, finish: float, status: str) -> None:
    """The sheets carried off, what is laid on them still ends every ray; without a finish there is nothing."""
    panels = []
    for panel in evidence.panels:
        body = Mesh(vertices=panel.body.vertices + np.array([0.0, 0.0, 999.0]), triangles=panel.body.triangles)
        panels.append(replace(panel, body=body, finish=finish))
    assert [finding.status for finding in bare_box.run(replace(evidence, panels=tuple(panels)))] == [status]


def test_a_surface_left_out_on_purpose_only_warns() -> None:
    """``build = false`` is the maker's wish."""
    findings = bare_box.run(make((PLAIN + "[ceiling]\nbuild = false\n").encode()))
    assert [finding.status for finding in findings] == ["warn"]


def test_a_panel_larger_than_its_sheet_fails() -> None:
    """Said with both sizes, either way round."""
    findings = panel_stock.run(make(changed(PLAIN, "sheet = [300, 200]", "sheet = [150, 170]").encode()))
    assert {finding.part for finding in findings if finding.status == "fail"} == {"floor", "ceiling"}
    assert "too large" in next(f.message for f in findings if f.part == "floor")


def test_a_panel_too_large_is_told_where_to_part() -> None:
    """The floor, 173 wide on its visible face, on 100 x 120 within its margin: across its middle."""
    text = changed(PLAIN, "sheet = [300, 200]", "sheet = [110, 130]")
    finding = next(f for f in panel_stock.run(make(text.encode())) if f.part == "floor")
    words = re.findall(r"cut it in 2 from \(([\d.]+), [\d.]+\) to \(([\d.]+), [\d.]+\)", finding.message)
    assert finding.status == "fail"
    assert [float(x) for x in words[0]] == pytest.approx([173 / 2, 173 / 2], abs=0.06)


def test_a_panel_that_fits_an_offcut_alone_passes() -> None:
    """A sheet too small, an offcut large enough: laid there, and no failure."""
    text = changed(PLAIN, "sheet = [300, 200]", "sheet = [60, 60]\noffcuts = [[200, 200, 20]]")
    evidence = make(text.encode())
    assert all(finding.status == "pass" for finding in panel_stock.run(evidence))
    assert {sheet.size for sheet in evidence.sheets} == {(200.0, 200.0)}
    assert sum(len(sheet.placed) for sheet in evidence.sheets) == len(evidence.cut_parts)


def test_with_a_grain_a_panel_must_fit_as_it_lies() -> None:
    """The back wall is wider than high: on a narrow, high sheet it fits turned, which a grain forbids. Told is the side
    that lacks most, against the room it lacks: 290 mm the other way are no limit that 179 mm fails."""
    for grain in (False, True):
        text = changed(PLAIN, "sheet = [300, 200]", f"sheet = [152, 300]\ngrain = {str(grain).lower()}")
        findings = {finding.part: finding for finding in panel_stock.run(make(text.encode()))}
        assert findings["floor"].status == ("fail" if grain else "pass")
        for one in findings.values():
            assert one.value is not None
            assert one.limit is not None
            assert (one.status == "fail") == (one.value > one.limit)


@pytest.mark.parametrize("gap", [0.6, 1.4, 2.5])
def test_the_narrowest_bridge_is_measured(gap: float) -> None:
    """A hole ``gap`` from the edge of a plate leaves a bridge as wide; a 3 mm sheet warns, a thin one does not."""
    hole = curves.reverse_path(curves.polygon([(gap, 10), (20, 10), (20, 30), (gap, 30)]))
    plate = Region(loop_of(curves.polygon([(0, 0), (60, 0), (60, 40), (0, 40)])), (loop_of(hole),))
    assert narrowest(plate, 3.0) == pytest.approx(gap, abs=0.01)
    assert narrowest(plate, gap * 0.9) is None


def test_a_narrow_hole_is_measured() -> None:
    """A slot narrower than the sheet is thick is as bad as a narrow bridge."""
    slot = curves.reverse_path(curves.polygon([(20, 10), (21.2, 10), (21.2, 30), (20, 30)]))
    plate = Region(loop_of(curves.polygon([(0, 0), (60, 0), (60, 40), (0, 40)])), (loop_of(slot),))
    assert narrowest(plate, 3.0) == pytest.approx(1.2, abs=0.01)


def test_the_door_leaves_nothing_too_narrow(evidence: Evidence) -> None:
    """And is said so for every panel."""
    assert {finding.status for finding in panel_feature.run(evidence)} == {"pass"}


def with_shapes(evidence: Evidence, part: str, extra: list[Shape]) -> Evidence:
    panel = next(panel for panel in evidence.panels if panel.id == part)
    drawing = draw_panel(panel, COLOURS)
    drawing = replace(drawing, shapes=(*drawing.shapes, *extra))
    return replace(evidence, files={**evidence.files, f"panels/{part}.dxf": write_dxf(drawing, 0.02)})


def test_true_outlines_have_no_faults(evidence: Evidence) -> None:
    """Closed, simple, cut once: said of each part that is cut."""
    said = "every outline is closed, none crosses itself, no line is cut twice"
    findings = panel_outline.run(evidence)
    assert [one.part for one in findings] == [part.id for part in evidence.cut_parts]
    for one in findings:
        assert (one.id, one.status, one.value, one.limit) == ("panel-outline", "pass", 0.0, 0.0)
        assert (one.unit, one.message) == ("faults", said)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(10, 10), (40, 40), (40, 10), (10, 40)], "crosses itself"),
        ([(-10, 10), (40, 10), (40, 40), (-10, 40)], "touch, cross or run"),
    ],
)
def test_bad_outlines_are_found(evidence: Evidence, points: list[tuple[float, float]], words: str) -> None:
    """A bow-tie, and a hole that runs over the outline."""
    bad = with_shapes(evidence, "floor", [Shape(layer=Layer.HOLES, path=curves.polygon(points))])
    finding = next(finding for finding in panel_outline.run(bad) if finding.part == "floor")
    assert finding.status == "fail"
    assert words in finding.message


def test_a_line_cut_twice_is_found(evidence: Evidence) -> None:
    """The same guide drawn again, the other way round."""
    panel = next(panel for panel in evidence.panels if panel.id == "floor")
    twice = replace(panel, guides=np.concatenate([panel.guides, panel.guides[3:4, ::-1]]))
    files = {**evidence.files, "panels/floor.dxf": write_dxf(draw_panel(twice, COLOURS), 0.02)}
    finding = next(f for f in panel_outline.run(replace(evidence, files=files)) if f.part == "floor")
    assert (finding.status, finding.value) == ("fail", 1.0)
    assert finding.message == "1 guides are drawn twice; do not cut this, report the scene"


def test_walls_end_flat_on_the_front_frame() -> None:
    """A steep room behind a frame: front edges lie in the frame's back plane, and nothing bare is seen."""
    text = changed(PLAIN, "depth = 12.0", "depth = 24.0\nwidth = 6.0\nheight = 5.0")
    made = make(text.encode())
    for panel in made.panels:
        if panel.id in ("floor", "ceiling", "left-wall", "right-wall"):
            y = panel.body.vertices[:, 1]
            assert y.min() == pytest.approx(3.0)
            assert (abs(y - 3.0) < 1e-9).sum() == 4, "both the visible and the hidden edge"
    assert [finding.status for finding in bare_box.run(made)] == ["pass"]
