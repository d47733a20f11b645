"""What is said of rays that end on the bare box, and slits that joints are told to leave, from leaks laid by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import bare_box
from pipeline.checks.evidence import Evidence
from pipeline.checks.leaks import Leaks
from pipeline.checks.model import Finding
from pipeline.checks.slits import Slit, slits_of
from pipeline.elements.hall_shape import HOSTS
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves, frames
from pipeline.parts.bent import Bare
from pipeline.parts.model import JointEdge, Leaf, Panel
from tests.vault.halls import bend_all, hall, identity, webs

from ..scene_text import PLAIN

Array = NDArray[np.float64]

FLOOR, CEILING, LEFT, RIGHT, BACK = range(5)
CAST = "5000 rays 1.25 mm apart from 9 eyes at most 20 mm apart"


@pytest.fixture(scope="module")
def room() -> Evidence:
    """A room whose ceiling is left out, and one hole and one passage in its walls."""
    made = make((PLAIN + "[ceiling]\nbuild = false\n").encode())
    corners = [(10.0, 0.0), (20.0, 0.0), (20.0, 30.0), (10.0, 30.0)]

    def cut(name: str, beyond: str, length: float) -> Cut:
        path = curves.polygon(corners)
        return Cut(host="left-wall", name=name, curve=path, beyond=beyond, path=("openings", 0), length=length)

    cuts = (cut("window", "bare", 0.0), cut("lane", "passage", 25.0), cut("shrine", "niche", 5.0))
    return replace(made, imagined=replace(made.imagined, cuts=cuts))


def slit(parts: tuple[str, str], gap: float) -> Slit:
    return Slit(parts=parts, gap=gap, corners=np.zeros((2, 3, 3)))


def leaks(
    rows: list[tuple[int, int, int]], slits: tuple[Slit, ...] = (), needed: dict[int, float] | None = None
) -> Leaks:
    """Return leaks, each with its host, its cut and its slit."""
    columns = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    return Leaks(
        rays=5000, eyes=9, pitch=1.25, targets=np.zeros((len(rows), 2)), eye=np.zeros(len(rows), dtype=np.int64),
        host=columns[0], cut=columns[1], slit=columns[2], slits=slits, needed=needed or {},
    )  # fmt: skip


def told(monkeypatch: pytest.MonkeyPatch, room: Evidence, found: Leaks, max_gap: float = 0.5) -> list[Finding]:
    monkeypatch.setattr(bare_box, "find_leaks", lambda evidence: found)
    table = room.scene.make.model_copy(update={"max_gap": max_gap})
    findings = bare_box.run(replace(room, scene=room.scene.model_copy(update={"make": table})))
    for finding in findings:
        assert (finding.id, finding.limit, finding.unit) == ("bare-box", 0.0, "rays")
    return findings


def test_no_leaks_are_a_pass(monkeypatch: pytest.MonkeyPatch, room: Evidence) -> None:
    """With what was cast."""
    (finding,) = told(monkeypatch, room, leaks([]))
    assert (finding.status, finding.part, finding.value) == ("pass", "", 0.0)
    assert finding.message == f"{CAST} end on parts or go through openings"


def test_rays_beside_all_openings_fail_by_surface_but_where_one_is_left_out(
    monkeypatch: pytest.MonkeyPatch, room: Evidence
) -> None:
    """The ceiling's warn; those of all others fail together, counted by surface in the order of their names. Rays
    through a cut, the first one too, or through a slit, are not beside."""
    rows = [(CEILING, -1, -1)] * 3 + [(LEFT, -1, -1)] * 2 + [(BACK, -1, -1)] * 4 + [(FLOOR, 0, -1), (RIGHT, -1, 0)]
    findings = told(monkeypatch, room, leaks(rows, (slit(("right-wall", "floor"), 0.2),)))
    assert [HOSTS[host] for host in (FLOOR, CEILING, LEFT, RIGHT, BACK)] == list(HOSTS[:5])
    warned, failed, _ = findings
    assert (warned.status, warned.part, warned.value) == ("warn", "", 3.0)
    expected = f"ceiling is not built, so the bare box is seen there (3 of {CAST}); {bare_box.UNBUILT}"
    assert warned.message == expected
    assert (failed.status, failed.part, failed.value) == ("fail", "", 6.0)
    assert failed.message == (
        f"of {CAST} these end on the bare box: 4 at the back-wall, 2 at the left-wall, see pictures/leaks.svg; "
        "make that part larger"
    )


def test_under_a_vault_the_ceiling_is_no_part_left_out(monkeypatch: pytest.MonkeyPatch, room: Evidence) -> None:
    """What is seen there is seen past the vault."""
    vaulted = replace(room, room=replace(room.room, hall=replace(room.room.hall, springing=50.0)))
    (finding,) = told(monkeypatch, vaulted, leaks([(CEILING, -1, -1)]))
    assert (finding.status, finding.value) == ("fail", 1.0)
    assert "1 at the ceiling" in finding.message


def test_a_passage_too_short_is_told_the_length_it_needs(monkeypatch: pytest.MonkeyPatch, room: Evidence) -> None:
    """In imagined metres: 40 mm at 1:48 are 1.92 m. Where it is that long already, and be it to the last bit, the box
    ends it before. Rays through a slit do not count."""
    rows = [(LEFT, 1, -1)] * 3 + [(LEFT, 1, 0)] * 5 + [(LEFT, 2, -1)] * 2
    found = leaks(rows, (slit(("left-wall", "floor"), 0.2),), {2: 5.0, 1: 40.0})
    lane, shrine, _ = told(monkeypatch, room, found)
    assert (lane.status, lane.part, lane.value) == ("fail", "", 3.0)
    assert lane.message == (
        f"of {CAST} 3 run out of the passage 'lane' into the bare box, see pictures/leaks.svg; "
        "make it at least 1.92 m long"
    )
    assert (shrine.status, shrine.value) == ("fail", 2.0)
    assert shrine.message.startswith(f"of {CAST} 2 run out of the niche 'shrine' into the bare box")
    assert "it needs 0.24 m clear; the box ends it before" in shrine.message


@pytest.mark.parametrize(("limit", "status"), [(0.3, "pass"), (0.3 - 2e-6, "warn"), (0.1, "warn")])
def test_a_slit_that_is_seen_is_told_by_its_joint_and_its_widest_gap(
    monkeypatch: pytest.MonkeyPatch, room: Evidence, limit: float, status: str
) -> None:
    """Rays through any of a joint's slits together; a gap as wide as the limit is within it."""
    slits = (slit(("left-wall", "floor"), 0.3), slit(("back-wall", "floor"), 0.05), slit(("left-wall", "floor"), 0.2))
    rows = [(LEFT, -1, 0)] * 2 + [(LEFT, -1, 2)] * 3 + [(BACK, -1, 1)]
    back, left = told(monkeypatch, room, leaks(rows, slits), limit)
    assert (back.status, back.part, back.value) == ("pass", "back-wall", 1.0)
    assert back.message == f"of {CAST} 1 pass the gap of 0.05 mm that its square edge leaves at floor"
    assert (left.status, left.part, left.value) == (status, "left-wall", 5.0)
    said = f"of {CAST} 5 pass the gap of 0.30 mm that its square edge leaves at floor"
    remedy = "; fill it before painting, take thinner sheet, or bevel the edges"
    assert left.message == said + (remedy if status == "warn" else "")


PLACED = frames.rigid([0.0, 1, 0], [0.0, 0, 1], [1.0, 0, 0], [7.0, -3.0, 11.0])
"""Flat x goes into the box, flat y up."""


def leaf(near: float, far: float) -> Leaf:
    """Return a leaf whose flat frame is that of its host."""
    return Leaf(flat_from_host=np.eye(3), built_from_flat=PLACED, near=near, far=far)


def edge(
    start: tuple[float, float],
    end: tuple[float, float],
    against: str,
    back: float,
    gap: float,
    lean: float | None = 90.0,
) -> JointEdge:
    angle = None if lean is None else (lean, lean)
    return JointEdge(
        start=start, end=end, length=math.dist(start, end), against=against, angle_deg=angle, bevel_deg=(0.0, 0.0),
        gap=(0.0, gap), back=back,
    )  # fmt: skip


def sheet(room: Evidence, edges: tuple[JointEdge, ...], leaves: tuple[Leaf, ...]) -> Panel:
    """Return the left wall, whose host's u runs along the hall, with other edges."""
    wall = next(panel for panel in room.panels if panel.id == "left-wall")
    return replace(wall, edges=edges, leaves=leaves)


def strip(start: tuple[float, float], along: tuple[float, float], out: tuple[float, float]) -> Array:
    """Return a strip's two triangles, placed, from its first corner, its length and its width."""
    corners = np.array([start, np.add(start, along), np.add(np.add(start, along), out), np.add(start, out)])
    built = frames.apply(PLACED, np.column_stack([corners, np.zeros(4)]))
    assert built[0] == pytest.approx([7.0, start[0] - 3, start[1] + 11])
    return built[[[0, 1, 2], [0, 2, 3]]]


def test_a_slit_is_the_strip_that_a_sheet_stands_back_drawn_out_by_as_much(room: Evidence) -> None:
    """On the far side of the edge from the sheet, which lies on its left. Edges without a gap, or that do not stand
    back, leave none."""
    edges = (
        edge((0, 0), (40, 0), "floor", 2.0, 0.3),
        edge((40, 0), (40, 30), "back-wall", 0.0, 0.3),
        edge((40, 30), (0, 30), "ceiling", 2.0, 0.0),
        edge((0, 30), (0, 0), "other", 0.5, 0.1),
    )
    floor, other = slits_of((sheet(room, edges, (leaf(0.0, 250.0),)),), ())
    assert (floor.parts, floor.gap) == (("left-wall", "floor"), 0.3)
    assert floor.corners == pytest.approx(strip((-2, 0), (44, 0), (0, -2)))
    assert (other.parts, other.gap) == (("left-wall", "other"), 0.1)
    assert other.corners == pytest.approx(strip((0, 30.5), (0, -31), (-0.5, 0)))


def test_behind_the_front_frame_a_slit_is_as_wide_as_its_sheet_is_met_aslant(room: Evidence) -> None:
    """The frame's sheet and finish, over the sine of the angle; no longer than the neighbours stand back. Without an
    angle the edge's own."""
    frame = replace(sheet(room, (), ()), thickness=2.0, finish=1.0)
    frame = replace(frame, face=replace(frame.face, id="front-frame"))
    wide = 3.0 / math.sin(math.radians(60))
    below, above = edge((30, 0), (0, 0), "floor", 0.25, 0.0), edge((0, 40), (30, 40), "ceiling", 0.75, 0.0)
    for lean, width in ((60.0, wide), (120.0, wide), (None, 1.5)):
        front = edge((0, 0), (0, 40), "front-frame", 1.5, 0.2, lean)
        if lean is not None:
            front = replace(front, angle_deg=(lean, 80.0))
        wall = sheet(room, (below, front, above), (leaf(0.0, 250.0),))
        (found,) = slits_of((wall, frame), ())
        assert found.parts == ("left-wall", "front-frame")
        assert found.corners == pytest.approx(strip((0, -0.75), (0, 41.5), (width, 0)))
    front = edge((0, 0), (0, 40), "front-frame", 1.5, 0.2)
    for edges in ((front, above, below), (above, below, front)):
        (found,) = slits_of((sheet(room, edges, (leaf(0.0, 250.0),)), frame), ())
        assert found.corners == pytest.approx(strip((0, -0.75), (0, 41.5), (3.0, 0)))
    level = tuple(replace(one, back=-1.0) for one in (above, below))
    (found,) = slits_of((sheet(room, (front, *level), (leaf(0.0, 250.0),)), frame), ())
    assert found.corners == pytest.approx(strip((0, 0), (0, 40), (3.0, 0)))


def test_a_slit_is_placed_with_the_leaf_its_edge_lies_on(room: Evidence) -> None:
    """By the middle of the edge; one on the fold belongs to either, one beside two leaves to neither, and a single
    leaf has all."""
    moved = replace(
        leaf(20.0, 250.0), built_from_flat=frames.rigid([1.0, 0, 0], [0.0, 1, 0], [0.0, 0, 1], [0.0, 0, 90])
    )
    folded = (leaf(0.0, 20.0), moved)
    for start, end, height in (((0, 0), (20, 0), None), ((20, 0), (250, 0), 90.0), ((10, 0), (40, 0), 90.0)):
        (found,) = slits_of((sheet(room, (edge(start, end, "floor", 0.5, 0.1),), folded),), ())
        assert (set(found.corners[..., 2].ravel()) == {90.0}) == (height is not None)
    on_fold = edge((20, 0), (20, 30), "other", 0.5, 0.1)
    (found,) = slits_of((sheet(room, (on_fold,), folded),), ())
    assert 90.0 not in found.corners[..., 2]
    (found,) = slits_of((sheet(room, (on_fold,), folded[::-1]),), ())
    assert (found.corners[..., 2] == 90).all()
    outside = edge((250, 0), (251, 0), "other", 0.5, 0.1)
    assert slits_of((sheet(room, (outside,), folded),), ()) == ()
    assert len(slits_of((sheet(room, (outside,), folded[:1]),), ())) == 1


def test_what_a_bent_sheet_leaves_bare_is_a_slit_with_the_gap_of_its_joint(room: Evidence) -> None:
    """Or with none, where its border does not tell one; the least and the most of it are not mixed up."""
    bent = bend_all(webs(hall(80.0, 80.0)), identity(80.0))[0]
    one, other = np.zeros((2, 3, 3)), np.ones((3, 3, 3))
    edges = (edge((0, 0), (9, 0), "left-wall", 0.0, 0.4),)
    bent = replace(bent, edges=edges, bare=(Bare(against="left-wall", corners=one), Bare(against="rib", corners=other)))
    flat = sheet(room, (edge((0, 0), (40, 0), "floor", 2.0, 0.3),), (leaf(0.0, 250.0),))
    before, first, second = slits_of((flat,), (bent,))
    assert before.parts == ("left-wall", "floor")
    assert (first.parts, first.gap, first.corners is one) == ((bent.id, "left-wall"), 0.4, True)
    assert (second.parts, second.gap, second.corners is other) == ((bent.id, "rib"), 0.0, True)
