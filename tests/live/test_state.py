"""What each event does to what the page knows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pipeline.build import build_scene
from pipeline.keeping.kept import Kept
from pipeline.live import showing
from pipeline.live import state as states
from pipeline.live.buffers import buffer_of
from pipeline.live.knobs import BY_KEY, KNOBS, settings, values_of
from pipeline.live.looking import Fault, Outline, Shapes, faults_of, glance, judge, look
from pipeline.live.state import Building, State
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene

SCENE = b"""format = 1
title = "A <b>small</b> room"
box = { width = 180, height = 150, depth = 85 }
[eye]
distance = 420 # mm
height = 78
[space]
scale = 48
depth = 12.0
apron = 6
[covers.brick]
pattern = "running"
length = 0.9
height = 0.5
width = 0.4
joint = 0.1
[left]
cover = "brick"
[[columns]]
name = "pier"
at = [[-2.5, 5.0]]
diameter = 0.5
[materials.foam]
thickness = 3.0
process = "knife"
sheet = [300, 200]
"""
FILE = (("eye.distance", 420.0), ("eye.height", 78.0), ("eye.right", 0.0), ("space.depth", 12.0), ("space.scale", 48.0))


def opened() -> State:
    return states.read_file(State(name="a.toml"), FILE)


def test_a_scene_gives_what_can_be_dragged() -> None:
    """Two of eye distance, depth and back scale are given; the third is solved and cannot be dragged."""
    assert values_of(read_scene(SCENE)) == FILE
    solved = glance(SCENE.replace(b"depth = 12.0", b"back_scale = 0.7"), ())
    assert {knob.key: knob.given for knob in solved.knobs}["space.depth"] is False
    assert "space.depth" not in dict(solved.values)


def test_what_is_moved_back_is_not_moved() -> None:
    """Only what differs from the file is to be saved, in the order of the knobs whatever was moved first."""
    state = states.move(states.move(opened(), "space.depth", 14), "eye.distance", 399.6)
    assert state.moved == (("eye.distance", 400.0), ("space.depth", 14.0))
    assert settings(state.moved) == (("eye.distance", "400"), ("space.depth", "14"))
    assert states.move(state, "eye.distance", 420).moved == (("space.depth", 14.0),)


@pytest.mark.parametrize(("key", "value"), [("box.width", 3), ("eye.height", float("nan")), ("eye.height", 1e9)])
def test_what_no_knob_can_say_is_let_go(key: str, value: float) -> None:
    """The page may send anything."""
    assert states.move(opened(), key, value) == opened()


def test_a_late_answer_is_let_go() -> None:
    """Figures, findings and faults count only for the latest question; the first shapes are better than none."""
    state = states.move(opened(), "eye.distance", 400)
    seen = glance(SCENE, ())
    assert states.glimpse(state, state.serial - 1, seen) == state
    assert states.glimpse(state, state.serial, seen).glance is seen
    assert states.refuse(state, state.serial - 1, (Fault(text="late"),)) == state
    assert states.judged(state, state.serial - 1, ()) == state


def test_some_outlines_come_before_the_others() -> None:
    """The flat panels are cut first; what is bent stays as it was until all of them come."""
    shapes = look_at()
    whole = states.form(opened(), opened().serial, (("wall", "1 mm", "old"), ("web", "2 mm", "old")), shapes)
    some = states.form(whole, whole.serial, (("wall", "1 mm", "new"),), None)
    assert some.outlines == (("wall", "1 mm", "new"), ("web", "2 mm", "old"))
    assert some.shapes is shapes
    assert states.form(some, some.serial, (("wall", "1 mm", "new"),), shapes).outlines == (("wall", "1 mm", "new"),)
    assert states.form(some, some.serial - 1, (), shapes) is some


def look_at() -> Shapes:
    return Shapes(stand=glance(SCENE, ()).stand, buffers=(buffer_of([]), buffer_of([])), prints=())


def test_faults_leave_the_picture_and_go_when_the_scene_is_good_again() -> None:
    """The last good picture stays."""
    seen = glance(SCENE, ())
    good = states.glimpse(opened(), 0, seen)
    bad = states.refuse(good, 0, (Fault(text="a.toml:3:1: wrong"),))
    assert bad.glance is seen
    assert bad.faults
    assert states.glimpse(bad, 0, seen).faults == ()


def test_an_edited_file_wins_where_it_changed_and_leaves_the_rest_moved() -> None:
    """Somebody edits the depth while the eye is dragged on the page: both stand."""
    moved = states.move(states.move(opened(), "eye.distance", 400), "space.depth", 14)
    edited = tuple((key, 15.0 if key == "space.depth" else value) for key, value in FILE)
    after = states.read_file(moved, edited)
    assert after.moved == (("eye.distance", 400.0),)
    assert after.epoch == moved.epoch + 1
    assert states.read_file(after, edited) is after


def test_saving_makes_the_moved_values_the_files() -> None:
    """Then nothing is moved."""
    after = states.saved(states.move(opened(), "eye.right", -3), "saved")
    assert after.moved == ()
    assert dict(after.file)["eye.right"] == -3
    assert states.move(after, "eye.right", 0).moved == (("eye.right", 0.0),)


def test_knobs_reach_only_what_the_reader_takes() -> None:
    """At either end of every knob the room can still be measured."""
    seen = glance(SCENE, ())
    for knob in seen.knobs:
        for end in (knob.low, knob.high):
            assert glance(SCENE, settings(((knob.key, end),))).stand.built > 0
    assert {knob.key for knob in seen.knobs} == {knob.key for knob in KNOBS} == BY_KEY.keys()


def test_a_fault_shows_its_line_with_a_mark_under_the_column() -> None:
    """The line is the scene's own, the mark as far in as the column says."""
    text = SCENE.replace(b"height = 78", b"height = 0")
    with pytest.raises(SceneFileError) as caught:
        glance(text, ())
    (fault,) = faults_of(caught.value, "a.toml", text)
    lines = text.decode().splitlines()
    assert fault.line == lines.index("height = 0") + 1
    shown, mark = fault.excerpt.splitlines()
    assert shown == "height = 0"
    assert mark.index("^") + 1 == fault.column
    assert fault.text.startswith(f"a.toml:{fault.line}:{fault.column}: eye.height:")


def test_a_fault_of_the_page_says_so() -> None:
    """What was set on the page stands in no line of the file."""
    with pytest.raises(SceneFileError) as caught:
        glance(SCENE, (("eye.height", "500"),))
    (fault,) = faults_of(caught.value, "a.toml", SCENE)
    assert fault.line is None
    assert fault.text.startswith("set here: eye.height=500: eye.height:")


def test_the_buffers_through_the_matrix_are_the_built_room() -> None:
    """Read as the browser reads them, shaped by the formula of DEVELOPERS.md, they are the built vertices.

    No triangle crosses the apron's end, so that shaping vertex by vertex shapes the whole triangle; float32 carries
    seven digits of some 250 mm.
    """
    told: list[tuple[tuple[Outline, ...], Shapes | None]] = []
    shaped = look(SCENE, (), {}, Kept(), lambda outlines, shapes: told.append((outlines, shapes)))
    shapes = told[-1][1]
    assert shapes is not None
    assert (
        {part for part, _, _ in told[0][0]} <= {part for part, _, _ in told[-1][0]} == {p.id for p in shaped.cut_parts}
    )
    stand = shapes.stand
    (ex, ey, ez), apron = stand.eye, stand.apron
    D, L, d = apron - ey, stand.apparent - apron, stand.built - apron
    content = shapes.buffers[0].content
    vertices, triangles, ends, _ = np.frombuffer(content, "<u4", 4)
    points = np.frombuffer(content, "<f4", 3 * vertices, 16).reshape(-1, 3).astype(float)
    corners = np.frombuffer(content, "<u4", 3 * triangles, 16 + 16 * vertices).reshape(-1, 3)
    assert len(content) == 16 + 16 * vertices + 12 * triangles + 12 * ends
    u = points[:, 1] - apron
    w = np.where(u > 0, 1 + u * (L - d) / (L * (D + d)), 1)
    built = np.column_stack(
        [
            ex + (points[:, 0] - ex) / w,
            np.where(u > 0, apron + u * d * (L + D) / (L * (D + d)) / w, points[:, 1]),
            ez + (points[:, 2] - ez) / w,
        ]
    )
    panels = np.vstack([panel.visible.vertices for panel in shaped.cut_parts])
    assert built[: len(panels)] == pytest.approx(panels, abs=1e-3)
    depths = u[corners]
    assert not ((depths.min(axis=1) < -1e-4) & (depths.max(axis=1) > 1e-4)).any()


def test_nothing_is_no_buffer_of_its_own_kind() -> None:
    """A scene may leave every sheet out."""
    assert np.frombuffer(buffer_of([]).content, "<u4").tolist() == [0, 0, 0, 0]


def test_the_page_finds_what_a_build_finds() -> None:
    """The same checks of the same room, and nothing where it is no longer wanted."""
    overrides = (("eye.distance", "400"),)
    shaped = look(SCENE, overrides, {}, Kept(), lambda outlines, shapes: None)
    found = judge(shaped, SCENE, overrides, lambda: True)
    checks = build_scene(SCENE, "a", overrides).manifest["checks"]
    assert found is not None
    assert [(f.id, f.part, f.status) for f in found] == [(c["id"], c["part"] or "", c["status"]) for c in checks]
    assert judge(shaped, SCENE, overrides, lambda: False) is None


def test_what_the_scene_says_is_shown_as_text() -> None:
    """A title with markup in it stays a title; so do names in faults."""
    state = replace(states.glimpse(opened(), 0, glance(SCENE, ())), faults=(Fault(text="<i>x</i>", excerpt="<u>"),))
    assert "<h1>A &lt;b&gt;small&lt;/b&gt; room</h1>" in showing.top(state)
    assert "&lt;i&gt;x&lt;/i&gt;" in showing.faults(state)
    assert "<pre>&lt;u&gt;</pre>" in showing.faults(state)


def test_a_build_shows_its_stage_and_then_what_became_of_it() -> None:
    """The bar tells stages, not time."""
    running = replace(opened(), building=Building(stage=(3, 6, "checks")))
    assert '<progress id="build-bar" max="6" value="3">' in showing.progress(running)
    assert not showing.can_build(running)
    over = replace(opened(), building=Building(stage=None, lines=("a: 3 panels",)))
    assert "a: 3 panels" in showing.progress(over)
    assert showing.can_build(over)


def test_the_demo_has_nothing_that_cannot_be_dragged() -> None:
    """Its numbers are all given but the back scale."""
    text = (Path(__file__).parents[2] / "scenes/cistern.toml").read_bytes()
    assert all(knob.given for knob in glance(text, ()).knobs)
