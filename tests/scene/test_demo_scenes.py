"""The demo scenes and the starter are good scenes."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.exports.drawing import COLOURS
from pipeline.room.imagine import imagine
from pipeline.room.measure import measure
from pipeline.scene.make import Colours
from pipeline.scene.read import read_scene
from pipeline.scene.starter import Wishes, starter_scene

TEXTS = {
    path.stem: path.read_text(encoding="utf-8")
    for path in sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))
}
TEXTS["starter"] = starter_scene(Wishes(title="Back shop"))


@pytest.mark.parametrize("name", TEXTS)
def test_everything_in_a_demo_scene_has_room(name: str) -> None:
    scene = read_scene(TEXTS[name])
    assert imagine(scene, measure(scene)).problems == ()


def test_the_cistern_is_the_box_the_design_draws() -> None:
    """width = box.width - 2 (t + c), height = springing + rise, built depth = box.depth - gap - t - c - tracery."""
    scene = read_scene(TEXTS["cistern"])
    hall, relief = measure(scene).hall, measure(scene).relief
    assert hall.width == pytest.approx(180 - 2 * 3.5, abs=1e-9)
    assert hall.height == pytest.approx((3.2 + 3.0) * 1000 / 48, abs=1e-9)
    assert relief.built_depth == pytest.approx(85 - 4 - 3 - 0.5 - 1.0, abs=1e-9)
    assert relief.back_scale == pytest.approx((420 + 76.5) / (420 + 250), abs=1e-12)


def test_the_cistern_shows_several_heads_and_piers_under_a_ribbed_vault() -> None:
    scene = read_scene(TEXTS["cistern"])
    assert {opening.head for opening in scene.openings} >= {"flat", "round", "segmental", "pointed"}
    assert [column.stand for column in scene.columns] == ["bays"]
    assert scene.vault is not None
    assert scene.vault.rib_width > 0 < scene.vault.boss


@given(st.text(max_size=300))
def test_a_starter_takes_any_title(name: str) -> None:
    assert read_scene(starter_scene(Wishes(title=name))).box.width == 160


def test_a_starter_bears_its_title() -> None:
    assert read_scene(starter_scene(Wishes(title='The "old" shop'))).title == 'The "old" shop'


def test_default_colours_are_those_of_the_drawings() -> None:
    assert {layer.value.lower(): colour for layer, colour in COLOURS.items()} == Colours().model_dump()
