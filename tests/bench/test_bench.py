"""How long things take; nothing here asserts a time.

``pytest tests/bench --benchmark-enable`` measures. Otherwise each cheap one runs once, to see that it still runs, and
the dear ones are left out.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.scene.starter import starter_scene

Run = Callable[[], int]

ROOT = Path(__file__).parents[2]
WALL = """
format = 1
box = {{ width = 180, height = 150, depth = 85 }}
eye = {{ distance = 420, height = 78 }}
space = {{ scale = 48, depth = 12.0 }}
left = {{ cover = "brick" }}
covers.brick = {{ pattern = "running", length = {length}, height = {height}, width = 0.01, joint = 0.001 }}
materials.foam = {{ thickness = 3.0, process = "knife", sheet = [300, 200] }}
make = {{ min_guide = 0.0001 }}
"""
WALL_AREA = 12.0 * 6.888
"""m^2: 250 mm by 143.5 mm at 1:48."""


@pytest.fixture
def dear(request: pytest.FixtureRequest) -> None:
    """Leave the test out where nothing is measured."""
    if not request.config.getoption("benchmark_enable"):
        pytest.skip("measured only with --benchmark-enable")


def command(*arguments: str) -> Run:
    """Return a cold start of the command line, in a process of its own, that gives its exit code."""
    line = [sys.executable, "-m", "pipeline", *arguments]
    return lambda: subprocess.run(line, cwd=ROOT, capture_output=True, check=False).returncode


def rounds(benchmark: BenchmarkFixture, run: Run, count: int) -> int:
    """Measure ``count`` runs after one that warms the disk; return the exit code."""
    code: int = benchmark.pedantic(run, rounds=count, warmup_rounds=1)  # type: ignore[no-untyped-call]
    return code


def test_help(benchmark: BenchmarkFixture) -> None:
    """``foreshorten --help``, cold: aim 0.25 s."""
    assert benchmark(command("--help")) == 0


def test_scene_with_an_error(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """A slip in a scene, cold: aim 0.25 s."""
    scene = tmp_path / "slip.toml"
    scene.write_text(starter_scene("slip").replace("[eye]", "[eyes]"))
    assert benchmark(command("build", str(scene), "--out", str(tmp_path / "out"))) == 2


@pytest.mark.usefixtures("dear")
def test_demo(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """``foreshorten build scenes/cistern.toml``, cold, everything written: aim 2 s."""
    build = command("build", "scenes/cistern.toml", "--out", str(tmp_path))
    assert rounds(benchmark, build, 5) == 0


@pytest.mark.parametrize("bricks", [1_000, 10_000, 100_000])
@pytest.mark.usefixtures("dear")
def test_brick_wall(benchmark: BenchmarkFixture, tmp_path: Path, bricks: int) -> None:
    """One wall, cold, everything written; grows with the number of bricks: aim 10 s for 100,000."""
    gauge = (WALL_AREA / bricks / 3) ** 0.5
    scene = tmp_path / "wall.toml"
    scene.write_text(WALL.format(length=round(3 * gauge - 0.001, 6), height=round(gauge - 0.001, 6)))
    build = command("build", str(scene), "--out", str(tmp_path / "out"))
    assert rounds(benchmark, build, 2) in (0, 1)


@pytest.mark.usefixtures("dear")
def test_raised_wall(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """One wall of 5,000 raised bricks, cold, everything written: aim 3 s."""
    gauge = (WALL_AREA / 5_000 / 3) ** 0.5
    text = WALL.format(length=round(3 * gauge - 0.01, 6), height=round(gauge - 0.01, 6))
    scene = tmp_path / "wall.toml"
    scene.write_text(text.replace("width = 0.01, joint = 0.001", "joint = 0.01, relief = 0.012"))
    build = command("build", str(scene), "--out", str(tmp_path / "out"))
    assert rounds(benchmark, build, 3) == 0
