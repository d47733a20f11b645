"""Faces with raised units, as prints: from the scene to the written file."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from pipeline.build import build_scene
from pipeline.checks import bodies_apart, print_faithful, print_wall
from pipeline.checks.evidence import Evidence
from pipeline.checks.print_closed import check_closed, tunnels
from pipeline.checks.written import read_stl
from pipeline.elements.covers.table import Pattern
from pipeline.exports.stl import write_stl
from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh, weld
from pipeline.parts.bed import on_bed
from pipeline.parts.model import Raised
from pipeline.scene.problems import SceneFileError
from tests.brick_relief.rooms import DOOR_AND_WINDOW, made, raised_print, text, true_to_scale
from tests.scene_text import changed

COLUMN = """
[[columns]]
name = "pier"
at = [[-3.9, 6.0]]
diameter = 1.0
engaged = true
base = 0.4
capital = 0.4
"""


def along(extent: float, pitch: float, unit: float, play: float) -> float:
    """Return how much of [play, extent - play] units of one row take, by laying them out one by one, mm."""
    total, start = 0.0, 0.0
    while start < extent:
        total += max(0.0, min(start + unit, extent - play) - max(start, play))
        start += pitch
    return total


def test_a_plate_and_its_units_have_the_volume_of_the_closed_form() -> None:
    """Built as imagined, units are boxes and the plate's sections (d + s) (h + 2 s), s from 0 to its thickness.

    It is mitred against floor, ceiling and back wall, all as thick and square to it, and cut square at the opening.
    """
    scene = true_to_scale(text("left", pattern="stack"))
    scene = changed(scene, "length = 0.90", "length = 0.09")
    scene = changed(scene, "height = 0.40", "height = 0.13")
    scene = changed(scene, "width = 0.44", "width = 0.13")
    body, shown = raised_print(made(scene), "left-wall")
    t, d, h, play = 3.0, 77.5, 150.0 - 3.0 - 3.0 - 0.5, 0.15
    plate = d * h * t + (2 * d + h) * t**2 / 2 + 2 * t**3 / 3
    faces = along(d, 11.0, 9.0, play) * along(h, 15.0, 13.0, play)
    assert shown.units == 8 * 10
    assert body.volume == pytest.approx(plate + 5.0 * faces, rel=1e-9)


@pytest.mark.parametrize("pattern", get_args(Pattern))
def test_every_pattern_round_openings_is_one_closed_body(pattern: Pattern) -> None:
    """The written file, welded: one surface with one tunnel, the window; the door is a notch."""
    evidence = made(text("left", pattern=pattern, more=DOOR_AND_WINDOW))
    stl = evidence.files[evidence.entries["left-wall"]["files"]["stl"]]
    [finding] = check_closed("left-wall", stl)
    _, shown = raised_print(evidence, "left-wall")
    assert finding.status == "pass", finding.message
    assert tunnels(weld(read_stl(stl)), 1) == 1
    assert shown.units > 100


def test_a_raised_wall_is_made_once() -> None:
    """As a print or as a panel, under one id: everything else counts parts by it."""
    build = build_scene(text("left", "back").encode(), "room")
    made_as = {part["id"]: part["made_as"] for part in build.manifest["parts"]}
    assert {part: how for part, how in made_as.items() if how == "print"} == {
        "left-wall": "print",
        "back-wall": "print",
    }
    assert made_as.keys() == {"left-wall", "right-wall", "back-wall", "floor", "ceiling"}
    assert "panels/left-wall.dxf" not in build.files
    assert build.failed == 0


def test_neighbours_keep_their_bevels_whether_a_wall_is_printed_or_cut() -> None:
    """The plate is as thick as the sheet it stands in for."""
    printed, cut = (
        made(text("left")),
        made(changed(text("left"), "relief = 0.05", 'relief = 0.05\nrelief_as = "guides"')),
    )
    floors = [evidence.entries["floor"]["edges"] for evidence in (printed, cut)]
    assert floors[0] == floors[1]
    assert cut.entries["left-wall"]["made_as"] == "panel"
    assert cut.entries["left-wall"]["guides"] > 100


def test_the_tops_of_units_are_the_relief_of_a_plane() -> None:
    """Before the eye at (ex, -D, ez), x' - ex = (x - ex) / w on every ray: here x = -W/2 + relief (Anger 1834)."""
    evidence = made(text("left"))
    body, shown = raised_print(evidence, "left-wall")
    relief, hall = evidence.room.relief, evidence.room.hall
    back = frames.apply(relief.imagined_from_built, body.body.vertices)
    height = back[:, 0] + hall.width / 2
    assert shown.relief == pytest.approx(50 / 48, rel=1e-12)
    in_front = height > 1e-6
    np.testing.assert_allclose(height[in_front], shown.relief, rtol=0, atol=1e-9)
    assert in_front.sum() >= 4 * shown.units * 0.9


def test_units_lie_up_on_the_bed() -> None:
    """The plate's back is the flattest side there is, and what is seen needs no supports."""
    evidence = made(text("left", "back"))
    for part in ("left-wall", "back-wall"):
        body, shown = raised_print(evidence, part)
        lying = on_bed(body.body, body.built_from_bed).vertices
        up = body.built_from_bed[:3, 2]
        np.testing.assert_allclose(lying.min(axis=0), 0.0, atol=1e-9)
        assert up @ shown.leaf.built_from_flat[:3, 2] == pytest.approx(1.0, abs=1e-12)
        assert lying[:, 0].max() >= lying[:, 1].max()


def test_units_leave_room_for_what_stands_against_the_wall() -> None:
    """A pier and its base, the floor's units and the other wall's: no overlap, and the play kept from the pier."""
    evidence = made(text("left", "back", "floor", more=COLUMN))
    assert [finding.message for finding in bodies_apart.run(evidence) if finding.status != "pass"] == []


def test_the_skin_is_read_in_front_of_the_face() -> None:
    """Both ways within a micron; a file whose units stand out a tenth less, or that is pushed aside, fails."""
    evidence = made(text("left", "back"))
    assert [f.part for f in print_wall.run(evidence)] == [part.id for part in evidence.prints]
    assert {finding.status for finding in print_faithful.run(evidence)} == {"pass"}
    flattened = doctored(evidence, "back-wall", [1.0, 1.0, 0.99])
    assert [f.part for f in print_faithful.run(flattened) if f.status == "fail"] == ["back-wall"]
    moved = doctored(evidence, "left-wall", [1.0, 1.0, 1.0], shift=0.05)
    assert [f.part for f in print_faithful.run(moved) if f.status == "fail"] == ["left-wall"]


def test_the_plate_is_measured_and_not_the_units() -> None:
    """3 mm of sheet make 3 mm of plate, 1 mm is needed; a file squeezed to a quarter fails."""
    evidence = made(text("left"))
    [finding] = print_wall.run(evidence)
    assert finding.status == "pass"
    assert finding.value == pytest.approx(3.0, abs=1e-3)
    low = evidence_with(evidence, "left-wall", squeezed(evidence, "left-wall"))
    assert [f.status for f in print_wall.run(low)] == ["fail"]


def test_a_plate_may_be_thinner_by_a_rounding_and_no_more() -> None:
    """3 mm of sheet against what a printer may need; a shell with a hole in it has no plate."""
    evidence = made(text("left"))
    [part] = evidence.prints
    assert isinstance(part.solid, Raised)
    shell = evidence.shells_built[part.id]
    for least, status, words in ((3.0, "pass", "3.00 mm and more under"), (3.0015, "pass", "a plate of 3.00 mm")):
        [finding] = print_wall.check_plate(part.id, part.solid, shell, least)
        assert (finding.id, finding.part, finding.unit) == ("print-wall", "left-wall", "mm")
        assert (finding.status, finding.limit) == (status, least)
        assert words in finding.message
    [thin] = print_wall.check_plate(part.id, part.solid, shell, 3.003)
    assert thin.status == "fail"
    assert thin.value == pytest.approx(3.0, abs=print_wall.PLATE_ROUNDING / 2)
    assert thin.message == "the plate under the units is 3.00 mm thin, 3.003 mm is needed; use thicker sheet"
    [torn] = print_wall.check_plate(part.id, part.solid, shell[1:], 1.0)
    assert (torn.part, torn.status, torn.value, torn.limit) == ("left-wall", "fail", 0.0, 1.0)
    assert "no plate was found under the units" in torn.message


def test_the_plate_of_each_piece_is_told_by_its_own_name() -> None:
    """A face cut to the printer's bed is no part any more; its pieces are."""
    evidence = made(text("left") + "\n[make.printer]\nbed = [70, 70, 70]\n")
    pieces = [part.id for part in evidence.prints]
    assert len(pieces) > 1
    assert [finding.part for finding in print_wall.run(evidence)] == pieces


def squeezed(evidence: Evidence, part: str) -> Mesh:
    """Return a print on the bed with its back pushed up to 0.75 mm under the face."""
    body, _ = raised_print(evidence, part)
    lying = on_bed(body.body, body.built_from_bed)
    vertices = lying.vertices.copy()
    vertices[vertices[:, 2] < 1e-6, 2] = 2.25
    return Mesh(vertices=vertices, triangles=lying.triangles)


def doctored(evidence: Evidence, part: str, scale: list[float], shift: float = 0.0) -> Evidence:
    """Return the evidence with one print's file stretched and moved along x on the bed."""
    body, _ = raised_print(evidence, part)
    lying = on_bed(body.body, body.built_from_bed)
    return evidence_with(
        evidence, part, Mesh(vertices=lying.vertices * scale + [shift, 0.0, 0.0], triangles=lying.triangles)
    )


def evidence_with(evidence: Evidence, part: str, lying: Mesh) -> Evidence:
    """Return the evidence with another file for one print."""
    return replace(evidence, files={**evidence.files, f"prints/{part}.stl": write_stl(lying, part)})


DUST = "length = 0.05\nwidth = 0.05\nheight = 0.05\njoint = 0.001\nrelief = 0.01"
UNIT = "length = 0.90\nwidth = 0.44\nheight = 0.40\njoint = 0.02\nrelief = 0.05"


@pytest.mark.parametrize(
    ("old", "new", "found", "allowed"),
    [
        ("thickness = 3.0", "thickness = 0.8", "the left-wall is 0.8 mm thick", "1 mm (make.printer.min_wall) or more"),
        ("joint = 0.02", "joint = 0.0", "units without joints cannot stand out", "a joint above 0 m"),
        ("relief = 0.05", "relief = 0.4", "relief 0.4 m is not smaller than the unit's height", "less than 0.4 m"),
        ("relief = 0.05", "relief = -0.1", "-0.1 is not a length of zero or more", ""),
        ("relief = 0.05", "relief = nan", "nan is not a length of zero or more", ""),
        (UNIT, DUST, "the left-wall would have about 3.24e+04 units", "at most 20,000 on a print"),
    ],
)
def test_a_relief_that_cannot_be_printed_is_refused(old: str, new: str, found: str, allowed: str) -> None:
    """Before anything is made, placed at its key, with what would do."""
    with pytest.raises(SceneFileError) as refusal:
        made(changed(text("left"), old, new))
    [problem] = refusal.value.problems
    assert problem.path[:2] == ("covers", "raised")
    assert found in problem.found
    assert allowed in problem.allowed
