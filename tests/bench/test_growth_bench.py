"""How the work for a wall grows with its bricks; nothing here asserts a time.

The sizes are built by turns, round after round, and the least time of each counts: what else the machine does only ever
adds to a time, and adds to all sizes alike.
"""

from __future__ import annotations

from time import perf_counter

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.build import build_scene

from .test_bench import bricks

COUNTS = (1_000, 10_000, 30_000, 60_000, 100_000)
ROUNDS = 9


@pytest.mark.usefixtures("dear")
def test_growth(benchmark: BenchmarkFixture) -> None:
    """Walls of plain bricks, everything made and checked in this process, nothing kept; R^2 of a straight line."""
    benchmark.group = "walls of 1,000 to 100,000 bricks by turns, in a running process"
    scenes = {count: bricks(count).encode() for count in COUNTS}
    least = dict.fromkeys(COUNTS, float("inf"))

    def build_all() -> None:
        for count, text in scenes.items():
            start = perf_counter()
            build_scene(text, "wall")
            least[count] = min(least[count], perf_counter() - start)

    benchmark.pedantic(build_all, rounds=ROUNDS, warmup_rounds=1)  # type: ignore[no-untyped-call]
    benchmark.extra_info["growth"] = {str(count): seconds for count, seconds in least.items()}
