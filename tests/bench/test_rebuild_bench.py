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

from .test_bench import ROOT, command

TEXT = (ROOT / "scenes" / "cistern.toml").read_bytes()
CHANGES: dict[str, Callable[[int], Overrides]] = {
    "nothing": lambda _: (),
    "the eye": lambda number: (("eye.distance", str(421 + number)),),
    "another cover on one wall": lambda number: (("left.cover", ('"flags"', '"brick"')[number % 2]),),
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


@pytest.mark.parametrize("change", CHANGES)
def test_geometry_and_checks_after_a_change(benchmark: BenchmarkFixture, kept: Kept, change: str) -> None:
    """Shapes, files of panels and prints, and all checks, in a running process; pictures follow."""
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
    numbers = itertools.count()

    def setup() -> tuple[tuple[bytes, str, Overrides], dict[str, object]]:
        return (TEXT, "cistern", CHANGES[change](next(numbers))), {"kept": kept}

    made = benchmark.pedantic(build_scene, setup=setup, rounds=3)  # type: ignore[no-untyped-call]
    assert made.failed == 0


class _Seen(Exception):  # noqa: N818 -- it ends a look, and nothing is wrong
    """The outlines have come."""


def test_outlines_on_the_page_after_the_eye_has_moved(benchmark: BenchmarkFixture, kept: Kept) -> None:
    """Until the live page is shown the flat panels; aim 0.5 s, a tenth of which the page waits for the hand to rest."""
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
    run = command("build", "scenes/cistern.toml", "--out", str(tmp_path))
    code: int = benchmark.pedantic(run, rounds=3, warmup_rounds=1)  # type: ignore[no-untyped-call]
    assert code == 0
