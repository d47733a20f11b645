"""What is rebuilt is what a clean build gives."""

from __future__ import annotations

import os

from pipeline.build import Build, Overrides, build_scene, shape
from pipeline.keeping.kept import Kept
from pipeline.scene.problems import SceneFileError

from .edits import SCENE, edits

EDITS = int(os.environ.get("FORESHORTEN_EDITS", "20"))
"""How many edits are tried; 200 by hand, a tenth of them every time."""


def made(overrides: Overrides, kept: Kept | None) -> Build | list[str]:
    """Return a build, or what is wrong with the scene."""
    try:
        if kept is None:
            return build_scene(SCENE.encode(), "store", overrides)
        return build_scene(SCENE.encode(), "store", overrides, kept=kept)
    except SceneFileError as error:
        return error.describe("store.toml")


def test_a_rebuild_gives_the_bytes_of_a_clean_build() -> None:
    """After any one key has changed, every file is byte for byte what a clean build writes; so is every refusal."""
    kept, built = Kept(), 0
    for overrides in edits(20261126, EDITS):
        again, clean = made(overrides, kept), made(overrides, None)
        if isinstance(clean, Build) and isinstance(again, Build):
            built += 1
            changed = [name for name in clean.files if again.files.get(name) != clean.files[name]]
            assert changed == [], overrides
            assert list(again.files) == list(clean.files)
            assert again.summary == clean.summary
        else:
            assert again == clean
    assert built >= 0.75 * EDITS, "most edits must leave a scene that can be built, or little is compared"


def test_another_cover_leaves_every_sheet_as_it_was() -> None:
    """One wall is drawn anew; no sheet is cut again, no body made, nothing behind an opening fitted."""
    kept = Kept()
    before = shape(SCENE.encode(), (), None, kept)
    kept.begin()
    after = shape(SCENE.encode(), (("left.cover", '"flags"'),), None, kept)
    assert [panel.id for panel in after.panels] == [panel.id for panel in before.panels]
    pairs = list(zip(before.panels, after.panels, strict=True))
    assert all(one.cut is other.cut and one.body is other.body for one, other in pairs)
    drawn = {one.id for one, other in pairs if one.guides is not other.guides}
    assert "left-wall" in drawn
    assert all(name == "left-wall" or name.startswith("store-") for name in drawn), "the wall and its niche alone"
