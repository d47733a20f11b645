"""How long the cistern takes to build again after one change; nothing here asserts a time.

In a running process, as ``--watch`` and the live page build it, and from the shell with what the last build left.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.build import Overrides, build_scene, shape, write
from pipeline.checks import CHECKS
from pipeline.keeping.kept import Kept
from pipeline.live.looking import Outline, Shapes, look

from .floor import floor
from .straightforward import straightforward
from .test_bench import ROOT, command, rounds

TEXT = (ROOT / "scenes" / "cistern.toml").read_bytes()
NEW = {"pattern": '"running"', "height": "0.1", "width": "0.14", "joint": "0.01"}
CHANGES: dict[str, Callable[[int], Overrides]] = {
    "nothing": lambda _: (),
    "the eye": lambda number: (("eye.distance", str(421 + number)),),
    "another cover on one wall": lambda number: (
        *(("covers.new." + key, value) for key, value in NEW.items()),
        ("covers.new.length", f"{0.3 + number / 1000:.3f}"),
        ("left.cover", '"new"'),
    ),
    "a cover": lambda number: (("covers.flags.length", f"{0.9 + number / 1000:.3f}"),),
    "an opening": lambda number: (("openings[1].width", f"{1.6 + number / 1000:.3f}"),),
}
"""Scenes each one key away from the demo, no two alike."""


@pytest.fixture
def kept(request: pytest.FixtureRequest) -> Kept:
    """What a first build of the demo leaves; left out where nothing is measured."""
    if not request.config.getoption("benchmark_enable"):
        pytest.skip("measured only with --benchmark-enable")
    made = Kept()
    build_scene(TEXT, "cistern", kept=made)
    return made


@pytest.mark.parametrize("way", ["floor", "straightforward"])
@pytest.mark.usefixtures("kept")
def test_other_ways_to_the_files(benchmark: BenchmarkFixture, tmp_path: Path, way: str) -> None:
    """What a moved eye makes anew beside pictures and page: DXF, SVG and STL by raw writers; DXF and STL plainly."""
    benchmark.group = "again in a running process, after the eye"
    for name, data in write(shape(TEXT), TEXT).files.items():
        if name.endswith((".dxf", ".svg", ".stl")):
            (tmp_path / "files" / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / "files" / name).write_bytes(data)
    again = floor if way == "floor" else lambda folder, _: straightforward(folder)
    assert rounds(benchmark, again(tmp_path / "files", tmp_path / "raw"), 3) > 0


@pytest.mark.parametrize("change", CHANGES)
def test_geometry_and_checks_after_a_change(benchmark: BenchmarkFixture, kept: Kept, change: str) -> None:
    """Shapes, files of panels and prints, and all checks, in a running process; pictures follow."""
    benchmark.group = f"again in a running process, after {change}"
    numbers = itertools.count()

    def run(overrides: Overrides) -> int:
        kept.begin()
        evidence = write(shape(TEXT, overrides, None, kept), TEXT, overrides)
        return sum(len(check.run(evidence)) for check in CHECKS)

    def setup() -> tuple[tuple[Overrides], dict[str, object]]:
        return (CHANGES[change](next(numbers)),), {}

    findings: int = benchmark.pedantic(run, setup=setup, rounds=5)  # type: ignore[no-untyped-call]
    assert findings > 100


@pytest.mark.parametrize("change", CHANGES)
def test_whole_build_after_a_change(benchmark: BenchmarkFixture, kept: Kept, change: str) -> None:
    """Pictures and page too, in a running process."""
    benchmark.group = f"again with pictures and page, after {change}"
    numbers = itertools.count()

    def setup() -> tuple[tuple[bytes, str, Overrides], dict[str, object]]:
        return (TEXT, "cistern", CHANGES[change](next(numbers))), {"kept": kept}

    made = benchmark.pedantic(build_scene, setup=setup, rounds=3)  # type: ignore[no-untyped-call]
    assert made.failed == 0


class _Seen(Exception):  # noqa: N818 -- it ends a look, and nothing is wrong
    """The outlines have come."""


def test_outlines_on_the_page_after_the_eye_has_moved(benchmark: BenchmarkFixture, kept: Kept) -> None:
    """Until the live page is shown the flat panels; aim 0.5 s, a tenth of which the page waits for the hand to rest."""
    benchmark.group = "live page, outlines after the eye has moved"
    numbers = itertools.count()

    def show(outlines: tuple[Outline, ...], shapes: Shapes | None) -> None:
        raise _Seen

    def run(overrides: Overrides) -> None:
        with pytest.raises(_Seen):
            look(TEXT, overrides, {}, kept, show)

    def setup() -> tuple[tuple[Overrides], dict[str, object]]:
        return (CHANGES["the eye"](next(numbers)),), {}

    benchmark.pedantic(run, setup=setup, rounds=5)  # type: ignore[no-untyped-call]


@pytest.mark.usefixtures("kept")
def test_from_the_shell_with_nothing_changed(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """A process of its own that finds what the last one left."""
    benchmark.group = "from the shell, nothing changed"
    run = command("build", "scenes/cistern.toml", "--out", str(tmp_path))
    code: int = benchmark.pedantic(run, rounds=3, warmup_rounds=1)  # type: ignore[no-untyped-call]
    assert code == 0
