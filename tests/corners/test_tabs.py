"""Tabs and slots: a sheet pushed through another by solid geometry, against the widths drawn."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import manifold3d
import numpy as np
import pytest
import shapely

from pipeline.checks import CHECKS, bare_box, corners_hidden, joint_gaps
from pipeline.checks.slits import slits_of
from pipeline.checks.written import polyline_points, read_dxf
from pipeline.parts.model import Panel
from pipeline.parts.tabs import slot_width, tab_ease, tab_length

from ..scene_text import changed
from .rooms import DOOR, FLAPS, TABS, build, clashes, made, panel

WRITTEN_MM3 = 5e-3
"""Coordinates are written to 1e-6 mm: of a seam of 200 mm on a sheet 3 mm thick that is 6e-4 mm^3 to a face, and eight
faces meet there at most."""

LIGHT = DOOR + 'beyond = "light"\n'


def crossing(th: float, through: float, ending: float) -> tuple[float, float, float]:
    """Return v from where to where a sheet that leans at th goes through a slab, and how far its square tab may go.

    The slab fills z in [-through, 0]; the sheet's visible face goes through the origin, the room lies at v < 0.
    """
    inward = np.array([-math.cos(th), math.sin(th)])
    behind = np.array([math.sin(th), math.cos(th)])
    corners = [s * inward + d * behind for s, d in ((-40, 0), (40, 0), (40, ending), (-40, ending))]
    sheet = shapely.Polygon(corners)
    inside = sheet & shapely.box(-100, -through, 100, 0)
    below = sheet & shapely.LineString([(-100, -through), (100, -through)])
    reach = min(np.dot(p, -inward) for p in np.asarray(below.coords))
    return inside.bounds[0], inside.bounds[2], float(reach)


@pytest.mark.parametrize("th_deg", [72.0, 85.0, 90.0, 94.0, 104.0, 109.0])
@pytest.mark.parametrize(("through", "ending"), [(3.0, 3.0), (3.0, 5.0), (6.0, 2.0)])
def test_slot_and_tab_are_what_a_leaning_sheet_needs(th_deg: float, through: float, ending: float) -> None:
    """Plane geometry by shapely: the sheet within the slab, its far side, and where its tab comes out of it."""
    th = math.radians(th_deg)
    low, high, reach = crossing(th, through, ending)
    assert slot_width(th, through, ending) == pytest.approx(high)
    assert tab_length(th, through, ending) == pytest.approx(reach)
    tip = tab_length(th, through, ending) * math.cos(th)  # v of the visible arris at the tip
    assert tab_ease(th, through, ending) == pytest.approx(max(0.0, -tip) / math.sin(th))
    assert low <= min(0.0, tip) + 1e-9


@pytest.mark.parametrize("more", ["", LIGHT, "[front]\nbuild = true\n", 'edges = "square"\n'])
def test_tabs_take_no_room_of_anything(more: str) -> None:
    """Every closed body against every other: tabs lie within their slots. Behind a frame no corner gapes."""
    evidence = made(TABS + more if more.startswith("edges") else TABS.replace("[make]", more + "[make]"))
    kinds = [one.kind for one_panel in evidence.panels for one in one_panel.additions]
    assert kinds.count("tab") == kinds.count("lug") >= 8
    assert clashes(evidence) == {}
    assert [f.message for check in CHECKS for f in check.run(evidence) if f.status == "fail"] == []


def test_tab_goes_through_its_slot_and_no_farther() -> None:
    """Each tab's body lies between the visible and the hidden face of the sheet it goes through, inside the slot."""
    evidence = made(TABS)
    for one in evidence.panels:
        for tab in (added for added in one.additions if added.kind == "tab"):
            other = panel(evidence, tab.against)
            points = np.column_stack([tab.body.vertices, np.ones(len(tab.body.vertices))])
            flat = np.linalg.inv(other.leaves[0].built_from_flat) @ points.T
            assert -3.0 - 1e-6 <= flat[2].min() <= -2.0
            assert flat[2].max() <= 1e-6
            spot = shapely.MultiPoint(flat[:2].T).convex_hull
            lugs = [lug for lug in other.additions if lug.slot is not None and lug.against == one.id]
            slots = [shapely.Polygon(lug.slot) for lug in lugs]
            (slot,) = [slot for slot in slots if slot.intersects(spot)]
            assert slot.buffer(1e-6).contains(spot)


def test_slots_are_kerf_aware_on_the_sheet() -> None:
    """With a kerf k the slot's path is k smaller each way, so the slot cut is the tab and its play; read by DXF."""
    kerf, play = 0.2, 0.1
    text = changed(TABS, 'process = "knife"', f'process = "laser"\nkerf = {kerf}')
    floor = panel(made(text), "floor")
    lug = next(one for one in floor.additions if one.kind == "lug")
    assert lug.slot is not None
    nominal = shapely.Polygon(lug.slot)
    normals = [one.leaves[0].built_from_flat[:3, 2] for one in (floor, panel(made(text), lug.against))]
    th = math.acos(-normals[0] @ normals[1])
    wide, long = sorted(np.linalg.norm(np.diff(np.asarray(nominal.exterior.coords), axis=0), axis=1)[:2])
    assert wide == pytest.approx(slot_width(th, 3.0, 3.0) + play)
    assert long == pytest.approx(12.0 + play)
    holes = [
        shapely.Polygon(polyline_points(line, 0.002))
        for name, data in build(text).files.items()
        if name.startswith("sheets/") and name.endswith(".dxf")
        for line in read_dxf(data).layers["HOLES"].polylines
    ]
    assert any(hole.area == pytest.approx((wide - kerf) * (long - kerf), abs=0.01) for hole in holes)


def test_tabs_are_hidden() -> None:
    """No ray from the eye box ends on a tab, a lug or in a slot."""
    (found,) = corners_hidden.run(made(TABS))
    assert found.status == "pass"


def test_lugs_stay_in_the_box() -> None:
    """Lugs stand only where the hall has shrunk enough: none of them reaches past box or clearance."""
    evidence = made(TABS)
    for one in evidence.panels:
        assert evidence.room.inside.past(one.body) <= 1e-6
        for added in (added for added in one.additions if added.kind != "strip"):
            assert np.abs(added.body.vertices[:, 0]).max() <= 90.0


def test_joint_too_far_from_square_stays_plain() -> None:
    """A hall squeezed so hard that its back corners open to more than 110 degrees has no tabs there."""
    text = changed(changed(TABS, "depth = 12.0", "depth = 60.0"), "distance = 420", "distance = 200")
    evidence = made(text)
    normals = {one.id: one.leaves[0].built_from_flat[:3, 2] for one in evidence.panels}
    th = math.degrees(math.acos(-normals["back-wall"] @ normals["left-wall"]))
    assert th > 110
    assert all(one.against != "left-wall" for one in panel(evidence, "back-wall").additions)
    assert clashes(evidence) == {}


def test_a_slot_cut_too_narrow_would_clash() -> None:
    """The clash test sees half a millimetre: the same tab against a slot from the visible line, 0.5 mm narrower."""
    evidence = made(TABS)
    wall = panel(evidence, "left-wall")
    tab = next(one for one in wall.additions if one.kind == "tab" and one.against == "floor")
    floor = panel(evidence, "floor")
    lug = next(one for one in floor.additions if one.against == "left-wall" and one.kind == "lug")
    moved = lug.body.vertices - 0.6 * np.array([-1.0, 0.0, 0.0])
    body = manifold3d.Manifold(manifold3d.Mesh64(moved, lug.body.triangles.astype(np.uint64)))
    other = manifold3d.Manifold(manifold3d.Mesh64(np.array(tab.body.vertices), tab.body.triangles.astype(np.uint64)))
    assert (body ^ other).volume() > 1.0


@pytest.mark.parametrize("more", ["", 'joint = "butt"\n', "fillets = true\n"])
def test_parts_cut_square_as_drawn_go_together_but_for_the_tips_of_tabs(more: str) -> None:
    """What a laser leaves is each written outline straight through the sheet.

    Placed by the manifest, parts then share no more than what is pared off each tab's visible arris, a prism over the
    triangle that reaches L = `tab_length` from the line and L |cot th| deep: volume = length L^2 |cot th| / 2.
    """
    text = f'{TABS}edges = "square"\n{more}'
    result, evidence = build(text), made(text)
    entries = {entry["id"]: entry for entry in result.manifest["parts"]}
    bodies = {part: cut_square(entry, result.files[entry["files"]["dxf"]]) for part, entry in entries.items()}
    shared: dict[frozenset[str], float] = {}
    for a, b in combinations(bodies, 2):
        shared[frozenset((a, b))] = (bodies[a] ^ bodies[b]).volume()
    pared: dict[frozenset[str], float] = dict.fromkeys(shared, 0.0)
    for one in evidence.panels:
        for tab in (added for added in one.additions if added.kind == "tab"):
            th = room_angle(one, panel(evidence, tab.against))
            size = tab_length(th, 3.0, 3.0)
            long = float(np.linalg.norm(tab.chain[2] - tab.chain[1]))
            pared[frozenset((one.id, tab.against))] += long * size**2 * max(0.0, -1 / math.tan(th)) / 2
    assert max(pared.values()) > 1.0
    for pair, volume in shared.items():
        assert volume == pytest.approx(pared[pair], abs=WRITTEN_MM3), sorted(pair)


def cut_square(entry: dict[str, Any], dxf: bytes) -> manifold3d.Manifold:
    """Return a sheet cut straight through along a written outline and holes, placed, built mm."""
    layers = read_dxf(dxf).layers
    loops = [
        polyline_points(one, 0.002) for name in ("OUTLINE", "HOLES") if name in layers for one in layers[name].polylines
    ]
    section = manifold3d.CrossSection(loops, manifold3d.FillRule.EvenOdd)
    placed = np.array(entry["built_from_flat"])[:3]
    return (
        manifold3d.Manifold.extrude(section, entry["thickness"])
        .translate([0, 0, -entry["thickness"]])
        .transform(placed)
    )


def room_angle(one: Panel, other: Panel) -> float:
    """Return th of two panels from their faces' normals."""
    return math.acos(float(-one.leaves[0].built_from_flat[:3, 2] @ other.leaves[0].built_from_flat[:3, 2]))


def test_notches_show_what_the_lean_asks_and_no_more() -> None:
    """Beside a tab a groove of t |cos th| shows; between the notches edges cut square meet on the visible line."""
    evidence = made(f'{TABS}edges = "square"\n')
    limit = evidence.scene.make.max_gap
    told = {one.part: one.value or 0.0 for one in joint_gaps.run(evidence) if "notches" in one.message}
    for wall in (one for one in evidence.panels if one.id in ("left-wall", "right-wall")):
        gap = -3.0 * math.cos(room_angle(wall, panel(evidence, "back-wall")))
        assert gap > limit
        assert told[wall.id] == pytest.approx(gap)
        notches = [one for one in wall.additions if one.kind == "notch" and one.against == "back-wall"]
        tabs = [one for one in wall.additions if one.kind == "tab" and one.against == "back-wall"]
        assert len(notches) == 2 * len(tabs) > 0
        (edge,) = [edge for edge in wall.edges if edge.against == "back-wall"]
        assert edge.bevel_deg == (0.0, 0.0)
        assert edge.back == 0.0
        assert sum(float(np.linalg.norm(one.chain[3] - one.chain[0])) for one in notches) < 0.2 * edge.length
    assert [one for one in joint_gaps.run(made(TABS)) if one.status != "pass"] == []


def test_what_is_seen_through_a_notch_is_told_of_the_notch() -> None:
    """Between a lug and the end of its notch is half the tabs' play, 0.05 mm, as long as the notch is deep."""
    evidence = made(f'{TABS}edges = "square"\n')
    face = panel(evidence, "back-wall").visible.vertices[0, 1]
    for part in (panel(evidence, "left-wall"), panel(evidence, "ceiling")):
        slits = [one for one in slits_of((part,), ()) if one.parts[1] == "back-wall"]
        notches = [one for one in part.additions if one.kind == "notch" and one.against == "back-wall"]
        assert len(slits) == len(notches) == 4
        for slit, notch in zip(slits, notches, strict=True):
            assert slit.gap == notch.gap > 0
            sides = slit.corners[:, [1, 2, 0]] - slit.corners
            area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1).sum() / 2
            long, deep = np.linalg.norm(np.diff(notch.chain[[3, 0, 1]], axis=0), axis=1)
            assert area == pytest.approx(long * deep, rel=1e-9)
            assert np.abs(slit.corners[..., 1] - face).min() < 1e-6, "its rim lies where the back wall's face is"
    through = [one for one in bare_box.run(evidence) if one.status != "pass"]
    assert {one.status for one in through} <= {"warn"}
    assert all("back-wall" in one.message for one in through)


def test_butted_tabs_stand_where_the_edge_does() -> None:
    """With butted joints all of the edge stands back by t |cot th|, on the sheet that runs on beneath; no notches."""
    evidence = made(f'{TABS}edges = "square"\njoint = "butt"\n')
    wall = panel(evidence, "left-wall")
    (edge,) = [edge for edge in wall.edges if edge.against == "back-wall"]
    assert edge.back == pytest.approx(-3.0 / math.tan(room_angle(wall, panel(evidence, "back-wall"))))
    assert {one.kind for one in wall.additions} == {"tab"}
    assert all(one.status != "fail" for check in CHECKS for one in check.run(evidence))


def test_fillets_leave_room_for_lugs() -> None:
    """Strips fill the wedges between the lugs, and overlap nothing."""
    evidence = made(f'{TABS}edges = "square"\nfillets = true\n')
    strips = [one for one in evidence.panels if one.id.startswith("fillet-")]
    assert len(strips) >= 6
    assert clashes(evidence) == {}


def test_card_with_flaps_is_cut_square_where_the_scene_says_so() -> None:
    """No edge of a card leans where edges = "square", whether flaps hold all of them or a passage's are plain."""
    evidence = made(FLAPS + 'edges = "square"\n' + DOOR + 'beyond = "passage"\nlength = 1.2\n')
    assert all(edge.bevel_deg == (0.0, 0.0) for one in evidence.panels for edge in one.edges)
