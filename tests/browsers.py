"""A real browser for the pages: Chromium without a window, and axe-core, which reads a page as assistive tools do."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserType, Page

ROOT = Path(__file__).parents[1]
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


def missing(*modules: str) -> str:
    """Return what is not there for tests with a browser."""
    if CHROMIUM is None:
        return "chromium is not installed"
    for module in ("playwright", *modules):
        try:
            __import__(module)
        except ImportError:
            return f"{module} is not installed"
    return ""


def launched(chromium: BrowserType, *, graphics: bool = True) -> Browser:
    """Return Chromium with its graphics card done in software, or with none."""
    card = ["--enable-unsafe-swiftshader"] if graphics else ["--disable-3d-apis"]
    return chromium.launch(
        executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking", "--disable-gpu", *card]
    )


def opened(browser: Browser, report: Path, wrong: list[str], width: int = 1280, **options: Any) -> Page:
    """Return a page from a file; what it asks for and what goes wrong in it is added to ``wrong``."""
    page = browser.new_context(viewport={"width": width, "height": 900}, **options).new_page()
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    page.on("request", lambda asked: None if asked.url.startswith("data:") else wrong.append(asked.url))
    page.goto(report.as_uri())
    wrong.remove(report.as_uri())
    return page


def axe() -> str:
    """Return the script of axe-core, the npm package that package.json asks for."""
    places = [ROOT / "node_modules", *map(Path, filter(None, [os.environ.get("NODE_PATH")]))]
    found = [place / "axe-core" / "axe.min.js" for place in places if (place / "axe-core").is_dir()]
    if not found:
        reason = "the npm package axe-core is not installed: run npm install"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return found[0].read_text("utf-8")


def faults(page: Page, script: str) -> list[str]:
    """Return what axe-core finds: the rule, how grave, and the first places."""
    page.evaluate(script)
    found: list[dict[str, Any]] = page.evaluate("axe.run().then(result => result.violations)")
    return [f"{one['impact']} {one['id']}: {[node['html'][:160] for node in one['nodes'][:3]]}" for one in found]
