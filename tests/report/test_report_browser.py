"""The page in a real browser, from a file: nothing leaves it, nothing is lost without a script or a graphics card."""

from __future__ import annotations

import base64
import io
import json
import os
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from pipeline.build import Build
from pipeline.checks.written import read_stl
from tests.browsers import axe, faults, launched, missing, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

if os.environ.get("CI"):
    assert missing() == "", f"{missing()}: in CI the page is never left untested"
pytestmark = pytest.mark.skipif(missing() != "", reason=missing())

WIDTHS = (1280, 390)


def picture(page: Page, place: str) -> np.ndarray[Any, Any]:
    """Return what is shown there, pixels ``(h, w, 3)``."""
    return np.asarray(Image.open(io.BytesIO(page.locator(place).screenshot())).convert("RGB")).astype(int)


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_asked_for_and_nothing_is_too_wide(browser: Browser, report: Path, width: int) -> None:
    """On a screen and on a telephone: no request but the file, no error, and only tables may be scrolled sideways."""
    wrong: list[str] = []
    page = opened(browser, report, wrong, width)
    page.wait_for_selector("#model-view.live")
    assert wrong == []
    assert page.evaluate("document.documentElement.scrollWidth") == width
    loose = page.evaluate(
        """Array.from(document.querySelectorAll("main *"))
            .filter(one => !one.closest(".scroll, .unseen, svg"))
            .filter(one => one.getBoundingClientRect().right > innerWidth + 0.5)
            .map(one => one.outerHTML.slice(0, 120))"""
    )
    assert loose == []
    page.context.close()


@pytest.mark.parametrize("width", WIDTHS)
def test_assistive_tools_find_no_fault(browser: Browser, report: Path, width: int) -> None:
    """All of axe-core's rules; on a screen with all unfolded that folds."""
    page = opened(browser, report, [], width)
    if width == WIDTHS[0]:
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert faults(page, axe()) == []
    page.context.close()


def seam(page: Page) -> float:
    """Return where the line of the wipe stands, as a share of the picture's width."""
    page.wait_for_timeout(300)  # it glides
    whole, line = page.locator(".wipe").bounding_box(), page.locator(".wipe .seam").bounding_box()
    assert whole is not None
    assert line is not None
    return float((line["x"] + line["width"] / 2 - whole["x"]) / whole["width"])


def test_the_wipe_follows_keys_and_pointer_without_a_script(browser: Browser, report: Path) -> None:
    """One arrow key moves the line by a twentieth; where one points or taps it stands, within half a stop."""
    page = opened(browser, report, [], java_script_enabled=False)
    assert seam(page) == pytest.approx(0.5, abs=0.01)
    page.locator(".skip").focus()
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.locator(".wipe:focus-within").count():
            break
    page.keyboard.press("ArrowRight")
    assert seam(page) == pytest.approx(0.55, abs=0.01)
    for _ in range(3):
        page.keyboard.press("ArrowLeft")
    assert seam(page) == pytest.approx(0.4, abs=0.01)
    frame = page.locator(".wipe").bounding_box()
    assert frame is not None
    for share in (0.1, 0.83):
        page.mouse.move(frame["x"] + share * frame["width"], frame["y"] + 90)
        assert seam(page) == pytest.approx(share, abs=0.05)
    page.mouse.down()
    page.mouse.up()
    page.mouse.move(5, 5)
    assert seam(page) == pytest.approx(0.83, abs=0.05)
    page.context.close()


def test_left_of_the_line_is_the_built_room_and_right_of_it_the_imagined_one(
    browser: Browser, report: Path, cistern: Build
) -> None:
    """The pictures' own pixels, half and half; told apart by painting them first."""
    page = opened(browser, report, [])
    for place, colour in (("under", "blue"), ("over", "red")):
        page.evaluate(
            f"""{{ const style = document.querySelector(".wipe .{place} img").style;
                style.background = "{colour}"; style.objectPosition = "-99rem"; }}"""
        )
    seen = picture(page, ".wipe")
    row = seen[len(seen) // 2]
    middle = len(row) // 2
    assert (row[5 : middle - 5] == (255, 0, 0)).all()
    assert (row[middle + 5 : -5] == (0, 0, 255)).all()
    page.context.close()


def test_the_box_is_walked_round_by_keys_pointer_and_buttons(page: Page) -> None:
    """Each changes the picture; what a button shows it shows again."""
    page.wait_for_selector("#model-view.live")
    canvas = page.locator("#model-view canvas")
    canvas.scroll_into_view_if_needed()
    first = picture(page, "#model-view canvas")
    seen = [first]
    canvas.focus()
    for key in ("ArrowRight", "ArrowUp", "+", "-"):
        page.keyboard.press(key)
        page.wait_for_timeout(100)
        seen.append(picture(page, "#model-view canvas"))
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 260, box["y"] + 180, steps=3)
    page.mouse.up()
    page.wait_for_timeout(100)
    seen.append(picture(page, "#model-view canvas"))
    for name in ("From the eye", "From the side", "From above"):
        page.get_by_role("button", name=name).click()
        page.wait_for_timeout(100)
        seen.append(picture(page, "#model-view canvas"))
    for before, after in pairwise(seen):
        assert (np.abs(before - after).max(axis=2) > 20).mean() > 0.005
    page.get_by_role("button", name="From a corner").click()
    page.wait_for_timeout(100)
    assert np.abs(picture(page, "#model-view canvas") - first).max() <= 8


def test_parts_come_in_the_order_of_work(page: Page, cistern: Build) -> None:
    """The slide's first step is the first part alone, named; its last is all of them."""
    order = [part["id"] for part in sorted(cistern.manifest["parts"], key=lambda part: part["order"])]
    slide, told = page.locator(".until input"), page.locator(".until output")
    slide.focus()
    page.keyboard.press("Home")
    assert told.inner_text() == f"1 of {len(order)}, the last {order[0]}"
    page.keyboard.press("ArrowRight")
    assert told.inner_text() == f"2 of {len(order)}, the last {order[1]}"
    page.keyboard.press("End")
    assert told.inner_text() == f"all {len(order)}"


def test_the_shapes_in_the_page_are_the_parts(page: Page, cistern: Build) -> None:
    """Decoded here by the format's own words: prints enclose the volume of the manifest and stand where their written
    file stands, every panel has its guides, and every point lies in the box.
    """
    told = json.loads(page.locator("#model-view").get_attribute("data-told") or "")
    shapes = base64.b64decode(page.locator("#model-view").get_attribute("data-shapes") or "")
    vertices, ends, indices, wide = np.frombuffer(shapes, "<u4", 4)
    kind = np.dtype("<u4" if wide else "<u2")
    index = np.frombuffer(shapes, kind, indices, 16)
    grid = np.frombuffer(shapes, "<u2", 3 * (vertices + ends), 16 + kind.itemsize * int(indices)).reshape(-1, 3)
    assert 16 + kind.itemsize * int(indices) + 6 * int(vertices + ends) == len(shapes)
    points = np.array(told["low"]) + told["step"] * grid
    entries = {part["id"]: part for part in cistern.manifest["parts"]}
    assert [part["id"] for part in told["parts"]] == sorted(entries, key=lambda name: entries[name]["order"])
    for part in told["parts"]:
        entry = entries[part["id"]]
        first, number = part["skin"]
        corners = points[index[first : first + number]].reshape(-1, 3, 3)
        if entry["made_as"] == "print":
            volume = np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6
            assert volume == pytest.approx(entry["volume"], rel=5e-3)
            written = np.array(read_stl(cistern.files[entry["files"]["stl"]]).reshape(-1, 3))
            placed = np.c_[written, np.ones(len(written))] @ np.array(entry["built_from_bed"])[:3].T
            for side in (np.min, np.max):
                np.testing.assert_allclose(side(corners.reshape(-1, 3), axis=0), side(placed, axis=0), atol=0.01)
        else:
            assert part["lines"][1] == 2 * entry["guides"]
    width, height, depth = told["box"]
    assert (points >= np.array([-width / 2, 0, 0]) - 0.01).all()
    assert (points <= np.array([width / 2, depth, height]) + 0.01).all()


def test_without_a_graphics_card_the_picture_stands_for_the_view(browser: Browser, report: Path) -> None:
    """And the page says why; nothing goes wrong."""
    wrong: list[str] = []
    blind = launched(browser.browser_type, graphics=False)
    page = opened(blind, report, wrong)
    assert page.locator("#model-view .still img").is_visible()
    assert page.locator("#model-view .why").is_visible()
    assert not page.locator("#model-view canvas").is_visible()
    blind.close()
    assert wrong == []


def test_without_a_script_every_section_is_there(browser: Browser, report: Path) -> None:
    """The picture stands for the view, and checks fold and unfold."""
    page = opened(browser, report, [], java_script_enabled=False)
    assert page.locator("#model-view .still img").is_visible()
    assert page.locator("noscript p").is_visible()
    assert not page.locator("#model-view canvas").is_visible()
    passed = page.locator("details.check.pass").first
    passed.locator("summary").click()
    assert passed.locator("p").first.is_visible()
    page.context.close()
