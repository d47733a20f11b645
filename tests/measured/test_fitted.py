"""Rooms in boxes that are not square: what meets the box is cut to it, the eye stays."""

from __future__ import annotations

import csv
import io
import math
from functools import cache
from typing import Any

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.build import build_scene, make
from pipeline.checks import bare_box, bodies_apart, in_box, panel_faithful, panel_feature, panel_outline
from pipeline.checks.evidence import Evidence
from pipeline.geometry.meshes import Mesh
from pipeline.parts.model import Panel
from pipeline.room.frame import READ
from pipeline.room.measure import measure
from pipeline.scene.read import read_scene

from ..scene_text import PLAIN
from .boxes import BACK, OPENING, border, measured

Array = NDArray[np.float64]

CLEARANCE, SHEET = 0.5, 3.0
HELD = '\n[back]\nextend = "box"\n[supports]\nstringers = 2\nspacers = 2\n'
PASSAGE = """
[[openings]]
name = "stair"
wall = "left"
at = 6.0
width = 1.5
height = 3.0
beyond = "passage"
length = 1.0
"""
CHECKS = (in_box, bodies_apart, bare_box, panel_outline, panel_feature, panel_faithful)
DEPTHS = (84.6, 85.2, 85.45, 84.8)
LEANING = measured(border(OPENING), border(BACK))


@cache
def made(text: str) -> Evidence:
    return make(text.encode())


def not_passed(evidence: Evidence) -> list[str]:
    return [f.message for check in CHECKS for f in check.run(evidence) if f.status != "pass"]


def panel(evidence: Evidence, part: str) -> Panel:
    return next(panel for panel in evidence.panels if panel.id == part)


def outline_built(one: Panel) -> Array:
    """Return the corners of a panel's visible outline, built (x, y, z)."""
    corners = np.array([[*edge.curve.start, 0.0, 1.0] for edge in one.cut.outline])
    return (corners @ one.leaves[0].built_from_flat.T)[:, :3]


def ruled(evidence: Evidence, steps: int = 40) -> manifold3d.Manifold:
    """Return the inside of a box as its walls are ruled from arris to arris, in fine strips."""
    inside, share = evidence.room.inside, np.linspace(0, 1, steps + 1)[:, None, None]
    rings = inside.opening + share * (inside.back - inside.opening)
    vertices, triangles = rings.reshape(-1, 3), []
    for ring in range(steps):
        for k in range(4):
            a, b = 4 * ring + k, 4 * ring + (k + 1) % 4
            triangles += [(a, b + 4, b), (a, a + 4, b + 4)]
    last = 4 * steps
    triangles += [(0, 1, 2), (0, 2, 3), (last, last + 2, last + 1), (last, last + 3, last + 2)]
    body = manifold3d.Manifold(manifold3d.Mesh64(vertices, np.array(triangles, dtype=np.uint64)))
    assert body.status() == manifold3d.Error.NoError
    assert body.volume() > 0
    return body


@pytest.mark.parametrize("more", ["", HELD, PASSAGE, HELD + PASSAGE, "[front]\nbuild = true\n"])
@pytest.mark.parametrize("depths", [(), DEPTHS])
def test_leaning_box_passes_its_checks(more: str, depths: tuple[float, ...]) -> None:
    """Everything fits a box whose opening leans one way and whose back leans the other, flat-backed or not."""
    evidence = made(measured(border(OPENING), border(BACK), depths) + more)
    assert not_passed(evidence) == []
    inside = ruled(evidence)
    for part, body in evidence.bodies.items():
        assert (body - inside).volume() < 1e-3, part


def test_hall_is_the_largest_that_both_borders_leave() -> None:
    """Brute force over widths: the highest rectangle with its clearance in both borders, by shapely's own inset."""
    _, hall = made(LEANING), measure(read_scene(LEANING)).hall
    rooms = []
    for corners in (OPENING, BACK):
        a, b, c, d = corners
        foot = [a + (a - d) / 15, b + (b - c) / 15]  # the bottom needs no clearance: the sides are carried on under it
        low = np.array([*foot, c, d])
        rooms.append(shapely.Polygon(low).buffer(-CLEARANCE, join_style="mitre"))
    room = rooms[0] & rooms[1]

    def fits(width: float, height: float) -> bool:
        half = width / 2 + SHEET
        return bool(room.buffer(1e-5).contains(shapely.box(-half, 0.0, half, height + 2 * SHEET)))

    def highest(width: float) -> float:
        low, high = 0.0, 160.0
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if fits(width, middle) else (low, middle)
        return low

    best = max(width * highest(width) for width in np.arange(150.0, 176.0, 0.02))
    assert fits(hall.width, hall.height)
    assert hall.width * hall.height == pytest.approx(best, rel=2e-4)
    assert hall.width * hall.height >= best - 1e-6 * best


@pytest.mark.parametrize(("width", "height"), [(8.0, None), (None, 6.5), (7.5, 6.0)])
def test_a_given_size_leaves_the_other_the_most(width: float | None, height: float | None) -> None:
    """What the scene gives stays; the size left out is so great that a tenth of a millimetre more does not fit."""
    more = "".join(f"{key} = {size}\n" for key, size in (("width", width), ("height", height)) if size is not None)
    hall = measure(read_scene(LEANING.replace("depth = 12.0\n", f"depth = 12.0\n{more}"))).hall
    mm = 1000 / 48
    assert width is None or hall.width == pytest.approx(width * mm)
    assert height is None or hall.height == pytest.approx(height * mm)
    half, top = hall.width / 2 + SHEET, hall.height + 2 * SHEET
    gaps = []
    for corners in (OPENING, BACK):
        sides = [shapely.LineString([corners[i], corners[i + 1]]) for i in (1, 2)] + [
            shapely.LineString([corners[3], corners[0]])
        ]
        gaps += [side.distance(shapely.box(-half, 0.0, half, top)) for side in sides]
    if width is None or height is None:
        assert min(gaps) == pytest.approx(CLEARANCE, abs=1e-4)
    assert min(gaps) > CLEARANCE - 1e-4


def test_too_wide_a_hall_is_refused_with_what_the_box_leaves() -> None:
    """8.6 m at 1:48 are 179.2 mm: wider than the leaning box leaves between its sheets."""
    with pytest.raises(Exception, match="the box leaves 16"):
        measure(read_scene(LEANING.replace("depth = 12.0\n", "depth = 12.0\nwidth = 8.6\n")))


def test_front_frame_follows_the_opening() -> None:
    """Its outer edges lie a clearance within the measured opening, by shapely's inset; the bottom is stood on."""
    frame = outline_built(panel(made(LEANING), "front-frame"))
    assert frame[:, 1] == pytest.approx(np.zeros(4), abs=1e-9)
    sides = [shapely.LineString([OPENING[i], OPENING[(i + 1) % 4]]) for i in range(4)]
    outline = shapely.Polygon(frame[:, [0, 2]])
    for index, side in enumerate(sides):
        distances = sorted(side.distance(shapely.Point(p)) for p in frame[:, [0, 2]])[:2]
        assert distances == pytest.approx([0.0, 0.0] if index == 0 else [CLEARANCE] * 2, abs=1e-4)
    assert shapely.Polygon(OPENING).buffer(1e-6).contains(outline)


@pytest.mark.parametrize(("lean", "built"), [(0.05, False), (1.0, True)])
def test_frame_is_built_where_the_wedge_shows_more_than_the_clearance(lean: float, built: bool) -> None:
    """A top moved aside by 1 mm gapes twice as wide as the clearance there; by 0.05 mm is less than a rule reads."""
    square = np.array([(-90.0, 0.0), (90.0, 0.0), (90.0 + lean, 150.0), (-90.0 + lean, 150.0)])
    text = measured(border(square), border(square))
    ids = {one.id for one in made(text).panels}
    assert ("front-frame" in ids) == built


def test_wedge_left_bare_is_told() -> None:
    """Without a frame the widest gap is the box's lean and the clearance: 1 mm at the top, and as much at the foot."""
    square = np.array([(-90.0, 0.0), (90.0, 0.0), (91.0, 150.0), (-89.0, 150.0)])
    evidence = made(measured(border(square), border(square)) + "[front]\nbuild = false\n")
    (found,) = [f for f in in_box.run(evidence) if f.status == "warn"]
    assert found.value == pytest.approx(CLEARANCE + 2.0, abs=SHEET * (1 - math.cos(math.radians(16))))  # it leans in
    assert "front frame" in found.message
    assert (found.id, found.part, found.limit, found.unit) == ("in-box", "", CLEARANCE + READ, "mm")
    assert found.message.startswith(f"the widest gap in the opening is {found.value:.2f} mm, between the ")


def test_a_gap_no_wider_than_the_clearance_passes_with_its_figure() -> None:
    """Left bare, where its lean and the sheets' use up what may be misread; with a frame there is no limit for it."""
    bare = CLEARANCE + READ
    for lean, build, limit, status in (
        (0.01, "false", bare, "pass"),
        (0.03, "false", bare, "warn"),
        (1.0, "true", None, "pass"),
    ):
        leaning = np.array([(-90.0, 0.0), (90.0, 0.0), (90.0 + lean, 150.0), (-90.0 + lean, 150.0)])
        evidence = made(measured(border(leaning), border(leaning)) + f"[front]\nbuild = {build}\n")
        (found,) = [f for f in in_box.run(evidence) if f.part == ""]
        assert (found.status, found.limit, found.unit) == (status, limit, "mm")
        assert ("build a front frame, which" in found.message) == (status == "warn")


def test_back_wall_drawn_out_follows_the_box() -> None:
    """Where it stands, its edges keep the clearance to the walls and no more, by the ruled walls' own section."""
    evidence = made(measured(border(OPENING), border(BACK), DEPTHS) + HELD)
    wall, inside = panel(evidence, "back-wall"), evidence.room.inside
    depth = evidence.room.relief.built_depth
    share = ((depth - 0.0) / inside.back[:, 1])[:, None]
    section = (inside.opening + share * (inside.back - inside.opening))[:, [0, 2]]
    points = outline_built(wall)[:, [0, 2]]
    for k in (1, 2, 3):
        side = shapely.LineString([section[k], section[(k + 1) % 4]])
        near = sorted(side.distance(shapely.Point(p)) for p in points)[:2]
        assert CLEARANCE - 1e-3 <= near[0] <= near[1] <= CLEARANCE + 0.2
    assert points[:, 1].min() == pytest.approx(0.0, abs=1e-9)


def test_back_keeps_its_gap_to_a_leaning_back() -> None:
    """Nothing stands nearer to the back, anywhere, than the gap and the clearance."""
    evidence = made(measured(border(OPENING), border(BACK), DEPTHS) + HELD)
    plane = evidence.room.inside.planes["back-wall"]
    assert plane[:3] == pytest.approx([0, -1, 0], abs=0.02)
    nearest = min(float((one.body.vertices @ plane[:3] + plane[3]).min()) for one in evidence.panels)
    assert nearest >= 4.0 + CLEARANCE - 1e-6


def test_spacers_reach_the_side_they_lie_against() -> None:
    """Each stands off the box's side by the clearance at its nearest, and by little more along all of its edge."""
    back = OPENING - [(-0.3, 0), (0.3, 0), (0.4, 0.2), (-0.1, 0.3)]
    evidence = made(measured(border(OPENING), border(back)) + HELD)
    inside, found = ruled(evidence, 200), 0
    for one in evidence.panels:
        if "spacer" in one.id:
            side = -1.0 if one.id.startswith("left") else 1.0
            points = one.body.vertices
            edge = points[side * points[:, 0] > 0]
            far = np.array(sorted(edge.tolist(), key=lambda p: -side * p[0])[:4])
            reach = []
            for x, y, z in far:
                thin = manifold3d.Manifold.cube([30.0, 1e-3, 1e-3], False).translate(
                    [x if side > 0 else x - 30.0, y - 5e-4, z - 5e-4]
                )
                low = (thin ^ inside).bounding_box()
                reach.append(low[3] - low[0])
            assert min(reach) >= CLEARANCE - 0.02
            assert max(reach) <= CLEARANCE + 0.35
            found += 1
    assert found >= 4


def test_spacers_keep_out_of_the_front_frame() -> None:
    """Beside a hall much narrower than its box the strips begin behind the frame, not in it."""
    text = PLAIN.replace("depth = 12.0\n", "depth = 12.0\nwidth = 7.5\n") + "[supports]\nspacers = 2\n"
    evidence = made(text)
    assert {"front-frame", "left-spacer-1"} <= {one.id for one in evidence.panels}
    assert bodies_apart.run(evidence)[0].status == "pass"


def test_gaps_are_told_in_manifest_measures_and_page() -> None:
    """The frame's least gaps, against point to line distances of the corners given; the same figures in all three."""
    build = build_scene(LEANING.encode(), "room")
    box: dict[str, Any] = build.manifest["box"]
    assert np.array(box["opening"])[:, [0, 2]] == pytest.approx(OPENING, abs=1e-5)
    frame = [gap["size"] for gap in box["gaps"] if gap["at"] == "opening"]
    behind = OPENING + SHEET / 85 * (BACK - OPENING)  # the frame's hidden face, where the box is narrower or wider
    corners = [shapely.Point(p) for p in outline_built(panel(made(LEANING), "front-frame"))[:, [0, 2]]]
    sides = {k: shapely.LineString([behind[k], behind[(k + 1) % 4]]) for k in (1, 2, 3)}
    near = [[side.distance(corner) for corner in corners if side.distance(corner) < 1] for side in sides.values()]
    assert sorted(frame) == pytest.approx(sorted(min(one, CLEARANCE) for two in near for one in two), abs=0.01)
    rows = [row for row in csv.reader(io.StringIO(build.files["measures.csv"].decode())) if row[0] == "box"]
    assert [float(row[3]) for row in rows] == pytest.approx([round(gap["size"], 2) for gap in box["gaps"]], abs=0.006)
    assert b"to the box, behind the front frame" in build.files["report.html"]
    assert abs(box["over"]["opening"]["rising"]) < 1e-5


def test_part_past_a_twisted_wall_is_found() -> None:
    """A block pushed 0.2 mm past the wall's ruled surface fails; one 0.2 mm short of its inner fold passes."""
    inside = made(LEANING).room.inside
    rng = np.random.default_rng(5)
    solid = ruled(made(LEANING), 200)
    for _ in range(60):
        middle = np.array([rng.uniform(-92, 92), rng.uniform(2, 83), rng.uniform(2, 151)])
        cube = manifold3d.Manifold.cube([2.0, 2.0, 2.0], True).translate(middle.tolist())
        mesh = cube.to_mesh64()
        past = inside.past(
            Mesh(vertices=np.array(mesh.vert_properties)[:, :3], triangles=np.array(mesh.tri_verts, dtype=np.int64))
        )
        out = (cube - solid).volume()
        if past <= 0:
            assert out < 1e-3
        if out > 1.0:
            assert past > 1e-3


@settings(max_examples=5)
@given(st.lists(st.floats(-2.5, 2.5), min_size=16, max_size=16), st.sampled_from(["", HELD]))
def test_any_box_a_few_millimetres_off_is_filled_without_a_clash(off: list[float], more: str) -> None:
    """Every corner up to 2.5 mm from where a square box has it, borders standing on their bottoms: all fits."""
    square = np.array([(-90.0, 0.0), (90.0, 0.0), (90.0, 150.0), (-90.0, 150.0)])
    borders = np.array(off).reshape(2, 4, 2) + square
    borders[:, :2, 1] = 0.0
    evidence = make((measured(border(borders[0]), border(borders[1])) + more).encode())
    assert not_passed(evidence) == []
    inside = ruled(evidence)
    assert max((body - inside).volume() for body in evidence.bodies.values()) < 1e-3


def test_eye_stays() -> None:
    """The box's shape moves walls, not the eye."""
    assert made(LEANING).room.relief.eye == made(PLAIN).room.relief.eye == (0.0, -420.0, 78.0)
    assert math.isclose(made(LEANING).room.relief.apparent_depth, 250.0)
