"""What holds the room up."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from pipeline.checks.evidence import Evidence
from pipeline.elements.hall_shape import HOSTS
from pipeline.exports.drawing import COLOURS, Layer
from pipeline.exports.panel_drawing import draw_panel
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import path_of
from pipeline.scene.problems import SceneFileError
from tests.fittings.scenes import SHEETS, made, not_passed, panel
from tests.scene_text import COVERED, DOOR, PLAIN, changed

HELD = PLAIN + "\n[supports]\nstringers = 3\nspacers = 2\n"
EXTENDED = PLAIN + '\n[back]\nextend = "box"\n'


def supports(evidence: Evidence) -> list[str]:
    """Return the ids of what nobody imagined."""
    return [part.id for part in evidence.panels if part.id not in HOSTS]


def test_stringers_and_spacers_are_cut_parts() -> None:
    """Three wedges and two strips beside each wall, with their drawings; they go in before what they hold."""
    evidence = made(HELD)
    expected = [f"stringer-{n}" for n in (1, 2, 3)] + [
        f"{side}-spacer-{n}" for side in ("left", "right") for n in (1, 2)
    ]
    assert supports(evidence) == expected
    assert all(f"panels/{part}.{kind}" in evidence.files for part in expected for kind in ("dxf", "svg"))
    order = {part: entry["order"] for part, entry in evidence.entries.items()}
    for part in expected:
        held = "floor" if "stringer" in part else f"{part.split('-')[0]}-wall"
        assert order[part] < order[held]


@pytest.mark.parametrize("edges", ["bevel", "square"])
@pytest.mark.parametrize("extend", ["", '\n[back]\nextend = "box"\n'])
def test_supports_pass_every_check_of_panels(edges: str, extend: str) -> None:
    """In the box, apart, closed, on the stock; and their lines lie where the rays say."""
    assert not_passed(made(HELD + extend + f'\n[make]\nedges = "{edges}"\n')) == []


def test_a_stringers_upper_edge_rises_as_the_floor_does() -> None:
    """The rake of a level floor h below the eye is atan(h / V) (Pozzo, *Perspectiva*, text to fig. 74)."""
    evidence = made(HELD)
    relief, hall = evidence.room.relief, evidence.room.hall
    corners = np.array([edge.curve.start for edge in panel(evidence, "stringer-1").cut.outline])
    sides = np.diff(np.vstack([corners, corners[:1]]), axis=0)
    (slope,) = (abs(y / x) for x, y in sides if abs(x) > 1e-9 and abs(y) > 1e-9)
    assert slope == pytest.approx((relief.eye[2] - hall.floor) / relief.vanishing_depth, rel=1e-9)  # type: ignore[operator]


@pytest.mark.parametrize(
    ("part", "host"), [("stringer-2", "floor"), ("left-spacer-1", "left-wall"), ("right-spacer-2", "right-wall")]
)
def test_a_support_touches_what_it_holds_and_takes_nothing_of_it(part: str, host: str) -> None:
    """No gap and no common volume (manifold3d)."""
    bodies = made(HELD).bodies
    assert bodies[part].min_gap(bodies[host], 1.0) == pytest.approx(0.0, abs=1e-9)
    assert (bodies[part] ^ bodies[host]).volume() == pytest.approx(0.0, abs=1e-6)


def test_supports_stand_on_the_box() -> None:
    """Stringers on its bottom, spacers at its sides less the clearance."""
    evidence = made(HELD)
    assert panel(evidence, "stringer-1").body.vertices[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    assert panel(evidence, "left-spacer-1").body.vertices[:, 0].min() == pytest.approx(-89.5, abs=1e-9)
    assert panel(evidence, "right-spacer-1").body.vertices[:, 0].max() == pytest.approx(89.5, abs=1e-9)


def test_the_middle_stringer_is_under_the_middle() -> None:
    """Its sheet fills x from -1.5 to 1.5; the eye stands over it, and either side could be the visible one."""
    x = panel(made(HELD), "stringer-2").body.vertices[:, 0]
    assert (x.min(), x.max()) == pytest.approx((-1.5, 1.5), abs=1e-9)


@pytest.mark.parametrize(("part", "host"), [("stringer-1", "floor"), ("left-spacer-2", "left-wall")])
def test_places_are_marked_on_the_hidden_face_where_the_support_touches_it(part: str, host: str) -> None:
    """The mark, moved through the sheet, is the contact: its corners are corners of the support's body."""
    evidence = made(HELD)
    sheet = panel(evidence, host)
    (mark,) = (path for name, path in sheet.hidden_places if name == part)
    corners = np.array([[*curve.start, -sheet.thickness] for curve in mark])
    placed = frames.apply(sheet.leaves[-1].built_from_flat, corners)
    body = panel(evidence, part).body.vertices
    assert [float(np.linalg.norm(body - corner, axis=1).min()) for corner in placed] == pytest.approx(
        [0.0] * 4, abs=1e-9
    )


def test_places_on_the_hidden_face_are_told_apart_in_writing() -> None:
    """On PLACE as all places, each with a note that names the part and the face."""
    drawing = draw_panel(panel(made(HELD), "floor"), dict(COLOURS))
    assert sum(shape.layer == Layer.PLACE for shape in drawing.shapes) == 3
    assert [text.text for text in drawing.texts[1:]] == [f"stringer-{n}, hidden face" for n in (1, 2, 3)]


def test_spacers_leave_holes_free() -> None:
    """No strip runs behind a door or nearer to it than its own and the wall's sheet."""
    evidence = made(PLAIN + "\n[supports]\nspacers = 6\n" + DOOR)
    (cut,) = evidence.imagined.cuts
    matrix, relief = evidence.room.hall.imagined_from_host("right-wall"), evidence.room.relief
    hole = shapely.Polygon(relief.build_points(frames.apply(matrix, curves.flatten_path(cut.curve, 0.01)))[:, 1:])
    for part in supports(evidence):
        if part.startswith("right"):
            low, high = (f(panel(evidence, part).body.vertices[:, 1:], axis=0) for f in (np.min, np.max))
            assert hole.distance(shapely.box(*low, *high)) > 3.0
    assert len([part for part in supports(evidence) if part.startswith("right")]) > 6


def test_by_default_nothing_is_added_and_the_report_tells_how_to_have_it() -> None:
    """One fact, and only the hall's own panels."""
    evidence = made(PLAIN)
    assert supports(evidence) == []
    (fact,) = (fact for fact in evidence.imagined.facts if fact.subject == "supports")
    assert "[supports] with stringers = 3" in fact.text


def test_a_level_floor_needs_no_stringers() -> None:
    """With as much built depth as apparent depth the floor lies on the box's bottom."""
    true = changed(HELD, "depth = 12.0", 'depth = "3.72 m"')
    evidence = made(true)
    assert [part for part in supports(evidence) if part.startswith("stringer")] == []
    assert "too near the box's bottom" in " ".join(fact.text for fact in evidence.imagined.facts)


def test_stringers_begin_behind_the_apron() -> None:
    """Before its end the floor lies on the box's bottom."""
    evidence = made(changed(HELD, "scale = 48\n", "scale = 48\napron = 30\n"))
    assert panel(evidence, "stringer-1").body.vertices[:, 1].min() > 30.0
    assert not_passed(evidence) == []


def test_an_extended_back_wall_fills_the_box_less_its_clearance() -> None:
    """From side to side and from the bottom up, 0.5 mm off the sides and the top."""
    vertices = panel(made(EXTENDED), "back-wall").body.vertices
    assert vertices.min(axis=0)[[0, 2]] == pytest.approx([-89.5, 0.0], abs=1e-9)
    assert vertices.max(axis=0)[[0, 2]] == pytest.approx([89.5, 149.5], abs=1e-9)


@pytest.mark.parametrize("edges", ["bevel", "square"])
def test_the_others_end_flat_against_an_extended_back_wall(edges: str) -> None:
    """Each touches it along its whole end, cut square with its hidden edge: nothing in common, nothing behind it."""
    evidence = made(EXTENDED + f'\n[make]\nedges = "{edges}"\n')
    bodies, depth = evidence.bodies, evidence.room.relief.built_depth
    for part in ("floor", "ceiling", "left-wall", "right-wall"):
        ends = panel(evidence, part).body.vertices[:, 1]
        assert ends.max() == pytest.approx(depth, abs=1e-9)
        assert int((ends > depth - 1e-9).sum()) == (4 if edges == "bevel" else 2)
        assert (bodies[part] ^ bodies["back-wall"]).volume() == pytest.approx(0.0, abs=1e-6)
    assert not_passed(evidence) == []


def test_an_extended_back_wall_is_covered_where_it_is_seen() -> None:
    """Its courses end at the hall's corners, as those of a back wall that ends there."""
    drawn_out = changed(COVERED, "[back]\n", '[back]\nextend = "box"\n')
    plain, wide = (panel(made(text), "back-wall") for text in (COVERED, drawn_out))
    assert sorted(map(tuple, np.round(wide.guides_host.reshape(-1, 4), 6))) == sorted(
        map(tuple, np.round(plain.guides_host.reshape(-1, 4), 6))
    )


def test_the_stringers_area_is_that_of_its_wedge() -> None:
    """From where it is as high as its sheet is thick to the built back wall, whose height it has there."""
    evidence = made(HELD)
    relief, hall = evidence.room.relief, evidence.room.hall
    rake = math.atan((relief.eye[2] - hall.floor) / relief.vanishing_depth)  # type: ignore[operator]
    top = hall.floor + relief.built_depth * math.tan(rake) - 3.0 / math.cos(rake)
    length = (top - 3.0) / math.tan(rake)
    assert curves.signed_area(path_of(panel(evidence, "stringer-1").cut.outline)) == pytest.approx(
        length * (top + 3.0) / 2
    )


@pytest.mark.parametrize(
    ("table", "said"),
    [("stringers = -1", "stringers"), ("spacers = 21", "spacers"), ('material = "oak"', 'no material "oak"')],
)
def test_impossible_supports_are_refused(table: str, said: str) -> None:
    """In words, placed in the scene file."""
    with pytest.raises(SceneFileError, match=said):
        made(PLAIN + f"\n[supports]\n{table}\n")


@pytest.mark.parametrize("flight", ["rise = 0.17", "rise = -0.08", 'rise = 0.17\nside = "left"\nwidth = 3.0'])
def test_stringers_stand_under_every_floor_of_a_hall_with_steps(flight: str) -> None:
    """Three under each of the two floors, clear of the risers between them."""
    evidence = made(HELD + f'\n[[steps]]\nname = "flight"\nat = 4.0\ncount = 3\n{flight}\n')
    hosts = [mark.host for mark in evidence.imagined.marks if mark.name.startswith("stringer")]
    assert hosts == ["floor"] * 3 + ["floor-behind-flight"] * 3
    assert not_passed(evidence) == []


VAULT = """
[vault]
form = "groin"
bays = 3
springing = 3.2
rise = 3.0
material = "paper"

[materials.paper]
thickness = 0.3
process = "knife"
min_bend = 0.5

[front]
material = "foam"
"""


@pytest.mark.parametrize("extend", ["", 'extend = "box"\n'])
def test_a_vaulted_hall_is_held_as_well(extend: str) -> None:
    """Side walls end in arches that begin at the back wall; where that one runs on, it cuts the arches' sheet too.

    Spacers lie under the springing, where the walls are.
    """
    roofed = changed(changed(SHEETS, '[ceiling]\nmaterial = "foam"\n', VAULT), "[back]\n", f"[back]\n{extend}")
    evidence = made(roofed + '\n[supports]\nstringers = 3\nspacers = 2\nmaterial = "foam"\n')
    assert not_passed(evidence) == []
    springing = evidence.room.relief.build_points([[0.0, evidence.room.hall.depth, 3.0 + 3200 / 48]])[0, 2]
    assert panel(evidence, "left-spacer-2").body.vertices[:, 2].max() < springing
