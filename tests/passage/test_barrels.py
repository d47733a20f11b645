"""Barrels over passages and niches, and soffits of reveals: bent from sheet, exact, and whole."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.checks import CHECKS, bent_radius
from pipeline.checks.evidence import Evidence
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import path_of
from pipeline.parts.bent import BentPanel

from ..scene_text import PLAIN, changed
from .rooms import CARD, HEADS, TRUE, built, hole
from .test_passages import assert_fits, panel

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def bent(evidence: Evidence, part: str) -> BentPanel:
    return next(panel for panel in evidence.bents if panel.id == part)


def border(piece: BentPanel, against: str) -> float:
    return sum(edge.length for edge in piece.edges if edge.against == against)


def hidden_plane(evidence: Evidence, wall: str) -> tuple[Array, Array]:
    """Return a point and the normal of the back of a wall's sheet, from the placed panel alone, built mm."""
    sheet = panel(evidence, wall)
    placed = sheet.leaves[0].built_from_flat
    return placed[:3, 3] - (sheet.finish + sheet.thickness) * placed[:3, 2], placed[:3, 2]


def rulings(evidence: Evidence, count: int, limit: float) -> tuple[Array, Array]:
    """Return where the rulings over the right wall's hole leave its sheet, and where they end, ``(count, 3)`` built mm.

    Every one is taken point by point: from the hole's edge outward along x, which the relief keeps, to the back of
    the sheet and to the lesser of the length and the box's side.
    """
    room, cut = evidence.room, evidence.imagined.cuts[0]
    t = np.linspace(0.0, 1.0, count)
    edge = np.concatenate([curves.evaluate(curve, t) for curve in cut.head])
    inside = room.relief.build_points(frames.apply(room.hall.imagined_from_host("right-wall"), edge))
    out = frames.apply(room.hall.imagined_from_host("right-wall"), edge)
    out[:, 0] += cut.length
    point, normal = hidden_plane(evidence, "right-wall")
    starts, ends = inside.copy(), room.relief.build_points(out)
    starts[:, 0] += ((point - inside) @ normal) / normal[0]
    ends[:, 0] = np.minimum(ends[:, 0], limit)
    return starts, ends


def net_area(starts: Array, ends: Array) -> float:
    """Return the area of a net of quadrangles between two rows of points."""
    one, other = ends[1:] - starts[:-1], starts[1:] - ends[:-1]
    return float(np.linalg.norm(np.cross(one, other), axis=1).sum() / 2)


@pytest.mark.parametrize("head", ["round", "segmental", "pointed", "basket"])
def test_a_barrel_is_as_large_as_the_surface_and_its_border_as_long_as_the_curve(head: str) -> None:
    """Neutral layer in the visible face: area and lengths within 0.001 % of a fine net's.

    The box's side less the clearance stands 89.5 mm from the middle.
    """
    text = PLAIN + CARD + hole(head, 'beyond = "passage"\nlength = 1.2')
    evidence = built(changed(text, "min_bend = 0.5", "min_bend = 0.5\nbend_factor = 0"))
    piece = bent(evidence, "gate-ceiling")
    starts, ends = rulings(evidence, 4001, 89.5)
    assert piece.area == pytest.approx(net_area(starts, ends), rel=1e-5)
    assert curves.signed_area(path_of(piece.cut.outline)) == pytest.approx(piece.area, rel=1e-4)
    chords = np.linalg.norm(np.diff(starts, axis=0), axis=1).sum()
    assert border(piece, "right-wall") == pytest.approx(chords, rel=1e-5)
    assert border(piece, "") == pytest.approx(np.linalg.norm(np.diff(ends, axis=0), axis=1).sum(), rel=1e-5)
    assert border(piece, "gate-far-wall") == pytest.approx(ends[0, 0] - starts[0, 0], abs=1e-6)


def test_without_relief_a_round_barrel_is_a_rectangle() -> None:
    """pi r by the length less the sheet, with r = 0.7 m and a length of 0.5 m at 1:48, 3 mm of foam before it."""
    text = changed(TRUE, "height = 60", "height = 40") + CARD
    text += hole("round", 'beyond = "passage"\nlength = 0.5', at=1.6)
    piece = bent(built(text), "gate-ceiling")
    radius, deep = 700 / 48, 500 / 48 - 3
    assert piece.area == pytest.approx(math.pi * radius * deep, rel=1e-9)
    assert piece.radius == pytest.approx(radius, rel=1e-9)
    low, high = curves.bounds(path_of(piece.cut.outline))
    assert high - low == pytest.approx([deep, math.pi * (radius + 0.25)], abs=2e-4)


def test_a_barrel_behind_the_back_wall_is_a_cone_round_the_end() -> None:
    """Its rulings run to the vanishing point, and it reaches to the back of the end's sheet, which plugs it."""
    evidence = built(PLAIN + CARD + hole("round", 'beyond = "passage"\nlength = 2.5', wall="back", at=4.2))
    piece = bent(evidence, "gate-ceiling")
    relief = evidence.room.relief
    vanishing = np.array([relief.eye[0], relief.vanishing_depth, relief.eye[2]])
    for ruling in piece.rulings:
        way, on = ruling.built[1] - ruling.built[0], vanishing - ruling.built[0]
        assert np.linalg.norm(np.cross(way, on)) < 1e-9 * np.linalg.norm(way) * np.linalg.norm(on)
    assert evidence.bodies["gate-ceiling"].bounding_box()[4] == pytest.approx(85 - 4 - 0.5, abs=1e-6)
    assert evidence.bodies["gate-end"].bounding_box()[4] == pytest.approx(85 - 4 - 0.5, abs=1e-6)
    assert border(piece, "gate-end") > 0
    assert_fits(evidence)


@pytest.mark.parametrize(("head", "wall"), [*((head, "right") for head in HEADS), ("basket", "back"), ("ogee", "back")])
def test_every_head_has_its_panels_and_no_check_fails(head: str, wall: str) -> None:
    """A passage on the floor and one above it; an ogee's two sides meet too sharply to be one sheet."""
    sill = 0.4 if wall == "right" else 0.0
    at = 8.0 if wall == "right" else 4.2
    length = 1.2 if wall == "right" else 2.5
    text = PLAIN + CARD + hole(head, f'beyond = "passage"\nlength = {length}', wall=wall, at=at, sill=sill)
    evidence = built(text)
    assert [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"] == []
    over = {piece.id for piece in evidence.bents} | set(evidence.imagined.unseen)
    sharp = {"gate-ceiling-right", "gate-ceiling-left"}
    assert sharp <= over if head == "ogee" else "gate-ceiling" in over
    for part in ("gate-floor", "gate-far-wall" if wall == "right" else "gate-right-wall"):
        assert panel(evidence, part).area > 0
    assert_fits(evidence)


def test_where_the_head_springs_from_the_sill_there_are_no_jambs() -> None:
    """The barrel stands on the sill's plane; its part ids hold no wall."""
    text = PLAIN + CARD + hole("round", 'beyond = "niche"\nlength = 0.4', height=0.7, sill=1.0)
    evidence = built(text)
    assert {part.id for part in evidence.parts if part.id.startswith("gate")} <= {
        "gate-floor", "gate-ceiling", "gate-end",
    }  # fmt: skip
    assert [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"] == []
    assert_fits(evidence)


def test_what_does_not_bend_is_printed_and_what_would_break_is_offered_the_print() -> None:
    """Foam does not bend: a print, and the report says why. Asked to be of sheet all the same, the check fails."""
    lane = hole("round", 'beyond = "passage"\nlength = 1.2')
    stiff = built(PLAIN + CARD + changed(lane, 'barrel_material = "card"\n', ""))
    assert [part.id for part in stiff.prints] == ["gate-lining"]
    assert "does not bend (min_bend = 0)" in " ".join(fact.text for fact in stiff.imagined.facts)
    forced = built(PLAIN + CARD + changed(lane, 'barrel_material = "card"\n', 'barrel_as = "sheet"\n'))
    tight = built(changed(PLAIN + CARD + lane, "min_bend = 0.5", "min_bend = 40"))
    for evidence in (forced, tight):
        findings = bent_radius.run(evidence)
        assert [finding.status for finding in findings] == ["fail"]
        assert 'barrel_as = "print"' in findings[0].message
    printed = built(PLAIN + CARD + lane + 'barrel_as = "print"\n')
    assert [part.id for part in printed.prints] == ["gate-lining"]
    assert printed.bents == ()


def test_courses_of_the_wall_go_on_over_the_barrel() -> None:
    """The barrel has its wall's cover; every guide is checked against the imagined one by bent-faithful."""
    text = changed(PLAIN, "[materials.foam]", '[right]\ncover = "brick"\nmaterial = "foam"\n\n[materials.foam]')
    text += CARD + "[covers.brick]\nlength = 0.4\nheight = 0.2\njoint = 0.02\n"
    text = changed(text, '[right]\nmaterial = "foam"\n', "")
    evidence = built(text + hole("round", 'beyond = "passage"\nlength = 1.2'))
    assert len(bent(evidence, "gate-ceiling").guides) > 20
    assert [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"] == []
