"""Demo scenes, each built once for all tests."""

from __future__ import annotations

import os
import signal
from functools import cache
from pathlib import Path

import pytest
from hypothesis import settings

from pipeline.build import Build, build_scene

settings.register_profile("bench", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "bench")
"""CI tries the same examples every time; at the bench every run tries new ones. Nothing asserts a time."""

if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    # So a shell starts what runs in its background, and every program that a test starts would inherit it.
    signal.signal(signal.SIGINT, signal.default_int_handler)

SCENES = Path(__file__).parent.parent / "scenes"
DEMOS = sorted(path.stem for path in SCENES.glob("*.toml"))


@cache
def built(stem: str) -> Build:
    """Return a demo scene as built."""
    return build_scene((SCENES / f"{stem}.toml").read_bytes(), stem)


@pytest.fixture(scope="session", params=DEMOS)
def demo(request: pytest.FixtureRequest) -> Build:
    """Every demo scene in turn."""
    return built(request.param)


@pytest.fixture(scope="session")
def cistern() -> Build:
    """The full demo."""
    return built("cistern")
