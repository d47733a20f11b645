"""How long things take; nothing here asserts a time.

``pytest tests/bench --benchmark-enable`` measures, each build beside its floor (`floor`): what raw writers need for
the same bytes; and beside the straightforward way to the same files (`straightforward`). Otherwise each cheap one runs
once, to see that it still runs, and the dear ones are left out. `results` sets out what was measured in RESULTS.md.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.build import shape, write
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.exports.cut_sheets import fill_sheets, pile_up
from pipeline.scene.starter import Wishes, starter_scene

from .floor import floor
from .straightforward import nested_one_by_one, raised_one_by_one, straightforward

Run = Callable[[], int]
Made = TypeVar("Made")

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
    "30,000 bricks": bricks(30_000),
    "60,000 bricks": bricks(60_000),
    "100,000 bricks": bricks(100_000),
    "5,000 raised bricks": raised(5_000),
}
"""Aims, cold, one process, everything written: 4 s, 2 s, 10 s for 100,000 bricks and 3 s for raised ones."""


def rounds_of(benchmark: BenchmarkFixture, run: Callable[[], Made], count: int = 3) -> Made:
    """Measure ``count`` runs in this process; return what the last one made."""
    made: Made = benchmark.pedantic(run, rounds=count)  # type: ignore[no-untyped-call]
    return made


@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("way", ["ours", "floor", "straightforward"])
@pytest.mark.usefixtures("dear")
def test_cold_build(benchmark: BenchmarkFixture, tmp_path: Path, name: str, way: str) -> None:
    """A cold build in a process of its own; the floor of its files; and its DXF, STL and PNG written plainly."""
    benchmark.group = f"cold build, {name}"
    scene, out = tmp_path / "scene.toml", tmp_path / "out"
    scene.write_text(SCENES[name])
    build = command("build", str(scene), "--out", str(out), "--anew")
    if way == "ours":
        assert rounds(benchmark, build, 3) in (0, 1)
    else:
        assert build() in (0, 1)
        write = floor(out / "scene", tmp_path / "raw") if way == "floor" else straightforward(out / "scene")
        assert rounds(benchmark, write, 3) > 0


@pytest.fixture(scope="module")
def cistern_shapes() -> Evidence:
    """The full cistern's parts, in this process."""
    return shape((ROOT / "scenes/cistern.toml").read_bytes())


@pytest.mark.parametrize("way", ["ours", "straightforward"])
@pytest.mark.usefixtures("dear")
def test_nesting(benchmark: BenchmarkFixture, cistern_shapes: Evidence, way: str) -> None:
    """Every part of the full cistern laid on its stock; aim 1 s for 60 parts."""
    benchmark.group = "nesting of the cistern"
    pieces, materials = cistern_shapes.pieces, cistern_shapes.scene.materials
    if way == "ours":
        benchmark.extra_info["sheets"] = len(rounds_of(benchmark, lambda: fill_sheets(pieces, materials)[0]))
        return
    piles = pile_up(pieces, materials)

    def lay_plainly() -> list[int]:
        return [
            nested_one_by_one(
                list(pile.shapes), (pile.stock.size[0] - 10.0, pile.stock.size[1] - 10.0), pile.stock.spacing
            )
            for pile in piles
        ]

    benchmark.extra_info["sheets"] = sum(rounds_of(benchmark, lay_plainly))


@pytest.mark.parametrize("way", ["ours", "floor", "straightforward"])
@pytest.mark.usefixtures("dear")
def test_brick_relief(benchmark: BenchmarkFixture, tmp_path: Path, way: str) -> None:
    """5,000 raised bricks as closed shells through the relief, in this process; booleans one by one beside it."""
    benchmark.group = "5,000 raised bricks, shapes and STL"
    text = SCENES["5,000 raised bricks"].encode()
    if way == "ours":
        files = rounds_of(benchmark, lambda: write(shape(text), text).files)
        assert any(name.endswith(".stl") for name in files)
    elif way == "floor":
        files = {name: data for name, data in write(shape(text), text).files.items() if not name.endswith(".pdf")}
        for name, data in files.items():
            (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name).write_bytes(data)
        assert rounds(benchmark, floor(tmp_path, tmp_path / "raw"), 3) > 0
    else:
        relief = np.eye(4)
        relief[3, 1] = 0.01
        assert rounds_of(benchmark, lambda: raised_one_by_one(5_000, 0.3, relief), 1) > 10_000


@pytest.mark.usefixtures("dear")
def test_checks(benchmark: BenchmarkFixture, cistern_shapes: Evidence) -> None:
    """Every check of the full cistern."""
    evidence = write(cistern_shapes, (ROOT / "scenes/cistern.toml").read_bytes())

    def check() -> int:
        fresh = replace(evidence)  # reads its files again
        return sum(len(check.run(fresh)) for check in CHECKS)

    assert rounds(benchmark, check, 3) > 100
