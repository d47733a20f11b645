"""What all benchmarks share."""

from __future__ import annotations

import pytest


@pytest.fixture
def dear(request: pytest.FixtureRequest) -> None:
    """Leave the test out where nothing is measured."""
    if not request.config.getoption("benchmark_enable"):
        pytest.skip("measured only with --benchmark-enable")
