"""Tracery in a scene: where it stands, and what is left of it by the relief."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.geometry import curves
from pipeline.geometry.regions import path_of
from pipeline.scene.problems import SceneFileError
from tests.fittings.scenes import SHEETS, made, not_passed, opening, panel
from tests.scene_text import changed

TRACERY = 'tracery = { lights = 2, roundel = "quatrefoil", bars = [1, 1], material = "card" }'


@pytest.mark.parametrize("wall", ["left", "right", "back"])
def test_the_piece_lies_flat_on_the_back_of_the_wall(wall: str) -> None:
    """Its visible face is the plane of the wall's hidden face: no gap, and nothing in common."""
    evidence = made(SHEETS + opening(wall, TRACERY))
    host, piece = panel(evidence, f"{wall}-wall"), panel(evidence, "window-tracery")
    frame = host.leaves[-1].built_from_flat
    behind = (piece.body.vertices - frame[:3, 3]) @ frame[:3, 2]
    assert sorted(set(np.round(behind, 9))) == [-4.0, -3.0]
    bodies = evidence.bodies
    assert (bodies[host.id] ^ bodies[piece.id]).volume() == pytest.approx(0.0, abs=1e-6)
    assert bodies[host.id].min_gap(bodies[piece.id], 1.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("wall", ["left", "right", "back"])
def test_the_eye_sees_every_pane_where_it_is_imagined(wall: str) -> None:
    """All checks of panels pass; two lights of four panes and a quatrefoil are cut."""
    evidence = made(SHEETS + opening(wall, TRACERY))
    assert not_passed(evidence) == []
    assert len(panel(evidence, "window-tracery").cut.holes) == 9


def test_behind_the_back_wall_areas_shrink_by_the_square_of_the_scale() -> None:
    """A plane square to the view keeps its shapes; at built depth y the scale is 1 - y / V, V the vanishing depth.

    The circle over two equilateral lights is drawn by the window's own arcs, so its radius is measured, and the
    quatrefoil in the same place must fill it: r^2 (1 + pi / 2) against pi r^2.
    """
    found = {}
    for roundel in ("round", "quatrefoil"):
        table = TRACERY.replace("quatrefoil", roundel)
        evidence = made(SHEETS + opening("back", table))
        piece = panel(evidence, "window-tracery")
        imagined, cut = (-curves.signed_area(path_of(region.holes[0])) for region in (piece.region, piece.cut))
        depth = evidence.room.relief.built_depth + 3.0
        scale = 1 - depth / evidence.room.relief.vanishing_depth  # type: ignore[operator]
        assert cut == pytest.approx(imagined * scale**2, rel=1e-12)
        found[roundel] = cut
    assert found["quatrefoil"] / found["round"] == pytest.approx((1 + math.pi / 2) / math.pi, rel=1e-9)


def test_panes_stay_exact_conics_on_a_side_wall() -> None:
    """Every bent edge of the cut holes is one rational quadratic, not a row of chords."""
    piece = panel(made(SHEETS + opening("left", TRACERY)), "window-tracery")
    kinds = [len(edge.curve.points) for loop in piece.cut.holes for edge in loop]
    assert set(kinds) == {2, 3}
    assert len(piece.cut.holes[0]) == 8


def test_the_piece_reaches_past_the_hole_by_its_rebate() -> None:
    """0.10 m at 1:48 on each side, imagined."""
    piece = panel(made(SHEETS + opening("back", TRACERY)), "window-tracery")
    low, high = curves.bounds(path_of(piece.region.outline))
    assert high[0] - low[0] == pytest.approx(2200 / 48, rel=1e-12)
    assert low[1] == pytest.approx(900 / 48, rel=1e-12)


def test_an_inset_beyond_the_sheet_stands_the_piece_parallel_to_the_imagined_wall() -> None:
    """Every imagined point of it lies the inset behind the wall."""
    evidence = made(SHEETS + opening("left", TRACERY.replace("lights", "inset = 0.4, lights"), at=8.0))
    piece = panel(evidence, "window-tracery")
    assert -piece.visible_imagined.vertices[:, 0] - evidence.room.hall.width / 2 == pytest.approx(400 / 48, abs=1e-9)
    assert not_passed(evidence) == []


def test_an_inset_within_the_sheet_lets_the_piece_lie_on_its_back() -> None:
    """0.05 m at 1:48 is 1 mm, and the wall is 3 mm thick."""
    near, flat = (
        panel(made(SHEETS + opening("left", TRACERY.replace("lights", more))), "window-tracery").body.vertices
        for more in ("inset = 0.05, lights", "lights")
    )
    assert near == pytest.approx(flat, abs=1e-12)


def test_on_the_apron_the_piece_is_built_true() -> None:
    """Before the apron's end the relief is the identity, and the panes keep their imagined size."""
    text = changed(SHEETS, "scale = 48\n", "scale = 48\napron = 50\n") + opening("left", TRACERY, at=1.2)
    with pytest.raises(SceneFileError, match="the box leaves"):
        made(text)
    narrow = (
        changed(text, "scale = 48\n", "scale = 48\nwidth = 7.0\n") + "\n[front]\nmaterial = 'foam'\nbuild = false\n"
    )
    evidence = made(narrow)
    piece = panel(evidence, "window-tracery")
    areas = [[curves.signed_area(path_of(loop)) for loop in region.loops] for region in (piece.region, piece.cut)]
    assert np.abs(areas[0]) == pytest.approx(np.abs(areas[1]), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (opening("left", TRACERY, head="ogee"), "no tracery for an ogee head"),
        (opening("left", TRACERY.replace("lights = 2", "lights = 3, mullion = 1.0")), "no room for 3 lights"),
        (opening("left", TRACERY, at=1.2), "the box leaves"),
        (opening("left", TRACERY + '\nbeyond = "passage"\nlength = 1.0'), "a tracery stands where the passage begins"),
        (opening("left", TRACERY + "\ndoor = {}"), "both fill the hole"),
        (opening("left", TRACERY.replace("card", "glass")), 'there is no material "glass"'),
        (opening("left", TRACERY.replace("= 2", "= 4")), "lights"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(text: str, said: str) -> None:
    """In words, placed in the scene file."""
    with pytest.raises(SceneFileError, match=said):
        made(SHEETS + text)


def test_a_piece_across_the_aprons_end_is_refused() -> None:
    """It would have to be folded where nobody can glue it."""
    text = changed(SHEETS, "scale = 48\n", "scale = 48\napron = 40\nwidth = 7.0\n") + opening("left", TRACERY, at=2.0)
    with pytest.raises(SceneFileError, match="folded at the apron's end"):
        made(text)


@pytest.mark.parametrize(("made_as", "gap"), [("sheet", 0.0), ("print", 0.15)])
def test_a_reveal_ends_on_the_piece(made_as: str, gap: float) -> None:
    """Strips end flat against its visible face; a printed frame keeps the play of prints."""
    more = f'reveal = 0.3\nreveal_as = "{made_as}"\nbeyond = "light"\n{TRACERY}'
    evidence = made(SHEETS + opening("left", more, at=6.0, head="flat"))
    piece = evidence.bodies["window-tracery"]
    around = {part: body for part, body in evidence.bodies.items() if part.startswith("window-") and body is not piece}
    gaps = [body.min_gap(piece, 1.0) for body in around.values()]
    assert gaps == pytest.approx([gap] * len(gaps), abs=2e-3)
    assert len(gaps) == (3 if made_as == "sheet" else 1)
    assert not_passed(evidence) == []
