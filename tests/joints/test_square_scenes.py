"""Square edges through whole scenes: random ones, steps, strips, refusals and the manifest's figures."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings

from pipeline.build import build_scene, make
from pipeline.checks import CHECKS, bare_box, joint_gaps
from pipeline.checks.evidence import Evidence
from pipeline.geometry import curves, frames
from pipeline.scene.problems import SceneFileError
from tests.scene_text import COVERED, DOOR, PLAIN, changed
from tests.steps.flight_text import ROOM, flight
from tests.strategies import scenes

SQUARE = '\n[make]\nedges = "square"\n'
FILLED = f"{SQUARE}fillets = true\n"
FRAMED = changed(PLAIN, "depth = 12.0", "depth = 12.0\nwidth = 7.2")


@cache
def made(text: str) -> Evidence:
    return make(text.encode())


def failed(evidence: Evidence) -> list[str]:
    return [f"{f.id} {f.part}: {f.message}" for c in CHECKS for f in c.run(evidence) if f.status == "fail"]


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(scenes())
def test_no_check_fails_of_any_scene_cut_square(text: str) -> None:
    """Every check of every part: bodies apart, in the box, faithful, no bare box seen."""
    assert failed(make(text.encode(), (("make.edges", "square"),))) == []


@pytest.mark.parametrize("more", [SQUARE, FILLED, f'{SQUARE}joint = "butt"\n'], ids=["line", "fillets", "butt"])
@pytest.mark.parametrize("text", [ROOM + flight(), ROOM + flight(side="left", width=3.0)], ids=["across", "aside"])
def test_steps_cut_square_keep_apart_and_in_the_box(text: str, more: str) -> None:
    """Every pair of bodies has no common volume (manifold3d), at every nosing too, and no check fails."""
    evidence = made(text + more)
    assert failed(evidence) == []
    for a, b in itertools.combinations(evidence.bodies.values(), 2):
        assert (a ^ b).volume() < 1e-6


def test_a_riser_ends_under_the_tread_by_its_thickness() -> None:
    """psi = 90 + rake at a nosing: the tread keeps its line, the riser stands back by tA sin psi and touches it."""
    evidence = made(ROOM + flight() + SQUARE)
    riser = next(panel for panel in evidence.panels if "riser" in panel.id)
    backs = {edge.against: edge for edge in riser.edges if edge.back > 0}
    (edge,) = backs.values()
    assert edge.angle_deg is not None
    psi = np.radians(360 - edge.angle_deg[0])
    tread = next(panel for panel in evidence.panels if panel.id == edge.against)
    assert edge.back == pytest.approx(tread.thickness * np.sin(psi), rel=1e-9)
    assert edge.gap[1] == pytest.approx(tread.thickness * np.sin(psi) * abs(np.cos(psi)), rel=1e-9)
    assert evidence.bodies[riser.id].min_gap(evidence.bodies[tread.id], 1.0) < 1e-6
    assert all(e.back == 0 for e in tread.edges if e.against == riser.id)


@pytest.mark.parametrize("joint", ["line", "butt"])
def test_no_check_fails_of_the_cistern_cut_square(joint: str) -> None:
    """A lining's tongue covers the floor up to both jambs, though the wall is three times as thick as the floor."""
    text = (Path(__file__).parents[2] / "scenes" / "cistern.toml").read_bytes()
    assert failed(make(text, (("make.edges", "square"), ("make.joint", joint)))) == []


def section(body: manifold3d.Manifold) -> shapely.Geometry:
    """Return what the plane x = 1 has in common with a body."""
    cut = body.rotate((0, -90, 0)).slice(-1.0).to_polygons()
    return shapely.unary_union([shapely.Polygon(loop) for loop in cut])


def test_nothing_is_seen_under_a_nosing() -> None:
    """In section (manifold3d, shapely) the riser's edge holds the tread's hidden corner: no slit is left.

    Back by tA / sin psi, to the tread's hidden plane, it would leave tA cos^2 psi / sin psi to look through.
    """
    evidence = made(ROOM + flight() + SQUARE)
    riser = next(panel for panel in evidence.panels if panel.id == "dais-riser-1")
    (edge,) = [edge for edge in riser.edges if edge.against == "dais-tread-1"]
    assert edge.angle_deg is not None
    psi, thick = np.radians(360 - edge.angle_deg[0]), 2.0
    tread, ends = section(evidence.bodies["dais-tread-1"]), section(evidence.bodies["dais-riser-1"])
    assert tread.intersection(ends).area < 1e-9
    assert tread.distance(ends) < 1e-6
    lower = -(thick / np.sin(psi) - thick * np.sin(psi)) * riser.leaves[0].built_from_flat[:3, 1]
    gaping = section(evidence.bodies["dais-riser-1"].translate(lower))
    assert tread.distance(gaping) == pytest.approx(thick * np.cos(psi) ** 2 / np.sin(psi), rel=1e-6)


def test_rays_past_the_end_of_a_groove_are_told_by_its_joint() -> None:
    """Beside the wall a few rays leave the groove under a nosing: told with its width, warned above max_gap."""
    for limit, status in ((0.5, "pass"), (0.3, "warn")):
        evidence = made(f"{ROOM}{flight()}{SQUARE}max_gap = {limit}\n")
        (found,) = bare_box.run(evidence)
        assert (found.status, found.part) == (status, "dais-riser-1")
        assert found.value is not None
        assert 0 < found.value < 10
        assert "the gap of 0.44 mm that its square edge leaves at dais-tread-1" in found.message


def test_a_missing_wall_is_no_gap_of_any_joint() -> None:
    """Square edges excuse none of the rays that pass where a panel should be."""
    evidence = made(ROOM + flight() + SQUARE)
    riser = {panel.id: panel for panel in evidence.panels}["dais-riser-2"]
    gone = replace(evidence, panels=tuple(panel for panel in evidence.panels if panel is not riser))
    failing = [found for found in bare_box.run(gone) if found.status == "fail"]
    assert sum(found.value or 0 for found in failing) > 100


def test_strips_behind_a_frame_are_cut_unasked_and_hide_the_bare_box() -> None:
    """Without them the eye sees past the frame's inner edge through the corners' wedges."""
    assert failed(made(FRAMED + SQUARE)) == []
    assert any("bare-box" in line for line in failed(made(f"{FRAMED}{SQUARE}fillets = false\n")))


def test_strips_are_parts_like_all_others() -> None:
    """Drawn, nested, on paper, in the manifest; each touches both sheets it is named after."""
    evidence = made(PLAIN + FILLED)
    strips = [panel.id for panel in evidence.panels if panel.id.startswith("fillet")]
    assert len(strips) == 8  # twelve edges of the hall less four at the opening
    nested = {part for sheet in evidence.sheets for part, _ in sheet.placed}
    assert nested >= set(strips)
    for part in strips:
        assert f"panels/{part}.dxf" in evidence.files
        pair = [name for name in evidence.bodies if name in part and not name.startswith("fillet")]
        assert len(pair) == 2
        assert all(evidence.bodies[part].min_gap(evidence.bodies[name], 1.0) < 1e-6 for name in pair)


def test_gaps_stand_in_the_manifest_and_are_warned_above_the_limit() -> None:
    """Butted on the back wall a raked floor's end gapes by t |cos th|: 3 mm at 90 + rake."""
    text = f'{PLAIN}{SQUARE}joint = "butt"\nmax_gap = 0.2\n'
    content = json.loads(build_scene(text.encode(), "room").files["manifest.json"])
    joint = next(j for j in content["joints"] if j["parts"] == ["back-wall", "floor"])
    low, _ = joint["angle_deg"]
    assert joint["through"] == "back-wall"
    assert joint["gap"] == pytest.approx(3 * abs(np.cos(np.radians(low))), abs=1e-5)
    warned = {f.part for f in joint_gaps.run(made(text)) if f.status == "warn"}
    assert "back-wall" in warned
    assert [f.status for f in joint_gaps.run(made(PLAIN))] == ["pass"]


@pytest.mark.parametrize("key", ['joint = "butt"', "fillets = true"])
def test_what_is_of_square_edges_is_refused_beside_a_bevel(key: str) -> None:
    """The message says so, and what to write."""
    with pytest.raises(SceneFileError, match="edges are bevelled"):
        make(f"{PLAIN}\n[make]\n{key}\n".encode())


@pytest.mark.parametrize(
    "text",
    [
        f'{COVERED}{DOOR}{SQUARE}joint = "butt"\n',
        ROOM + flight(cover="flags", rise=0.4) + SQUARE,
    ],
    ids=["butt", "nosings"],
)
def test_guides_end_where_a_sheet_that_stands_back_does(text: str) -> None:
    """No guide goes past the outline (shapely), and each still shows its host line: the lie takes one to the other."""
    evidence = made(text)
    back = [panel for panel in evidence.panels if any(edge.back > 0.1 for edge in panel.edges) and len(panel.guides)]
    assert back
    for panel in back:
        loops = [np.concatenate([curves.flatten(edge.curve, 1e-4)[:-1] for edge in loop]) for loop in panel.cut.loops]
        outline = shapely.Polygon(loops[0], loops[1:])
        past = shapely.length(shapely.difference(shapely.linestrings(panel.guides), outline.buffer(2e-4)))
        assert past.max() < 1e-3  # arcs are flattened within 1e-4, which a guide may cross at a slant
        shown = [frames.apply(panel.leaves[0].flat_from_host, line) for line in panel.guides_host]
        assert np.array(shown) == pytest.approx(panel.guides, abs=1e-6)


def test_hidden_wedges_stand_in_the_manifest_joint_by_joint() -> None:
    """180 - th of each joint on the line; nothing of bevelled or butted ones."""
    joints = json.loads(build_scene((PLAIN + SQUARE).encode(), "room").files["manifest.json"])["joints"]
    assert len(joints) == 8
    for joint in joints:
        assert joint["wedge_deg"] == pytest.approx([180 - angle for angle in reversed(joint["angle_deg"])], abs=1e-5)
    for more in ("", f'{SQUARE}joint = "butt"\n'):
        joints = json.loads(build_scene((PLAIN + more).encode(), "room").files["manifest.json"])["joints"]
        assert [joint["wedge_deg"] for joint in joints] == [None] * 8


def test_at_right_angles_the_through_panel_runs_on_beneath_the_other() -> None:
    """Without relief (3.72 m are the 77.5 mm built) corners are square: on by the other's 3 mm, no gap, no wedge."""
    evidence = made(changed(PLAIN, "depth = 12.0", "depth = 3.72") + SQUARE)
    assert failed(evidence) == []
    edges = [edge for panel in evidence.panels for edge in panel.edges if edge.angle_deg is not None]
    assert {round(edge.back, 6) for edge in edges} == {-3.0, 0.0}
    assert {(edge.gap, edge.wedge_deg) for edge in edges} == {((0.0, 0.0), None)}
    low, high = np.array(evidence.bodies["floor"].bounding_box()).reshape(2, 3)
    assert high[0] - low[0] == pytest.approx(180 - 2 * 0.5)  # 173 mm of hall and twice 3 mm, the box less its play


def test_where_the_box_is_in_the_way_a_run_on_loses_its_corner_and_no_more() -> None:
    """A hall off the eye's axis: the floor runs on beneath the leaning wall in full, t / sin th, up to the box."""
    text = changed(changed(PLAIN, "distance = 420", "distance = 250"), "height = 78", "height = 100\nright = -60")
    evidence = made(f'{text}{SQUARE}joint = "butt"\n')
    assert failed(evidence) == []
    floor = next(panel for panel in evidence.panels if panel.id == "floor")
    (edge,) = [edge for edge in floor.edges if edge.against == "right-wall"]
    assert edge.angle_deg is not None
    assert edge.back == pytest.approx(-3 / np.sin(np.radians(edge.angle_deg[0])), rel=1e-9)
    assert evidence.bodies["floor"].bounding_box()[3] == pytest.approx(90.0, abs=1e-6)
