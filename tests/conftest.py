"""Demo scenes, each built once for all tests."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from pipeline.build import Build, build_scene

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
