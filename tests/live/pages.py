"""The live page started and looked at from outside."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

WAIT_MS = 120_000
"""Far more than anything takes; a machine with other work to do is no failure."""

VIEW = "getElement(Number(document.querySelector('.views').id.slice(1)))"
"""Both views of the room, as the page knows them."""


def started(arguments: list[str], folder: Path) -> subprocess.Popen[str]:
    """Start ``foreshorten live``; its address is the first line it writes."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("PYTEST", "NICEGUI"))}
    environment["PYTHONPATH"] = str(Path(__file__).parents[2])
    command = [sys.executable, "-m", "pipeline", "live", "--no-browser", *arguments]
    return subprocess.Popen(
        command, cwd=folder, env=environment, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )


def drawn(page: Page) -> None:
    """Wait until the room is shown and checked."""
    page.wait_for_function(f"document.querySelector('.views') && {VIEW}.base && {VIEW}.frames.length > 0")
    settled(page)


def settled(page: Page) -> None:
    """Wait until checks are told, and the room on the card is the one that the figures are of."""
    page.wait_for_function("document.querySelector('.tally') && !document.querySelector('.late')")
    page.wait_for_function(f"JSON.stringify({VIEW}.base) === JSON.stringify({VIEW}.now)")
