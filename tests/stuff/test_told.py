"""What is said of materials that a scene asks for and cannot use, and of what the bench needs beyond amounts."""

from __future__ import annotations

import math
import re
from functools import cache
from html import unescape

import pytest

from pipeline.build import Build, build_scene
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene

from .rooms import GROIN, POST, TRUE

Settings = tuple[tuple[str, str], ...]


@cache
def built(text: str, *settings: tuple[str, str]) -> Build:
    return build_scene(text.encode(), "room", settings)


def section(name: str, text: str, *settings: tuple[str, str]) -> str:
    """Return the words of a section of the page; nothing where it has none."""
    page = built(text, *settings).files["report.html"].decode()
    if f'<section id="{name}"' not in page:
        return ""
    own = page.split(f'<section id="{name}"')[1].split("</section>")[0]
    return unescape(" ".join(re.sub(r"<[^>]+>", " ", own).split()))


def test_filler_that_goes_nowhere_is_said_to() -> None:
    """Without a vault, without filler, or with a level below the springing at 31 mm."""
    filled = ("work.filler", "plaster")
    assert "work.filler fills what lies behind a vault, and there is none" in section("notes", TRUE, filled)
    assert "work.fill_to asks for work.filler" in section("notes", GROIN, ("work.fill_to", "50"))
    low = ("work.fill_to", "20")
    assert "up to work.fill_to nothing is free behind the vault" in section("notes", GROIN, filled, low)
    assert "Fill in plaster" not in section("work", GROIN, filled, low)
    assert not [one for one in built(GROIN, filled, low).manifest["materials"] if one["kind"] == "filler"]
    assert "Fill in plaster" in section("work", GROIN, filled)
    assert "fill" not in section("notes", GROIN, filled)


def test_filament_is_told_by_its_length_and_knows_no_vat() -> None:
    """1.75 mm thick: 2.405 mm2, so a cubic centimetre is 0.416 m."""
    filament = ("make.printer.process", "filament")
    said = section("materials", TRUE + POST, filament)
    [prints] = [one for one in built(TRUE + POST, filament).manifest["materials"] if one["kind"] == "print"]
    metres = prints["volume"] / (math.pi * (1.75 / 2) ** 2) / 1000
    assert f"{metres:.1f} m of 1.75 mm" in said
    assert "vat" not in said
    assert "what the vat keeps" in section("materials", TRUE + POST)


def test_paint_is_told_by_the_coat() -> None:
    """A litre covers 10 square metres (common practice): the 296 cm2 of the room take 3.0 ml."""
    assert "296 cm² about 3 ml for each coat" in section("materials", TRUE)


@pytest.mark.parametrize(
    ("added", "place", "allowed"),
    [
        ("[work.rates]\nfit = 0\n", "work.rates.fit", "0.001 or more"),
        ("[work.rates]\nfit = 1e-308\n", "work.rates.fit", "0.001 or more"),
        ("[work.rates]\nfit = -2\n", "work.rates.fit", "0.001 or more"),
        ("[materials.x]\nthickness = 1\ndensity = 1e-320\n", "materials.x.density", "0.001 or more"),
        ("[materials.x]\nthickness = 1\ndensity = 700\n", "materials.x.density", "at most 25"),
        ("[materials.x]\nthickness = 1\nprice = -3\n", "materials.x.price", "0 or more"),
        ("[make.printer]\nprice = -3\n", "make.printer.price", "0 or more"),
    ],
)
def test_figures_that_nobody_means_are_refused_with_their_bounds(added: str, place: str, allowed: str) -> None:
    """A rate of next to nothing would take for ever, and say so in no number; line and column are those of the key."""
    with pytest.raises(SceneFileError) as caught:
        read_scene(TRUE + added)
    [message] = caught.value.describe("a.toml")
    line = len((TRUE + added).splitlines())
    assert message.startswith(f"a.toml:{line}:1: {place}: ")
    assert f"allowed: {allowed}" in message


def test_clay_that_is_baked_is_baked() -> None:
    """By its maker's temperature, before guides are drawn on it; clay that dries in air is not."""
    baked = ("left.finish", "0.5"), ("materials.board.coat", '"heat-cured clay"')
    said = section("work", TRUE, *baked)
    assert "heat-cured clay on left-wall" in said
    assert "Cure it in the oven, flat, as its maker tells" in said
    dried = ("left.finish", "0.5"), ("materials.board.coat", '"air-dried clay"')
    assert "oven" not in section("work", TRUE, *dried)


@pytest.mark.parametrize(("prints", "expected"), [("", 2 * 2), (POST, 3 * 2)])
def test_time_to_dry_comes_on_top_of_hours_of_work(prints: str, expected: int) -> None:
    """Sheets, prints and washes of acrylic paint, 2 hours each; with a coat of clay another 48."""
    assert f"dry: {expected} h" in section("materials", TRUE + prints)
    clay = ("left.finish", "0.5"), ("materials.board.coat", '"air-dried clay"'), ("materials.board.sealed", "true")
    assert f"dry: {expected + 48} h" in section("materials", TRUE + prints, *clay)
