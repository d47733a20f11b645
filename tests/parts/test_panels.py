"""Panels of whole scenes: places, outlines, folds and bodies, by routes other than the program's."""

from __future__ import annotations

import itertools
import math
from typing import Any

import manifold3d
import numpy as np
import pytest

from pipeline.build import build_scene
from pipeline.checks.evidence import as_manifold
from pipeline.parts.model import Panel
from pipeline.relief.collineation import Relief
from pipeline.room.imagine import imagine
from pipeline.room.measure import Room, measure
from pipeline.scene.read import read_scene
from pipeline.stages.panels import make_panels, prepare_panels

from ..scene_text import COVERED, DOOR, PLAIN, changed


def panels_of(text: str) -> tuple[dict[str, Panel], Room]:
    scene = read_scene(text)
    room = measure(scene)
    said = imagine(scene, room)
    return {panel.id: panel for panel in make_panels(scene, room, said, prepare_panels(scene, room, said))}, room


def entries(text: str) -> dict[str, dict[str, Any]]:
    return {part["id"]: part for part in build_scene(text.encode(), "room").manifest["parts"]}


def test_hall_is_what_box_sheets_and_clearance_leave() -> None:
    """width = 180 - 2 (3 + 0.5), height = 150 - 3 - 3 - 0.5, built depth = 85 - 4 - 3 - 0.5 (the design's formulas)."""
    _, room = panels_of(PLAIN)
    assert (room.hall.width, room.hall.height, room.relief.built_depth) == (173, 143.5, 77.5)
    assert room.hall.floor == 3.0


def test_finish_stands_the_sheet_back() -> None:
    """The visible face is the finished one; floor's at z = t + f, width less 2 f, and the sheet behind it."""
    panels, room = panels_of(PLAIN + "[floor]\nfinish = 1.5\n[left]\nfinish = 1\n[right]\nfinish = 1\n")
    assert room.hall.width == 171
    assert room.hall.floor == 4.5
    floor = panels["floor"]
    assert floor.visible.vertices[:, 2].min() == pytest.approx(4.5)
    normal = floor.leaves[0].built_from_flat[:3, 2]
    behind = (floor.body.vertices - floor.leaves[0].built_from_flat[:3, 3]) @ normal
    assert behind.max() == pytest.approx(-1.5)
    assert behind.min() == pytest.approx(-4.5)


def test_left_wall_edges_are_the_distances_of_the_built_corners() -> None:
    """Corner points by the ray law alone: E + (P - E) (D + y') / (D + y)."""
    wall = entries(PLAIN)["left-wall"]
    relief = Relief(eye=(0, -420, 78), apron=0, apparent_depth=250, built_depth=77.5)
    scale = (420 + 77.5) / (420 + 250)
    eye = np.array(relief.eye)
    imagined = np.array([[-86.5, 0, 3], [-86.5, 250, 3], [-86.5, 250, 146.5], [-86.5, 0, 146.5]])
    built = np.where(imagined[:, 1:2] > 0, eye + (imagined - eye) * scale, imagined)
    lengths = {edge["against"]: edge["length"] for edge in wall["edges"]}
    assert lengths["floor"] == pytest.approx(np.linalg.norm(built[1] - built[0]), abs=1e-5)
    assert lengths["back-wall"] == pytest.approx(143.5 * scale, abs=1e-5)
    assert lengths["ceiling"] == pytest.approx(np.linalg.norm(built[3] - built[2]), abs=1e-5)
    assert lengths[None] == pytest.approx(143.5)


def test_drawings_are_seen_facing_the_visible_face() -> None:
    """x right and y up for someone in the room: the left wall's x runs inward, the right wall's toward the viewer."""
    parts = entries(PLAIN)
    axes = {name: np.array(part["built_from_flat"])[:3, :3] for name, part in parts.items()}
    assert axes["left-wall"][1, 0] > 0
    assert axes["right-wall"][1, 0] < 0
    assert axes["back-wall"][:, 0] == pytest.approx([1, 0, 0])
    assert axes["floor"][:, 0] == pytest.approx([1, 0, 0])
    assert axes["floor"][1, 1] > 0
    assert axes["ceiling"][1, 1] < 0
    for name in ("left-wall", "right-wall", "back-wall"):
        assert axes[name][:, 1] == pytest.approx([0, 0, 1])


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN + DOOR,
        changed(PLAIN, "height = 78", "height = 20\nright = 70"),
        changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 20"),
        changed(PLAIN, "depth = 12.0", "depth = 12.0\nwidth = 7.0\nheight = 6.0"),
        PLAIN + "[floor]\nfinish = 2\n[left]\nfinish = 1\n[back]\nfinish = 0.5\n",
        changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 15") + "[floor]\nfinish = 2\n" + DOOR,
        PLAIN + '[make]\nedges = "square"\n',
    ],
    ids=["plain", "door", "eye aside", "apron", "framed", "finished", "apron and finish", "square"],
)
def test_bodies_lie_in_the_box_and_keep_apart(text: str) -> None:
    """Real bodies, by manifold3d: every pair has no common volume, every corner is inside 180 x 150 x 85."""
    panels, _ = panels_of(text)
    bodies = {name: as_manifold(panel.body) for name, panel in panels.items()}
    for name, body in bodies.items():
        assert body.status() == manifold3d.Error.NoError
        assert body.volume() > 0
        low_x, low_y, low_z, high_x, high_y, high_z = body.bounding_box()
        assert (low_x, low_y, low_z) >= (-90, -1e-9, -1e-9), name
        assert min(90 - high_x, 85 - high_y, 150 - high_z, low_y + 1e-9, low_z + 1e-9) >= 0, name
    for a, b in itertools.combinations(bodies, 2):
        assert (bodies[a] ^ bodies[b]).volume() < 1e-6, (a, b)


def test_mitred_corner_leaves_no_hole() -> None:
    """Floor and left wall share the whole mitre plane: thickened by a hair they overlap along all of it."""
    panels, _ = panels_of(PLAIN)
    floor, wall = as_manifold(panels["floor"].body), as_manifold(panels["left-wall"].body)
    grown = floor.translate((-0.01, 0, 0)) ^ wall
    edge = next(edge for edge in panels["floor"].edges if edge.against == "left-wall")
    assert grown.volume() > 0.005 * edge.length * 3


def test_apron_folds_the_panel_once() -> None:
    """The near leaf is true: 20 mm deep and as wide as the opening; unfolded, the pieces meet along the fold."""
    parts = entries(changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 20"))
    floor = parts["floor"]
    (x0, y0), (x1, y1) = floor["fold"]["line"]
    assert abs(x1 - x0) == pytest.approx(173)
    assert (y0, y1) == pytest.approx((20, 20))
    near = np.array(floor["fold"]["near_from_flat"])
    assert near[:3, 2] == pytest.approx([0, 0, 1], abs=1e-9)
    far = np.array(floor["built_from_flat"])
    for x, y in floor["fold"]["line"]:
        assert near @ [x, y, 0, 1] == pytest.approx(far @ [x, y, 0, 1], abs=1e-5)
    vanishing = (77.5 - 20) * (230 + 440) / (230 - 57.5)
    assert floor["fold"]["angle_deg"] == pytest.approx(180 - math.degrees(math.atan(75 / vanishing)), abs=1e-5)


def test_front_frame_is_built_only_where_the_bare_box_would_show() -> None:
    """A hall smaller than the box gets a frame whose inside is the hall's outline and outside the box less play."""
    assert "front-frame" not in entries(PLAIN)
    framed = entries(changed(PLAIN, "depth = 12.0", "depth = 12.0\nwidth = 7.2"))
    frame = framed["front-frame"]
    assert frame["size"] == pytest.approx([179, 149.5])
    assert frame["area"] == pytest.approx(179 * 149.5 - 150 * 143.5)
    starts = np.array(framed["floor"]["built_from_flat"])[1, 3]
    assert starts == pytest.approx(3.0)
    assert "front-frame" not in entries(
        changed(PLAIN, "depth = 12.0", "depth = 12.0\nwidth = 7.2\n[front]\nbuild = false")
    )


def test_a_curved_head_on_the_wall_keeps_its_exact_curve() -> None:
    """The half circle's image lies on the conic that is the circle's image under the face's homography."""
    panels, room = panels_of(PLAIN + DOOR)
    panel = panels["right-wall"]
    bent = [edge.curve for edge in panel.cut.outline if not edge.curve.straight]
    assert len(bent) == 2
    from pipeline.geometry import curves, frames

    inverse = frames.inverse(panel.leaves[0].flat_from_host)
    radius = room.hall.millimetres(0.8)
    for curve in bent:
        host = frames.apply(inverse, curves.evaluate(curve, np.linspace(0, 1, 17)))
        away = host - [room.hall.millimetres(6.0), room.hall.millimetres(3.0) - radius]
        assert np.linalg.norm(away, axis=1) == pytest.approx(np.full(17, radius), abs=1e-9)


def test_guides_lie_on_the_visible_face_only() -> None:
    """No guide runs through the door, and all stay inside the outline."""
    import shapely

    from pipeline.geometry.curves import flatten_path
    from pipeline.geometry.regions import path_of

    panels, _ = panels_of(COVERED + DOOR)
    panel = panels["right-wall"]
    outline = shapely.Polygon(flatten_path(path_of(panel.cut.outline), 0.001)).buffer(0.005)
    lines = shapely.linestrings(panel.guides)
    assert len(lines) > 4000
    assert shapely.covers(outline, lines).all()
