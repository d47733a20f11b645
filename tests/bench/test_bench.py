"""How long things take; nothing here asserts a time.

``pytest tests/bench --benchmark-enable`` measures, each build beside its floor (`floor`): what raw writers need for
the same bytes. Otherwise each cheap one runs once, to see that it still runs, and the dear ones are left out.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.build import shape, write
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.exports.cut_sheets import fill_sheets
from pipeline.scene.starter import Wishes, starter_scene

from .floor import floor

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
    scene.write_text(starter_scene(Wishes(title="slip")).replace("[eye]", "[eyes]"))
    assert benchmark(command("build", str(scene), "--out", str(tmp_path / "out"))) == 2


def wall(length: float, height: float) -> str:
    """Return a scene of one wall of plain bricks, metres."""
    return WALL.format(length=round(length, 6), height=round(height, 6))


def bricks(count: int) -> str:
    """Return a scene of one wall of so many bricks, three times as long as high."""
    gauge = (WALL_AREA / count / 3) ** 0.5
    return wall(3 * gauge - 0.001, gauge - 0.001)


def raised(count: int) -> str:
    """Return a scene of one wall of so many raised bricks."""
    gauge = (WALL_AREA / count / 3) ** 0.5
    text = wall(3 * gauge - 0.01, gauge - 0.01)
    return text.replace("width = 0.01, joint = 0.001", "joint = 0.01, relief = 0.012")


SCENES = {
    "full cistern": (ROOT / "scenes/cistern.toml").read_text(),
    "flat cistern": (Path(__file__).parent / "flat_cistern.toml").read_text(),
    "1,000 bricks": bricks(1_000),
    "10,000 bricks": bricks(10_000),
    "100,000 bricks": bricks(100_000),
    "5,000 raised bricks": raised(5_000),
}
"""Aims, cold, one process, everything written: 4 s, 2 s, -, -, 10 s and 3 s."""


@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("writer", ["build", "floor"])
@pytest.mark.usefixtures("dear")
def test_build(benchmark: BenchmarkFixture, tmp_path: Path, name: str, writer: str) -> None:
    """A cold build in a process of its own; and the floor of the files it wrote."""
    benchmark.group = name
    scene, out = tmp_path / "scene.toml", tmp_path / "out"
    scene.write_text(SCENES[name])
    build = command("build", str(scene), "--out", str(out), "--anew")
    if writer == "build":
        assert rounds(benchmark, build, 3) in (0, 1)
    else:
        assert build() in (0, 1)
        write = floor(out / "scene", tmp_path / "raw")
        assert rounds(benchmark, write, 3) > 0


@pytest.fixture(scope="module")
def cistern_shapes() -> Evidence:
    """The full cistern's parts, in this process."""
    return shape((ROOT / "scenes/cistern.toml").read_bytes())


@pytest.mark.usefixtures("dear")
def test_nesting(benchmark: BenchmarkFixture, cistern_shapes: Evidence) -> None:
    """Every part of the full cistern laid on its stock; aim 1 s for 60 parts."""
    evidence = cistern_shapes
    sheets, _ = benchmark(fill_sheets, evidence.cut_parts, evidence.scene.materials)
    assert len(sheets) >= 3


@pytest.mark.usefixtures("dear")
def test_checks(benchmark: BenchmarkFixture, cistern_shapes: Evidence) -> None:
    """Every check of the full cistern."""
    evidence = write(cistern_shapes, (ROOT / "scenes/cistern.toml").read_bytes())

    def check() -> int:
        fresh = replace(evidence)  # reads its files again
        return sum(len(check.run(fresh)) for check in CHECKS)

    assert rounds(benchmark, check, 3) > 100
