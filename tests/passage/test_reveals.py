"""Reveals: strips, printed frames, and holes cut along them."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import path_of

from ..scene_text import PLAIN
from .rooms import CARD, HEADS, built, hole
from .test_passages import assert_fits, panel


def gate(reveal: float, head: str = "flat", extra: str = "") -> str:
    return (
        PLAIN + f'[[openings]]\nname = "gate"\nwall = "right"\nat = 8.0\nwidth = 1.6\nsill = 0.4\nheight = 2.4\n'
        f'head = "{head}"\nreveal = {reveal}\n{extra}\n'
    )


def hidden_corners(evidence: Evidence, part: str) -> np.ndarray:
    """Return the corners of the hole on the sheet's hidden face, built mm."""
    sheet = panel(evidence, part)
    corners = np.array([edge.curve.start for edge in sheet.hidden.holes[0]])
    depth = np.full(len(corners), -sheet.thickness - sheet.finish)
    return frames.apply(sheet.leaves[0].built_from_flat, np.column_stack([corners, depth]))


def test_a_thick_wall_is_seen_in_strips() -> None:
    """0.4 m at 1:48 is 8.3 mm, more than the sheet of 3 mm as built too; the eye sees sill and far jamb."""
    evidence = built(gate(0.4))
    assert {"gate-sill", "gate-far-jamb"} <= {panel.id for panel in evidence.panels}
    assert set(evidence.imagined.unseen) == {"gate-soffit", "gate-near-jamb"}
    assert_fits(evidence)


def test_a_thin_wall_is_a_hole_cut_along_it() -> None:
    """0.1 m at 1:48 is 2.1 mm, thinner than the sheet: jambs keep their built y, as planes y = const do."""
    evidence = built(gate(0.1))
    assert len(evidence.panels) == 5
    assert "cut along it" in " ".join(fact.text for fact in evidence.imagined.facts)
    imagined = [(8.0 - 0.8) * 1000 / 48, (8.0 + 0.8) * 1000 / 48]
    expected = [evidence.room.relief.built_y(y) for y in imagined]
    y = hidden_corners(evidence, "right-wall")[:, 1]
    assert [y.min(), y.max()] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("head", ["flat", "round"])
def test_a_printed_frame_stands_behind_the_sheet(head: str) -> None:
    """One tube, open at both ends."""
    evidence = built(gate(0.5, head, 'reveal_as = "print"'))
    assert [part.id for part in evidence.prints] == ["gate-reveal"]
    assert evidence.bodies["gate-reveal"].genus() == 1
    assert_fits(evidence)


CURVED = [head for head in HEADS if head != "flat"]


@pytest.mark.parametrize("sill", [0.4, 0.0])
@pytest.mark.parametrize("head", CURVED)
def test_a_thin_wall_under_a_curved_head_is_cut_along_it_too(head: str, sill: float) -> None:
    """0.08 m at 1:48 is 1.7 mm, thinner than the sheet of 3 mm.

    The reveal runs along x: carried back to the imagined room, every point of the hole's hidden edge has the y and z of
    a point of its visible edge.
    """
    evidence = built(PLAIN + CARD + hole(head, "reveal = 0.08", sill=sill))
    wall, cut = panel(evidence, "right-wall"), evidence.imagined.cuts[0]
    visible, hidden = (
        [edge.curve for loop in region.loops for edge in loop if edge.against == "gate-soffit"]
        for region in (wall.cut, wall.hidden)
    )
    assert [curve.straight for curve in hidden] == [curve.straight for curve in visible]
    flat = np.concatenate([curves.evaluate(curve, np.linspace(0.0, 1.0, 9)) for curve in hidden if not curve.straight])
    made = frames.apply(wall.leaves[0].built_from_flat, np.column_stack([flat, np.full(len(flat), -3.0)]))
    imagined = frames.apply(evidence.room.relief.imagined_from_built, made)
    edge = np.concatenate([curves.evaluate(curve, np.linspace(0.0, 1.0, 20001)) for curve in cut.head])
    seen = frames.apply(evidence.room.hall.imagined_from_host("right-wall"), edge)
    for point in imagined:
        assert np.linalg.norm(seen[:, 1:] - point[1:], axis=1).min() < 2e-3
        assert point[0] > seen[0, 0] + 1.0
    assert "BEVEL" in evidence.drawings["right-wall"].layers
    bevels = [edge.bevel_deg for edge in wall.edges if abs(edge.bevel_deg[1] - edge.bevel_deg[0]) > 1.0]
    assert len(bevels) == len(cut.head)
    assert "cut along it" in " ".join(fact.text for fact in evidence.imagined.facts)


def test_the_written_bevel_of_a_thin_reveal_is_the_hidden_outline() -> None:
    """Read back from the DXF: the layer's area is that of the hidden hole, not that of the visible one."""
    evidence = built(PLAIN + CARD + hole("round", "reveal = 0.08"))
    wall, drawing = panel(evidence, "right-wall"), evidence.drawings["right-wall"]
    areas = [abs(curves.signed_area(path_of(region.holes[0]))) for region in (wall.cut, wall.hidden)]
    assert areas[0] == pytest.approx(areas[1], rel=1e-9)  # parallel rulings move the edge, they do not shrink it
    low = [curves.bounds(path_of(region.holes[0]))[0] for region in (wall.cut, wall.hidden)]
    written = [np.vstack([polyline.points[:, :2] for polyline in drawing.layers[name].polylines]) for name in
               ("HOLES", "BEVEL")]  # fmt: skip
    assert abs(float(low[1][0] - low[0][0])) > 0.3
    for points, corner in zip(written, low, strict=True):
        assert np.abs(points[:, 0] - corner[0]).min() < 1e-3


@pytest.mark.parametrize(
    ("head", "wall", "reveal"),
    [
        *((head, "right", 0.35) for head in CURVED),
        ("ogee", "left", 0.35),
        ("round", "back", 1.2),
        ("ogee", "back", 1.2),
    ],
)
def test_a_thick_wall_under_a_curved_head_has_strips_and_a_bent_soffit(head: str, wall: str, reveal: float) -> None:
    """As printed frames do, all fit; a strip is left out only where no eye sees it."""
    at = 4.2 if wall == "back" else 8.0
    evidence = built(PLAIN + CARD + hole(head, f"reveal = {reveal}", wall=wall, at=at))
    parts = {part.id for part in evidence.parts} | set(evidence.imagined.unseen)
    assert "gate-sill" in parts
    assert {"gate-soffit"} <= parts or {"gate-soffit-right", "gate-soffit-left"} <= parts
    assert any(piece.id.startswith("gate-soffit") for piece in evidence.bents)
    assert_fits(evidence)


@pytest.mark.parametrize(
    ("head", "wall", "extra"),
    [
        ("ogee", "left", "reveal = 0.35"),
        ("pointed", "back", "reveal = 1.2"),
        ("basket", "right", "reveal = 0.08"),
        ("segmental", "back", 'reveal = 1.6\nreveal_as = "print"'),
    ],
)
def test_no_check_fails_on_a_reveal(head: str, wall: str, extra: str) -> None:
    """Strips, frames and cut edges, in side walls and the back one."""
    evidence = built(PLAIN + CARD + hole(head, extra, wall=wall, at=4.2 if wall == "back" else 8.0, sill=0.0))
    assert [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"] == []


def test_a_soffit_that_cannot_be_bent_is_a_printed_frame() -> None:
    """Foam does not bend; asked to be of sheet it fails its check, which offers the print."""
    evidence = built(gate(0.5, "round"))
    assert [part.id for part in evidence.prints] == ["gate-reveal"]
    forced = built(gate(0.5, "round", 'reveal_as = "sheet"'))
    said = [finding.message for check in CHECKS for finding in check.run(forced) if finding.id == "bent-radius"]
    assert len(said) == 1
    assert 'reveal_as = "print"' in said[0]
