"""Checks of joints, half ribs, figures and overhangs: their figures, limits and words, on evidence set by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Literal

import manifold3d
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import figure_scale, half_ribs, joint_gaps, print_overhang
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.elements.bodies import Block
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.meshes import EMPTY
from pipeline.parts.model import Addition, JointEdge, Print
from pipeline.relief.collineation import Relief
from pipeline.scene.read import read_scene
from tests.figures.people import figure

from ..scene_text import PLAIN

Array = NDArray[np.float64]

RELIEF = Relief(eye=(0.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=77.5)
A = (250 - 77.5) / (250 * (420 + 77.5))
B = 77.5 * (250 + 420) / (250 * (420 + 77.5))


@pytest.fixture(scope="module")
def room() -> Evidence:
    return make(PLAIN.encode())


def with_make(evidence: Evidence, **keys: object) -> Evidence:
    table = evidence.scene.make.model_copy(update=keys)
    return replace(evidence, scene=evidence.scene.model_copy(update={"make": table}))


# joint-gaps


def edge(against: str, gap: float, angle: float | None = 90.0, bevel: tuple[float, float] = (0.0, 0.0)) -> JointEdge:
    return JointEdge(
        start=(0.0, 0.0), end=(9.0, 0.0), length=9.0, against=against, bevel_deg=bevel, gap=(gap / 2, gap),
        angle_deg=None if angle is None else (angle, angle),
    )  # fmt: skip


def jointed(room: Evidence, joints: Mapping[str, tuple[JointEdge, ...]], **keys: object) -> Evidence:
    panels = tuple(replace(panel, edges=joints.get(panel.id, ())) for panel in room.panels)
    return with_make(replace(room, panels=panels), **keys)


def test_each_joint_is_told_once_by_its_widest_gap(room: Evidence) -> None:
    """From whichever of its two panels it gapes wider; edges that meet nothing are no joints; a gap as wide as the
    limit is within it, and all those are told together by their widest."""
    edges = {
        "floor": (edge("left-wall", 0.2), edge("back-wall", 0.5), edge("", 9.0, None)),
        "left-wall": (edge("floor", 0.9), edge("back-wall", 0.4), edge("back-wall", 0.1)),
        "right-wall": (edge("floor", 0.7),),
    }
    left, right, passed = joint_gaps.run(jointed(room, edges, max_gap=0.5))
    assert [(f.part, f.status, f.value) for f in (left, right, passed)] == [
        ("floor", "warn", 0.9),
        ("floor", "warn", 0.7),
        ("", "pass", 0.5),
    ]
    for finding, other in ((left, "left-wall"), (right, "right-wall")):
        assert (finding.id, finding.limit, finding.unit) == ("joint-gaps", 0.5, "mm")
        assert finding.message.startswith(f"shows a gap of {finding.value:.2f} mm at {other}: fill it before painting")
    assert (passed.id, passed.limit, passed.unit) == ("joint-gaps", 0.5, "mm")
    assert passed.message == "2 joints part by at most 0.50 mm where the room sees them"


def test_where_all_joints_gape_none_is_told_as_closed(room: Evidence) -> None:
    """And where there are none nothing is told."""
    (only,) = joint_gaps.run(jointed(room, {"floor": (edge("left-wall", 0.9),)}, max_gap=0.5))
    assert only.status == "warn"
    assert joint_gaps.run(jointed(room, {}, max_gap=0.5)) == []


@pytest.mark.parametrize(
    ("kind", "said"), [("notch", "notches of 0.90 mm beside its tabs"), ("tab", "a gap of 0.90 mm")]
)
def test_a_joint_with_notches_is_told_of_the_sheet_that_has_them(
    room: Evidence, kind: Literal["notch", "tab"], said: str
) -> None:
    """Whichever of the two gapes wider, and whichever comes first by name; a joint without them by its names' order."""
    edges = {"left-wall": (edge("floor", 0.3),), "floor": (edge("left-wall", 0.9), edge("back-wall", 0.8))}
    evidence = jointed(room, edges, max_gap=0.5)
    notch = Addition(kind=kind, against="floor", chain=np.zeros((2, 2)), body=EMPTY)
    panels = [replace(one, additions=(notch,)) if one.id == "left-wall" else one for one in evidence.panels]
    back, left = joint_gaps.run(replace(evidence, panels=tuple(panels)))
    assert (back.part, back.value) == ("back-wall", 0.8)
    assert back.message.startswith("shows a gap of 0.80 mm at floor: fill it before painting")
    part, other = ("left-wall", "floor") if kind == "notch" else ("floor", "left-wall")
    assert (left.part, left.status, left.value) == (part, "warn", 0.9)
    assert left.message.startswith(
        f"shows {said} at {other}: fill {'them' if kind == 'notch' else 'it'} before painting"
    )


# half-rib


def vaulted(room: Evidence, printed: tuple[str, ...], **keys: Any) -> Evidence:
    table = {"form": "groin", "bays": 2, "springing": 1.0, "rise": 2.0, "rib_width": 0.48, "rib_depth": 0.2}
    vault = VaultTable.model_validate(table | keys)
    hall = replace(room.room.hall, scale=48.0, depth=250.0, least_ends=(2.5, 6.5))
    scene = room.scene.model_copy(update={"vault": vault})
    prints = tuple(
        Print(
            solid=Block(id=name, mesh=EMPTY, contacts=(), joints=np.zeros((0, 2, 3))), body=EMPTY,
            skin_imagined=EMPTY, built_from_bed=np.eye(4), hollow=False, volume=0.0, min_wall=1.0,
        )
        for name in printed
    )  # fmt: skip
    there = replace(room.room, hall=hall, relief=RELIEF)
    return with_make(replace(room, scene=scene, room=there, prints=prints), fit=0.15)


def built_y(y: float) -> float:
    return B * y / (1 + A * y)


def test_a_half_rib_that_is_not_printed_is_told_with_its_built_width(room: Evidence) -> None:
    """5 mm of 10 at 1:48; at the opening b(5), at the back b(250) - b(245) less the play; and the width that would do,
    both halves of what the hall says must reach in, 5 mm and 13 mm, rounded up to a whole millimetre."""
    front, back = half_ribs.run(vaulted(room, ()))
    for finding, number, width in ((front, 1, built_y(5)), (back, 3, built_y(250) - built_y(245) - 0.15)):
        assert (finding.id, finding.part, finding.status) == ("half-rib", f"vault-rib-transverse-{number}", "warn")
        assert finding.value == pytest.approx(width, abs=1e-9)
        assert (finding.limit, finding.unit) == (room.scene.make.printer.min_wall, "mm")
        assert f"would be {width:.2f} mm thick" in finding.message
    assert "the half rib at the opening would be" in front.message
    assert 'do without it, or give rib_width at least 0.241 m, or ribs = "sheet"' in front.message
    assert "the half rib at the back wall would be" in back.message
    assert "marked on the back wall, or give rib_width at least 0.625 m" in back.message


def test_a_half_rib_that_is_printed_is_not_told(room: Evidence) -> None:
    """Whole, or only the piece of it that lies on the apron; and neither where there are no ribs, or none printed."""
    assert [f.part for f in half_ribs.run(vaulted(room, ("vault-rib-transverse-1",)))] == ["vault-rib-transverse-3"]
    assert [f.part for f in half_ribs.run(vaulted(room, ("vault-rib-transverse-3-apron",)))] == [
        "vault-rib-transverse-1"
    ]
    assert half_ribs.run(vaulted(room, (), rib_width=0.0, rib_depth=0.0)) == []
    assert half_ribs.run(vaulted(room, (), ribs="sheet", rib_material="foam")) == []
    assert half_ribs.run(room) == []


def test_a_half_rib_that_the_play_eats_up_is_nothing_thick(room: Evidence) -> None:
    """Its figure is below zero; in words it is none."""
    thin = vaulted(room, ("vault-rib-transverse-1",), rib_width=0.01)
    (back,) = half_ribs.run(thin)
    assert back.value is not None
    assert back.value < 0
    assert "would be 0.00 mm thick" in back.message


@pytest.mark.parametrize(("metres", "said"), [(0.4, "0.401"), (0.4005, "0.401"), (0.4009, "0.401"), (1.0, "1.001")])
def test_a_width_is_rounded_up(metres: float, said: str) -> None:
    """So that what is said always does."""
    assert half_ribs._upward(metres) == said


# figure-scale


def stood(room: Evidence, *places: tuple[str, float, float]) -> Evidence:
    text = PLAIN + "".join(figure(name, y=y, height=height) for name, y, height in places)
    return replace(room, scene=read_scene(text.encode()), room=replace(room.room, relief=RELIEF))


def test_a_figure_reads_by_the_scale_where_it_stands(room: Evidence) -> None:
    """1:48 w; at 2 m w = 1 + a 41.67, which 1:48 reads too tall by as much. Nearer than 5 % it passes."""
    w = 1 + A * 2000 / 48
    (finding,) = figure_scale.run(stood(room, ("Old warden", 2.0, 1.8)))
    off = 100 * (w - 1)
    assert off > 5
    assert (finding.id, finding.part, finding.status) == ("figure-scale", "old-warden", "warn")
    assert (finding.limit, finding.unit) == (5.0, "%")
    assert finding.value == pytest.approx(off)
    tall = 1800 / 48 / w
    said = f"stands at 1:{48 * w:.1f}, {tall:.1f} mm tall; a stock figure of 1:48 reads as {1.8 * w:.2f} m tall"
    assert finding.message.startswith(f"{said} instead of 1.80 m; model it {tall:.1f} mm tall, or move it to y = ")
    near, far = ((stock * share / 48 - 1) / A * 48 / 1000 for stock, share in ((48, 1.0), (48, 1.05)))
    assert f"move it to y = {near:.2f} to {far:.2f} m (1:48) or " in finding.message
    near, far = ((56 * share / 48 - 1) / A * 48 / 1000 for share in (0.95, 1.05))
    assert finding.message.endswith(f"{near:.2f} to {far:.2f} m (1:56)")


def test_figures_are_told_in_their_order_and_near_ones_pass(room: Evidence) -> None:
    """At the opening 1:48 is true; at 3.5 m a figure of 1:56 reads 4 % too small, which is near enough."""
    first, second = figure_scale.run(stood(room, ("one", 0.5, 1.7), ("other", 4.1, 1.7)))
    assert [(f.part, f.status) for f in (first, second)] == [("one", "pass"), ("other", "pass")]
    assert first.value == pytest.approx(100 * A * 500 / 48)
    assert second.value == pytest.approx(100 * abs(48 * (1 + A * 4100 / 48) / 56 - 1))
    assert first.message.endswith("instead of 1.70 m")


def test_where_no_stock_scale_ever_fits_the_rooms_own_is_to_be_changed(room: Evidence) -> None:
    """1:40 at the opening of a room as deep as it looks is between 1:35 and 1:48 everywhere."""
    true = Relief(eye=RELIEF.eye, apron=0.0, apparent_depth=77.5, built_depth=77.5)
    evidence = stood(room, ("one", 2.0, 1.7))
    hall = replace(evidence.room.hall, scale=40.0, depth=77.5)
    (finding,) = figure_scale.run(replace(evidence, room=replace(evidence.room, relief=true, hall=hall)))
    assert finding.status == "warn"
    assert finding.message.endswith("or change space.scale: in this hall no stock scale ever fits")


# print-overhang


def table(reach: float) -> Array:
    """Return a T on its foot, 10 x 10 mm and 20 high, whose top stands out by ``reach`` on either side."""
    foot = manifold3d.Manifold.cube((10.0, 10.0, 20.0))
    top = manifold3d.Manifold.cube((10 + 2 * reach, 10.0, 5.0)).translate((-reach, 0.0, 20.0))
    return mesh_of(foot + top).corners


def test_what_hangs_is_told_by_its_area_from_a_square_millimetre_on() -> None:
    """Two undersides of reach x 10 mm, seen from below; 2 x 5 x 10 behind a plate are seen by nobody."""
    below, upright = np.array([[5.0, -50.0, -400.0]]), np.eye(4)
    (warned,) = print_overhang.check_overhang("thing", table(5.0), upright, below)
    assert (warned.id, warned.part, warned.status) == ("print-overhang", "thing", "warn")
    assert (warned.limit, warned.unit) == (print_overhang.SCRATCH_MM2, "mm2")
    assert warned.value == pytest.approx(100.0)
    lid = mesh_of(manifold3d.Manifold.cube((90.0, 90.0, 1.0)).translate((-40.0, -60.0, -5.0))).corners
    (passed,) = print_overhang.check_overhang("thing", table(5.0), upright, below, lid)
    assert (passed.id, passed.part, passed.status, passed.value) == ("print-overhang", "thing", "pass", 0.0)
    assert (passed.limit, passed.unit) == (print_overhang.SCRATCH_MM2, "mm2")


def test_pieces_of_a_print_hide_one_another(room: Evidence, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each is asked for with all others of its print beside it, and by where it lies on its own bed."""
    asked: list[tuple[Any, ...]] = []

    def told(*given: Any) -> list[Finding]:
        asked.append(given)
        return []

    monkeypatch.setattr(print_overhang, "check_overhang", told)
    whole = vaulted(room, ("thing", "thing", "other")).prints
    prints = (replace(whole[0], piece=1), replace(whole[1], piece=2), whole[2])
    shells = {name: np.full((2, 3, 3), float(n)) for n, name in enumerate(("thing-1", "thing-2", "other"))}
    beds = {name: (np.eye(4) * (n + 1)).tolist() for n, name in enumerate(shells)}
    evidence = replace(room, prints=prints, entries={name: {"built_from_bed": bed} for name, bed in beds.items()})
    evidence.__dict__["shells_built"] = shells
    assert print_overhang.run(evidence) == []
    assert [given[0] for given in asked] == ["thing-1", "thing-2", "other"]
    for part, shell, bed, eyes, beside in asked:
        assert shell is shells[part]
        assert bed.tolist() == beds[part]
        assert eyes[0].tolist() == list(evidence.room.relief.eye)
        others = {"thing-1": "thing-2", "thing-2": "thing-1"}.get(part)
        assert (beside is None) == (others is None)
        assert others is None or beside.tolist() == shells[others].tolist()
