"""The page on paper and at its narrowest: nothing torn, nothing cut off, whatever its names."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pypdf
import pytest

from pipeline.build import Build, build_scene
from tests.browsers import missing, opened
from tests.casework.boxes import BOXED

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

if os.environ.get("CI"):
    assert missing() == "", f"{missing()}: in CI the page is never left untested"
pytestmark = pytest.mark.skipif(missing() != "", reason=missing())


def test_on_paper_the_wipe_is_two_pictures_and_the_view_one(page: Page) -> None:
    """Side by side, neither over the other; the canvas and its knobs stay away."""
    page.emulate_media(media="print")
    under, over = page.locator(".wipe .under img").bounding_box(), page.locator(".wipe .over img").bounding_box()
    assert under is not None
    assert over is not None
    assert over["x"] + over["width"] <= under["x"]
    assert over["y"] == under["y"]
    assert page.locator("#model-view .still img").is_visible()
    for gone in ("#model-view canvas", ".deeds", ".wipe .seam", ".skip"):
        assert not page.locator(gone).is_visible()
    page.emulate_media(media="null")  # else the printed page after it is drawn as on a screen


def test_every_printed_page_says_whose_it_is_and_which(page: Page, cistern: Build) -> None:
    """A4 upright throughout; each with its number of how many and the scene's title, and nothing left folded."""
    read = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    texts = [" ".join(one.extract_text().split()) for one in read.pages]
    assert len(texts) > 5
    for number, (one, text) in enumerate(zip(read.pages, texts, strict=True), start=1):
        assert [float(side) for side in one.mediabox[2:]] == pytest.approx([595.3, 841.9], abs=1)  # 210 x 297 mm
        assert f"{number} of {len(texts)}" in text
        assert cistern.manifest["title"] in text
    whole = " ".join(texts)
    for part in cistern.manifest["parts"]:
        for edge in part.get("edges", []):
            assert f"{edge['length']:.2f}" in whole, "what folds on the screen is open on paper"


LONG = "Saeulenunterbauverkleidungselementbefestigungsvorrichtungen"
"""As long as a name may be but for a letter, and no place in it to break a line."""


@pytest.fixture(scope="module")
def lettered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a scene whose parts, stock, figure, lamp and title have such names."""
    text = BOXED.replace("ply", f"ply{LONG[:55]}").replace("A plain room", f"{LONG} {LONG} and more")
    text += f'''
[[openings]]
name = "door{LONG[:56]}"
wall = "right"
at = 6.0
width = 1.6
height = 2.4
beyond = "passage"
length = 0.6
[[columns]]
name = "{LONG}"
at = [[-1.5, 6.0]]
diameter = 0.6
[[figures]]
name = "guest{LONG[:55]}"
height = 1.72
at = [0.9, 5.0]
[[lights]]
name = "lamp{LONG[:56]}"
kind = "lamp"
at = [0.0, 6.0, 2.6]
supply = 9.0
forward = 3.0
current = 0.01
'''
    file = tmp_path_factory.mktemp("long") / "report.html"
    file.write_bytes(build_scene(text.encode(), "long").files["report.html"])
    return file


@pytest.mark.parametrize("width", [1280, 360])
def test_the_longest_names_never_widen_the_page(browser: Browser, lettered: Path, width: int) -> None:
    """Sixty letters without a space break where the line ends, everywhere but in tables, which scroll by themselves;
    and no table is so narrow that a sentence in it stands one word below the other."""
    wrong: list[str] = []
    page = opened(browser, lettered, wrong, width)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert wrong == []
    assert page.evaluate("document.documentElement.scrollWidth") == width
    loose = page.evaluate(
        """Array.from(document.querySelectorAll("body *"))
            .filter(one => !one.closest(".scroll, .unseen, .skip, svg"))
            .filter(one => one.getBoundingClientRect().right > innerWidth + 0.5)
            .map(one => one.outerHTML.slice(0, 120))"""
    )
    assert loose == []
    towers = page.evaluate(
        """Array.from(document.querySelectorAll("td"))
            .filter(one => one.innerText.split(" ").length > 7 && one.getBoundingClientRect().width < 150)
            .map(one => one.innerText.slice(0, 80))"""
    )
    assert towers == []
    page.context.close()


def test_nothing_is_cut_off_on_paper(browser: Browser, lettered: Path) -> None:
    """On a page as wide as A4 less its margins nothing reaches beyond it, tables with the longest names among it: else
    the browser prints all of it smaller, or without its right edge."""
    page = opened(browser, lettered, [], 688)  # 182 mm at 96 dots an inch
    page.emulate_media(media="print")
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    loose = page.evaluate(
        """Array.from(document.querySelectorAll("body *"))
            .filter(one => !one.closest(".unseen, svg") && one.getBoundingClientRect().width > 0)
            .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
            .map(one => one.outerHTML.slice(0, 120))"""
    )
    assert loose == []
    page.context.close()


def lowest_line(page: pypdf.PageObject) -> tuple[set[str], bool]:
    """Return the words of a printed page's last line above its foot, and whether all of them are bold."""
    lines: dict[int, list[tuple[str, bool]]] = {}

    def heard(text: str, outer: list[float], inner: list[float], font: dict[str, Any] | None, size: float) -> None:
        # Chromium draws in its own units, y down from the top: the outer matrix turns them into points.
        up = outer[1] * inner[4] + outer[3] * inner[5] + outer[5]
        if text.strip() and up > FOOT:
            lines.setdefault(round(up), []).append((text.strip(), "Bold" in str((font or {}).get("/BaseFont"))))

    page.extract_text(visitor_text=heard)
    last = lines[min(lines)]
    return set(" ".join(text for text, _ in last).split()), all(bold for _, bold in last)


FOOT = 15 / 25.4 * 72
"""Points; below it stands the number of the page."""


def test_no_heading_and_no_head_of_a_table_is_left_at_the_foot_of_a_page(page: Page) -> None:
    """What belongs to the lines below it stands on their page."""
    heads = page.evaluate(
        """Array.from(document.querySelectorAll("h2, h3, h4, thead tr, summary"), one => one.innerText.split(/\\s+/))"""
    )
    for printed in pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages:
        words, bold = lowest_line(printed)
        assert words
        assert not (bold and any(words <= set(head) for head in heads)), words


def test_a_small_table_is_on_one_page(browser: Browser, lettered: Path) -> None:
    """Of twelve rows or fewer: its head is printed once, as it is in the page, and never again on the next."""
    page = opened(browser, lettered, [])
    heads = page.evaluate(
        """Array.from(document.querySelectorAll("table"))
            .filter(one => one.tHead && one.tBodies.length == 1 && one.tBodies[0].rows.length <= 12)
            .map(one => one.tHead.innerText.replace(/\\s+/g, ""))"""
    )
    data = page.pdf(prefer_css_page_size=True)
    page.context.close()
    printed = "".join("".join(one.extract_text().split()) for one in pypdf.PdfReader(io.BytesIO(data)).pages)
    assert len(heads) > 8
    for head in ("FigureValueMeaning", "WhatSizeMeaning", "ForWhatHowmuchMassNote"):
        assert head in heads
        assert printed.count(head) == 1, head


def test_a_long_list_of_parts_begins_beneath_its_heading(page: Page, cistern: Build) -> None:
    """Lists of parts break between two parts, so that none leaves a page half empty: the first part of the first list
    stands on the page of the section's heading."""
    first = next(one["id"] for one in cistern.manifest["parts"] if one["material"] == "card")
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
    texts = [" ".join(one.extract_text().split()) for one in printed]
    (here,) = (text for text in texts if "Numbers are those of the order of work" in text)
    assert "Card 1 mm" in here
    assert first in here.split("Card 1 mm")[1]
    assert "box-bottom" in " ".join(texts), "short names stay whole"
