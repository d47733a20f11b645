"""The pictures of whole scenes."""

from __future__ import annotations

import importlib.util
import io
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from pipeline.build import Build, build_scene

from ..conftest import built

DOCS = Path(__file__).parent.parent.parent / "docs"


def pixels(png: bytes) -> NDArray[np.int64]:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(np.int64)


def redraw() -> ModuleType:
    spec = importlib.util.spec_from_file_location("redraw", DOCS / "redraw.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_eye_sees_the_imagined_room(demo: Build) -> None:
    """Built and imagined pictures are one but for the play at the prints' feet, walls and ceiling, a pixel wide."""
    eye, imagined = (pixels(demo.files[f"pictures/{name}.png"]) for name in ("eye", "imagined"))
    assert eye.shape == (900, 1200, 3)
    off = np.abs(eye - imagined).max(axis=2)
    assert (off > 24).mean() < 0.006
    # No patch of 5 x 5 pixels differs as a whole: a difference is never wider than an edge.
    patches = np.lib.stride_tricks.sliding_window_view(off > 24, (5, 5)).all(axis=(2, 3))
    assert not patches.any()


def test_one_step_aside_the_room_no_longer_fits(demo: Build) -> None:
    """From 60 mm to the side the built room is another picture."""
    eye, aside = (pixels(demo.files[f"pictures/{name}.png"]) for name in ("eye", "aside"))
    assert (np.abs(eye - aside).max(axis=2) > 24).mean() > 0.05


@pytest.mark.parametrize("name", redraw().shown())
def test_the_pages_show_what_the_program_draws(name: str) -> None:
    """The committed picture is the built one, but for its few colours; else run docs/redraw.py."""
    pages = redraw()
    scene, file = pages.shown()[name]
    build = first_room() if scene == pages.STARTER else built(scene)
    assert_shown(pages.small(build.files[file], name), name)


def test_the_first_template_is_the_one_the_program_writes() -> None:
    """The same of the page of paper templates, rendered by another library."""
    pages = redraw()
    assert_shown(pages.small(pages.page(first_room().files["templates.pdf"]), pages.TEMPLATE), pages.TEMPLATE)


def test_the_view_from_far_aside_is_the_one_the_program_draws() -> None:
    """In which the floor rises and the walls lean, as the how-to page says."""
    pages = redraw()
    assert_shown(pages.small(pages.far_aside(), pages.FAR), pages.FAR)


def test_every_demo_stands_in_the_gallery() -> None:
    """With both views, its file and a line on what it shows."""
    page = (DOCS / "gallery.md").read_text(encoding="utf-8")
    for scene in redraw().GALLERY:
        row = next(line for line in page.splitlines() if f"gallery/{scene}-eye.png" in line)
        assert f"gallery/{scene}-aside.png" in row
        assert f"../scenes/{scene}.toml" in row


@cache
def first_room() -> Build:
    """Return the starter room of the first page, built."""
    return build_scene(redraw().scene_bytes("my-room"), "my-room")


def assert_shown(picture: Image.Image, name: str) -> None:
    drawn = np.asarray(picture).astype(np.int64)
    shown = pixels((DOCS / name).read_bytes())
    assert drawn.shape == shown.shape
    assert np.abs(drawn - shown).mean() < 4
