"""Glue flaps: folded from the written drawing they lie flat behind their neighbours, hidden, clear of all else."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.build import build_scene
from pipeline.checks import CHECKS, corners_hidden, panel_faithful
from pipeline.scene.problems import SceneFileError

from ..scene_text import changed
from .rooms import CARD, DOOR, FLAPS, TABS, build, clashes, made, panel

Array = NDArray[np.float64]
THICK, WIDE = 0.5, 6.0
LIGHT = DOOR + 'beyond = "light"\n'


def entry(text: str, part: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in build(text).manifest["parts"] if one["id"] == part)
    return found


def flaps(text: str) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    parts = build(text).manifest["parts"]
    return [(part, one) for part in parts for one in part.get("additions", []) if one["kind"] == "flap"]


def beyond(one: dict[str, Any]) -> list[list[float]]:
    """Return a flap's corners on its fold and behind it."""
    return [p for p in one["outline"] if p in one["fold"] or p not in (one["outline"][0], one["outline"][-1])]


def folded(part: dict[str, Any], one: dict[str, Any]) -> Array:
    """Return a flap's corners behind its fold, built: turned about the fold's line as Rodrigues' formula has it."""
    matrix = np.array(part["built_from_flat"])
    points = np.array([[x, y, 0.0, 1.0] for x, y in beyond(one)]) @ matrix.T
    a, b = (np.array([[x, y, 0.0, 1.0] for x, y in one["fold"]]) @ matrix.T)[:, :3]
    axis = (b - a) / np.linalg.norm(b - a)
    inside = (points[:, :3].mean(axis=0) - a) @ np.cross(matrix[:3, 2], axis)
    angle = math.radians(one["fold_deg"]) * (1 if inside > 0 else -1)
    away = points[:, :3] - a
    turned = (
        away * math.cos(angle)
        + np.cross(axis, away) * math.sin(angle)
        + np.outer(away @ axis, axis) * (1 - math.cos(angle))
    )
    out: Array = a + turned
    return out


@pytest.mark.parametrize("more", ["", LIGHT])
def test_flap_folded_from_the_drawing_lies_on_the_hidden_face(more: str) -> None:
    """Placed by the manifest and turned by fold_deg, each lies a sheet's thickness behind its neighbour's face."""
    text = FLAPS.replace("[make]", more + "[make]")
    assert len(flaps(text)) >= 8
    for part, one in flaps(text):
        other = entry(text, one["against"])
        flat = np.linalg.inv(np.array(other["built_from_flat"])) @ np.vstack(
            [folded(part, one).T, np.ones(len(beyond(one)))]
        )
        assert flat[2] == pytest.approx(np.full(flat.shape[1], -THICK), abs=1e-5), (part["id"], one["against"])
        outline = shapely.Polygon([e.curve.start for e in panel(made(text), other["id"]).cut.outline])
        assert outline.buffer(THICK).contains(shapely.Polygon(flat[:2].T))


def test_every_corner_has_one_flap() -> None:
    """Eight lines where two of the five surfaces meet, each with a flap on one of them."""
    pairs = [frozenset((part["id"], one["against"])) for part, one in flaps(FLAPS)]
    assert len(pairs) == len(set(pairs)) == 8


def test_flap_is_as_wide_as_asked_and_its_ends_are_mitred() -> None:
    """Across the fold 6 mm; its ends run at 45 degrees, so it is shorter at its free edge by twice its width."""
    part, one = next((p, o) for p, o in flaps(FLAPS) if p["id"] == "back-wall" and o["against"] == "ceiling")
    assert part["id"] == "back-wall"
    a, b = np.array(one["fold"])
    across = shapely.LineString([a, b])
    free = [p for p in one["outline"] if across.distance(shapely.Point(p)) > WIDE - 1e-5]
    assert max(across.distance(shapely.Point(p)) for p in one["outline"]) == pytest.approx(WIDE, abs=1e-5)
    assert math.dist(*free) == pytest.approx(math.dist(a, b) - 2 * WIDE, abs=1e-5)


def test_sheet_goes_on_under_the_edge_it_holds() -> None:
    """Between the visible line and the fold lie tB / sin th, th the angle of the two built planes."""
    for part, one in flaps(FLAPS):
        mine, theirs = (np.array(e["built_from_flat"])[:3, 2] for e in (part, entry(FLAPS, one["against"])))
        th = math.acos(-mine @ theirs)
        strip = next(s for s in part["additions"] if s["kind"] == "strip" and s["against"] == one["against"])
        base = shapely.LineString([strip["outline"][0], strip["outline"][-1]])
        assert base.distance(shapely.Point(one["fold"][0])) == pytest.approx(THICK / math.sin(th), abs=1e-5)
        assert one["fold_deg"] == pytest.approx(180 - math.degrees(th), abs=1e-5)


@pytest.mark.parametrize("more", ["", LIGHT, "[supports]\nstringers = 3\nspacers = 2\n", 'edges = "square"\n'])
def test_no_two_pieces_take_the_same_room(more: str) -> None:
    """Every closed body against every other, those of one panel too, by manifold3d's own booleans."""
    text = FLAPS + more if more.startswith("edges") else FLAPS.replace("[make]", more + "[make]")
    evidence = made(text)
    assert clashes(evidence) == {}
    assert [f.message for check in CHECKS for f in check.run(evidence) if f.status == "fail"] == []


def test_no_flap_stands_in_a_doorway() -> None:
    """The floor's flap at the left wall is parted where the door is: two seams, two flaps, clear of the hole."""
    text = FLAPS.replace("[make]", LIGHT + "[make]")
    mine = [one for part, one in flaps(text) if part["id"] == "floor" and one["against"] == "left-wall"]
    assert len(mine) == 2
    wall = panel(made(text), "left-wall")
    assert len(wall.cut.holes) == 0  # the door is a notch of the wall's outline


def test_fold_lines_are_written_on_fold_and_the_outline_goes_round_the_flap() -> None:
    """Read back by ezdxf: four folds on the back wall, and its outline has the flaps' corners."""
    text = build(FLAPS).files["panels/back-wall.dxf"].decode()
    document = ezdxf.read(io.StringIO(text))
    folds = [line for line in document.modelspace() if line.dxf.layer == "FOLD"]
    assert len(folds) == 4
    (outline,) = [line for line in document.modelspace() if line.dxf.layer == "OUTLINE"]
    points = {(round(x, 3), round(y, 3)) for x, y, *_ in outline.get_points()}
    for one in (one for one in entry(FLAPS, "back-wall")["additions"] if one["kind"] == "flap"):
        assert {(round(x, 3), round(y, 3)) for x, y in beyond(one)} <= points


def test_flaps_are_hidden_until_a_wall_is_taken_away() -> None:
    """All rays to them end on what stands before; with the left wall gone the floor's flap is seen."""
    evidence = made(FLAPS)
    (found,) = corners_hidden.run(evidence)
    assert found.status == "pass"
    bare = replace(evidence, panels=tuple(one for one in evidence.panels if one.id != "left-wall"))
    seen = corners_hidden.run(bare)
    assert {f.status for f in seen} == {"warn"}
    assert all("left-wall" in f.message for f in seen)


def test_no_flap_where_a_finish_would_show() -> None:
    """A sheet behind 1 mm of finish ends behind the visible line: it gets no flap, and the report says so."""
    text = FLAPS.replace("[make]", "[floor]\nfinish = 1.0\n[make]")
    assert all("floor" not in (part["id"], one["against"]) for part, one in flaps(text))
    assert any("No tabs or flaps on floor" in fact.text for fact in made(text).imagined.facts)
    assert clashes(made(text)) == {}


def test_flap_that_would_hit_a_support_is_left_out_and_told() -> None:
    """Spacers lie on the walls' hidden faces; a flap wide enough to reach them is narrowed or left out."""
    text = FLAPS.replace("[make]", "[supports]\nspacers = 3\n[make]") + "flap = 50\n"
    evidence = made(text)
    assert clashes(evidence) == {}
    assert any("No room for a flap" in fact.text for fact in evidence.imagined.facts)


def test_cards_own_word_goes_before_the_makes() -> None:
    """corners of a material stands over make.corners."""
    text = changed(CARD, "thickness = 0.5", 'thickness = 0.5\ncorners = "flaps"')
    assert len(flaps(text)) == 8
    text = changed(FLAPS, "thickness = 0.5", 'thickness = 0.5\ncorners = "plain"')
    assert flaps(text) == []


def test_unknown_corners_are_refused() -> None:
    """The three words, and no other."""
    with pytest.raises(SceneFileError) as caught:
        build_scene((CARD + '[make]\ncorners = "glue"\n').encode(), "room")
    (message,) = caught.value.describe("room.toml")
    assert "make.corners" in message
    assert '"flaps"' in message


@pytest.mark.parametrize("text", [FLAPS, TABS])
def test_a_wall_with_a_door_in_its_foot_is_drawn_as_imagined(text: str) -> None:
    """The door leaves two pieces of the back wall's lower edge; what runs on beneath the floor ends at the door with
    each, and taken off the written outline leaves the imagined one."""
    evidence = made(text + changed(DOOR, 'wall = "left"', 'wall = "back"').replace("at = 6.0", "at = 4.0"))
    assert [one.part for one in panel_faithful.run(evidence) if one.status != "pass"] == []
    wall = next(one for one in evidence.panels if one.id == "back-wall")
    strips = [one.chain for one in wall.additions if one.kind == "strip" and one.against == "floor"]
    low, high = sorted((float(chain[:, 0].min()), float(chain[:, 0].max())) for chain in strips)
    # 1.6 m at 1:48 and a back scale of (420 + 77.5) / (420 + 250) or nearly so: 24.7 mm.
    assert high[0] - low[1] == pytest.approx(1.6e3 / 48 * evidence.room.relief.back_scale, abs=1e-6)
