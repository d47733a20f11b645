"""What joints, sheets, paper, measures and the order of work cost of one build, in CPU seconds; nothing asserts a time.

The clock of this benchmark runs only inside these functions, as they are called in a build without anything kept.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline import build
from pipeline.checks import joint_gaps, push_in
from pipeline.parts import cut_edges, outlines
from pipeline.stages import files

CISTERN = (Path(__file__).parents[2] / "scenes/cistern.toml").read_bytes()
ITEMS: tuple[tuple[str, ModuleType, str], ...] = (
    ("joints", outlines, "edge_joints"),
    ("joints", cut_edges, "edge_joints"),
    ("joints", build, "tell_web_angles"),
    ("joints", joint_gaps, "run"),
    ("tabs and nets", build, "plan_corners"),
    ("tabs and nets", build, "hold_corners"),
    ("strips", build, "fill_wedges"),
    ("split lines", build, "mark_partings"),
    ("nesting", build, "fill_sheets"),
    ("kerf and sheets", files, "write_sheets"),
    ("paper", files, "templates_pdf"),
    ("measures", files, "measures_csv"),
    ("order of work", build, "plan_work"),
    ("push in", push_in, "run"),
)
SPENT: Counter[str] = Counter()
RUNNING: list[str] = []


def spent() -> float:
    """Return the CPU seconds spent in all items so far."""
    return float(SPENT.total())


def timed(item: str, work: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function that tells what it spends; one that calls another counts once."""

    @wraps(work)
    def run(*arguments: object, **named: object) -> object:
        if RUNNING:
            return work(*arguments, **named)
        RUNNING.append(item)
        begun = time.thread_time()
        try:
            return work(*arguments, **named)
        finally:
            SPENT[item] += time.thread_time() - begun  # type: ignore[assignment]
            RUNNING.clear()

    return run


@pytest.mark.benchmark(timer=spent)
def test_cutting(benchmark: BenchmarkFixture, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """All of it on the full cistern: aim 1 s; each item's share of the last round stands in ``extra_info``."""
    if not request.config.getoption("benchmark_enable"):
        pytest.skip("measured only with --benchmark-enable")
    for item, module, name in ITEMS:
        monkeypatch.setattr(module, name, timed(item, getattr(module, name)))

    def run() -> int:
        before = Counter(SPENT)
        evidence = build.write(build.shape(CISTERN), CISTERN)
        found = [*push_in.run(evidence), *joint_gaps.run(evidence)]
        benchmark.extra_info.update({item: round(SPENT[item] - before[item], 3) for item in SPENT})
        return len(found)

    assert benchmark.pedantic(run, rounds=3, warmup_rounds=1) > 0  # type: ignore[no-untyped-call]
    for item, seconds in benchmark.extra_info.items():
        print(f"{item:16} {seconds:6.3f} s")  # noqa: T201
