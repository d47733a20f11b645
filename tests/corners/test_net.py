"""Nets: folded up again they are the built panels."""

from __future__ import annotations

import io
import math
import re
from typing import Any

import numpy as np
import pypdf
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.build import build_scene
from pipeline.checks import CHECKS, corners_hidden, joint_gaps, one_net, panel_outline
from pipeline.checks.written import polyline_points, read_dxf
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import path_of
from pipeline.parts.seams import find_seams
from pipeline.parts.unfolding import unfold
from pipeline.room.imagine import imagine
from pipeline.room.measure import measure
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from pipeline.stages.panels import prepare_panels
from tests.checks.holding import hold

from ..scene_text import changed
from ..wiring.rooms import LAMPS
from .rooms import CARD, DOOR, FLAPS, NET, build, clashes, made

Array = NDArray[np.float64]

HALF = """
[back]
material = "foam"
[left]
material = "card"
[right]
material = "foam"
[floor]
material = "card"
[ceiling]
material = "foam"
[materials.card]
thickness = 0.5
sheet = [600, 600]
corners = "flaps"
"""
DOORWAY = FLAPS.replace('[make]\ncorners = "flaps"', HALF + DOOR + 'beyond = "light"\n[make]\nnet = true')
APRON = changed(NET, "depth = 12.0", "depth = 12.0\napron = 12")
BUTTED = changed(NET, "[make]", '[floor]\nfinish = 0.3\n[make]\nedges = "square"\njoint = "butt"')
"""The floor has a finish and so is no part of the net; the walls are butted against it, the back wall runs on."""


def net_of(text: str) -> dict[str, Any]:
    (net,) = build(text).manifest["nets"]
    found: dict[str, Any] = net
    return found


def written(text: str) -> shapely.Polygon:
    """Return the net's outline less its holes, from the written DXF."""
    drawing = read_dxf(build(text).files["panels/net.dxf"])
    loops = {
        name: [shapely.Polygon(polyline_points(line, 0.002)) for line in drawing.layers[name].polylines]
        for name in ("OUTLINE", "HOLES")
        if name in drawing.layers
    }
    (outline,) = loops["OUTLINE"]
    return outline - shapely.union_all(loops.get("HOLES", []))


def panel_shape(text: str, part: str, matrix: Array) -> shapely.Polygon:
    one = next(panel for panel in made(text).panels if panel.id == part)
    loops = [flatten_path(path_of(loop), 0.002) @ matrix[:, :2].T + matrix[:, 2] for loop in one.cut.loops]
    return shapely.Polygon(loops[0], loops[1:])


def turned(line: Array, angle_deg: float) -> Array:
    """Return the motion of space that turns what lies right of a line of the net's plane z = 0 toward the viewer."""
    (x0, y0), (x1, y1) = line
    axis = np.array([x1 - x0, y1 - y0, 0.0]) / math.hypot(x1 - x0, y1 - y0)
    k = np.array([[0, 0, axis[1]], [0, 0, -axis[0]], [-axis[1], axis[0], 0]])
    angle = -math.radians(angle_deg)
    out = np.eye(4)
    out[:3, :3] = np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k
    out[:3, 3] = np.array([x0, y0, 0.0]) - out[:3, :3] @ np.array([x0, y0, 0.0])
    return out


@pytest.mark.parametrize("text", [NET, DOORWAY], ids=["whole", "doorway"])
def test_folded_net_is_the_built_panels(text: str) -> None:
    """From the manifest alone: fold by fold every panel comes to where built_from_flat has it, to a nanometre's kin."""
    net, parts = net_of(text), {part["id"]: part for part in build(text).manifest["parts"]}
    flat = {one["id"]: np.array(one["net_from_flat"]) for one in net["parts"]}
    root = net["parts"][0]["id"]
    placed = {root: np.array(parts[root]["built_from_flat"]) @ np.linalg.inv(flat[root])}  # built from net
    folds = {frozenset(fold["parts"]): fold for fold in net["folds"]}
    assert len(folds) == len(flat) - 1 > 0
    while len(placed) < len(flat):
        for pair, fold in folds.items():
            for one in pair & placed.keys():
                (new,) = pair - {one}
                if new not in placed:
                    line = np.array(fold["line"])
                    # The first part's outline runs along the fold with the part on its left.
                    along = line if fold["parts"][0] == one else line[::-1]
                    placed[new] = placed[one] @ turned(along, fold["fold_deg"])
    for part, matrix in placed.items():
        corners = np.array([[*edge["start"], 0.0, 1.0] for edge in parts[part]["edges"]])
        by_net = corners @ (matrix @ flat[part]).T
        assert by_net == pytest.approx(corners @ np.array(parts[part]["built_from_flat"]).T, abs=1e-5)
        assert matrix @ flat[part] == pytest.approx(np.array(parts[part]["built_from_flat"]), abs=1e-5)


@pytest.mark.parametrize("text", [NET, DOORWAY, APRON, BUTTED], ids=["whole", "doorway", "apron", "butted"])
def test_net_is_its_panels_side_by_side(text: str) -> None:
    """The written outline's area is the sum of the panels' own, which lie on it and not on one another (shapely)."""
    placed = {one["id"]: np.array(one["net_from_flat"]) for one in net_of(text)["parts"]}
    shapes = [panel_shape(text, part, matrix[[0, 1]][:, [0, 1, 3]]) for part, matrix in placed.items()]
    whole = written(text)
    assert whole.is_valid
    assert whole.area == pytest.approx(sum(shape.area for shape in shapes), abs=0.05)
    assert shapely.union_all(shapes).buffer(0.03).contains(whole)  # arcs are fitted within 0.02
    for number, shape in enumerate(shapes):
        assert all(shape.intersection(other).area < 1e-3 for other in shapes[:number])


def test_panels_share_the_folds_length() -> None:
    """Both panels' edges at a fold are one visible line of the built room, so they are equally long."""
    parts = {part["id"]: part for part in build(NET).manifest["parts"]}
    for fold in net_of(NET)["folds"]:
        a, b = fold["parts"]
        size = math.dist(*fold["line"])
        for one, other in ((a, b), (b, a)):
            (edge,) = [edge for edge in parts[one]["edges"] if edge["against"] == other]
            assert edge["length"] == pytest.approx(size, abs=2e-6)
            assert edge["bevel_deg"] == [0.0, 0.0]


def test_folds_end_where_either_panel_does() -> None:
    """A wall that is butted against the floor stops short of it; the back wall beside it runs on, past the fold."""
    placed = {one["id"]: np.array(one["net_from_flat"]) for one in net_of(BUTTED)["parts"]}
    short = 0
    for fold in net_of(BUTTED)["folds"]:
        for part in fold["parts"]:
            shape = panel_shape(BUTTED, part, placed[part][[0, 1]][:, [0, 1, 3]])
            assert max(shape.boundary.distance(shapely.Point(end)) for end in fold["line"]) < 1e-6
            sides = [shapely.Point(end) for end in shape.exterior.coords]
            short += any(min(side.distance(shapely.Point(end)) for side in sides) > 0.01 for end in fold["line"])
    assert short == 2, "the back wall's two folds to the side walls end on its own edge, above its corners"


def test_butted_sheets_that_nothing_holds_make_no_net() -> None:
    """A printed reveal leaves its wall's corners plain; butted, floor and ceiling would lie on it where it unfolds."""
    door = DOOR + 'reveal = 0.15\nreveal_as = "print"\n'
    text = changed(NET, "[make]", door + '[make]\nedges = "square"\njoint = "butt"')
    said = [fact.text for fact in made(text).imagined.facts if fact.subject == "net"]
    assert len(said) == 1
    assert "the floor would run on beneath the left-wall" in said[0]
    assert not made(text).nets


def test_the_outline_of_a_net_is_checked_too() -> None:
    """By name, beside its panels."""
    assert "net" in {finding.part for finding in panel_outline.run(made(NET))}


def test_doorway_is_a_hole_of_the_net() -> None:
    """Floor and wall hinge on both sides of the door, which is a notch of the wall: on the net it is a hole."""
    (first, second) = net_of(DOORWAY)["folds"]
    assert set(first["parts"]) == set(second["parts"]) == {"floor", "left-wall"}
    whole, wall = written(DOORWAY), next(one for one in made(DOORWAY).panels if one.id == "left-wall")
    assert len(wall.cut.holes) == 0
    (hole,) = whole.interiors
    floor_edge = shapely.LineString([first["line"][0], second["line"][1]])
    assert shapely.LineString(hole.coords).intersection(floor_edge.buffer(1e-5)).length > 0


def test_other_corners_have_flaps_and_nothing_clashes() -> None:
    """Eight corners, four folds, four flaps; bodies apart by manifold3d; every check passes."""
    evidence = made(NET)
    assert sum(len(panel.additions) for panel in evidence.panels) == 4
    assert clashes(evidence) == {}
    assert [f.message for check in CHECKS for f in check.run(evidence) if f.status != "pass"] == []


def test_sheet_and_paper_hold_the_net_in_place_of_its_panels() -> None:
    """One piece on the sheet, one template; the fold angles are told on the drawing."""
    result = build(NET)
    (sheet,) = result.manifest["sheets"]
    assert [part["id"] for part in sheet["parts"]] == ["net"]
    words = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(result.files["templates.pdf"])).pages)
    assert "net" in words
    assert "valley 76" in result.files["panels/net.svg"].decode()
    assert "in one piece" in result.files["report.html"].decode()


def test_longest_hinges_are_kept() -> None:
    """Of the trees that unfold, none keeps more: the four edges of the back wall are the longest four of eight."""
    parts = build(CARD).manifest["parts"]  # their edges end on the visible lines
    edges = [(part["id"], edge) for part in parts for edge in part["edges"] if edge["against"]]
    sizes = sorted(edge["length"] for part, edge in edges if part < edge["against"])
    held = sorted(math.dist(*fold["line"]) for fold in net_of(NET)["folds"])
    assert held == pytest.approx(sizes[-4:], abs=1e-5)


def test_net_larger_than_its_sheet_falls_back_to_single_pieces() -> None:
    """On a sheet of 280 x 200 no net fits; the panels are cut one by one with eight flaps, and the report says why."""
    text = changed(NET, "[600, 500]", "[280, 200]")
    evidence = made(text)
    assert evidence.nets == ()
    assert any("makes no net: it would be" in fact.text for fact in evidence.imagined.facts)
    assert [one.kind for panel in evidence.panels for one in panel.additions].count("flap") == 8
    assert "panels/net.dxf" not in evidence.files
    (told,) = one_net.run(evidence)
    assert told.status == "warn"
    size = re.search(r"one of (\d+) x (\d+) mm holds it", told.message)
    assert size
    assert made(changed(NET, "[600, 500]", f"[{size[1]}, {size[2]}]")).nets  # it does


def test_panels_that_lie_on_one_another_are_named() -> None:
    """With outlines drawn out by 60 mm no tree of the hall unfolds: the pairs and their areas are told."""
    scene = read_scene(FLAPS)
    room = measure(scene)
    said = imagine(scene, room)
    making = prepare_panels(scene, room, said)
    seams = find_seams({face.id: face.region for face in said.faces}, making)
    corners = {one.id: [edge.curve.start for edge in one.cut.outline] for one in made(FLAPS).panels}
    shapes = {part: shapely.Polygon(points).buffer(60.0) for part, points in corners.items()}
    best = unfold(list(shapes), seams, shapes, (1e4, 1e4))
    assert best.overlaps
    a, b, area = best.overlaps[0]
    placed = {part: shapely.affinity.affine_transform(shapes[part], [*m[0, :2], *m[1, :2], m[0, 2], m[1, 2]])
              for part, m in best.net_from_flat.items()}  # fmt: skip
    assert placed[a].intersection(placed[b]).area == pytest.approx(area)


def test_one_panel_of_a_card_is_no_net() -> None:
    """Of the floor alone nothing is folded: it is cut as it is."""
    text = changed(DOORWAY, '[left]\nmaterial = "card"', '[left]\nmaterial = "foam"')
    assert made(text).nets == ()
    assert any(panel.id == "floor" for panel in made(text).pieces)
    assert [(one.status, "only the floor is of it" in one.message) for one in one_net.run(made(text))] == [
        ("warn", True)
    ]


def test_the_check_names_what_a_net_holds_and_is_still_where_none_is_asked_for() -> None:
    """A net made is told with its panels, so that one left out is missed."""
    (told,) = one_net.run(made(NET))
    assert (told.status, told.part) == ("pass", "net")
    assert all(panel.id in told.message for panel in made(NET).panels)
    assert one_net.run(made(FLAPS)) == []


def test_wires_do_not_cost_a_net() -> None:
    """With lamps, wires through the sheets and a battery behind them the hall still unfolds."""
    foam = 'materials.foam = { thickness = 3.0, process = "knife", sheet = [300, 200] }'
    card = 'materials.card = { thickness = 0.5, sheet = [600, 500] }\nmake = { corners = "flaps", net = true }'
    evidence = made(changed(LAMPS, foam, card))
    assert evidence.wiring
    assert evidence.wiring.battery is not None
    assert [(one.status, one.part) for one in one_net.run(evidence)] == [("pass", "net")]


def test_net_without_flaps_is_refused() -> None:
    """net = true with plain corners has nothing to fold."""
    with pytest.raises(SceneFileError) as caught:
        build_scene((CARD + "[make]\nnet = true\n").encode(), "room")
    (message,) = caught.value.describe("room.toml")
    assert "make.net: no surface of the hall is of card with flaps" in message


def test_findings_on_nets_are_whole() -> None:
    """Of a card that folds in one piece, one that does not, and what holds the corners of either."""
    held = made(NET)
    assert hold(held, (one_net.CHECK, corners_hidden.CHECK, joint_gaps.CHECK)) == {"pass"}
    (hidden,) = corners_hidden.run(held)
    count = sum(one.kind != "strip" for one in (a for panel in held.panels for a in panel.additions))
    assert (hidden.value, hidden.limit, hidden.part) == (0.0, 0.0, "")
    assert hidden.message == f"none of {count} flaps, tabs and lugs is seen from 9 eyes in the eye box"
    left = made(changed(NET, "[600, 500]", "[280, 200]"))
    assert "warn" in hold(left, (one_net.CHECK, corners_hidden.CHECK, joint_gaps.CHECK))
