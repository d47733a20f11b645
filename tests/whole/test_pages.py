"""Report and live page of every demo scene in a real browser."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from pipeline.build import Build

from ..browsers import launched, missing, opened
from ..conftest import DEMOS, SCENES, built
from ..live.pages import VIEW, WAIT_MS, drawn, started
from ..live.test_browser import on_the_card
from .sampling import some

if TYPE_CHECKING:
    from playwright.sync_api import Browser

if os.environ.get("CI"):
    assert missing("nicegui") == "", f"{missing('nicegui')}: in CI the pages are never left untested"
pytestmark = pytest.mark.skipif(missing("nicegui") != "", reason=missing("nicegui"))

ALWAYS = ["pictures", "model", "relief", "drawings", "parts", "forgives", "checks", "cautions"]
"""Sections that every page has; the others are asked for by what the manifest tells of the scene."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player, launched(player.chromium) as chromium:
        yield chromium


def asked_for(demo: Build) -> set[str]:
    """Return the sections that a scene's page must have, by what is in its manifest."""
    told, parts = demo.manifest, demo.manifest["parts"]
    kinds = {part["made_as"] for part in parts}
    there = {
        "box": bool(told.get("casework")),
        "sheets": bool(told["sheets"]),
        "edges": any(part["edges"] for part in parts if part["made_as"] != "print"),
        "ruler": kinds - {"print"} != set(),
        "prints": "print" in kinds,
        "standing": bool(told.get("figures")),
        "lights": bool(told.get("lights")),
        "wiring": bool(told.get("wiring")),
        "air": bool(told.get("air")),
        "camera": bool(told.get("camera")),
        "work": True,
        "materials": True,
    }
    return {*ALWAYS, *(name for name, is_there in there.items() if is_there)}


def test_the_report_is_whole_and_asks_for_nothing(demo: Build, browser: Browser, tmp_path: Path) -> None:
    """No request but the file's own, no error, every section the scene asks for, every picture whole, every part."""
    file = tmp_path / "report.html"
    file.write_bytes(demo.files["report.html"])
    wrong: list[str] = []
    page = opened(browser, file, wrong)
    page.wait_for_selector("#model-view.live", timeout=WAIT_MS)
    sections = page.evaluate("Array.from(document.querySelectorAll('main section[id]')).map(one => one.id)")
    assert asked_for(demo) <= set(sections)
    assert len(sections) == len(set(sections))
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    blank = page.evaluate(
        """Promise.all(Array.from(document.images).map(one => one.decode().then(() => one.naturalWidth, () => 0)))
            .then(widths => widths.filter(width => width < 2).length)"""
    )
    assert blank == 0
    dead = page.evaluate(
        """Array.from(document.querySelectorAll('a[href^="#"]')).map(one => one.getAttribute("href").slice(1))
            .filter(name => name && !document.getElementById(name))"""
    )
    assert dead == []
    text = page.locator("main").inner_text()
    assert [part["id"] for part in demo.manifest["parts"] if part["id"] not in text] == []
    assert wrong == []
    page.context.close()


@pytest.mark.parametrize("stem", some(DEMOS, "live pages"))
def test_the_live_page_shows_the_scene_as_it_is_built(stem: str, browser: Browser, tmp_path: Path) -> None:
    """From its own address alone, with no error; the card has the relief's matrix, and the room is in the picture."""
    process = started([str(SCENES / f"{stem}.toml"), "--out", "made"], tmp_path)
    try:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        page = browser.new_page(viewport={"width": 1200, "height": 900})
        page.set_default_timeout(WAIT_MS)
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("request", lambda asked: None if address in asked.url else wrong.append(asked.url))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.goto(address)
        drawn(page)
        told = built(stem).manifest
        assert on_the_card(page) == pytest.approx(np.array(told["built_from_imagined"]), abs=1e-9)
        assert page.evaluate(f"{VIEW}.now.built") == pytest.approx(told["relief"]["built_depth"], abs=1e-6)
        assert [one for one in wrong if not one.startswith(("data:", "blob:"))] == []
        page.close()
    finally:
        process.send_signal(signal.SIGINT)
        said = process.communicate(timeout=120)[1]
    assert process.returncode == 130, said
    assert "Traceback" not in said
