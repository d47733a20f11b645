"""The demo's report as a file, and a real browser to open it in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.build import Build
from tests.browsers import launched, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page


@pytest.fixture(scope="module")
def report(cistern: Build, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report as a person finds it: a file in a folder."""
    file = tmp_path_factory.mktemp("made") / "report.html"
    file.write_bytes(cistern.files["report.html"])
    return file


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = launched(player.chromium)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def page(browser: Browser, report: Path) -> Iterator[Page]:
    wrong: list[str] = []
    page = opened(browser, report, wrong)
    yield page
    assert wrong == [], "it asks for nothing and complains of nothing, whatever the tests of this file do"
