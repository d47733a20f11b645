"""How long the cistern takes to build again after one change; nothing here asserts a time.

In a running process, as ``--watch`` and the live page build it, and from the shell with what the last build left.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.build import Overrides, build_scene, shape, write
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.keeping.kept import Kept
from pipeline.live.looking import Outline, Shapes, look
from pipeline.report.sheet import pictures
from pipeline.stages.files import draw
from pipeline.stages.handing_out import hand_out_paper, hand_out_prints

from .floor import floor
from .straightforward import straightforward
from .test_bench import ROOT, command, rounds

TEXT = (ROOT / "scenes" / "cistern.toml").read_bytes()
NEW = {"pattern": '"running"', "height": "0.1", "width": "0.14", "joint": "0.01"}
CHANGES: dict[str, Callable[[int], Overrides]] = {
    "nothing": lambda _: (),
    "the eye": lambda number: (("eye.distance", str(421 + number)),),
    "another cover on one wall": lambda number: (
        *((f"covers.new-{number}.{key}", value) for key, value in NEW.items()),
        (f"covers.new-{number}.length", f"{0.3 + number / 1000:.3f}"),
        ("left.cover", f'"new-{number}"'),
    ),
    "a cover": lambda number: (("covers.flags.length", f"{0.9 + number / 1000:.3f}"),),
    "an opening": lambda number: (("openings[1].width", f"{1.6 + number / 1000:.3f}"),),
}
"""Scenes one step away from the demo, no two alike; from number 1 on, since 0 may be the demo itself."""


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
    put(tmp_path / "files", write(shape(TEXT), TEXT, hands_out=False).files)
    again = floor if way == "floor" else lambda folder, _: straightforward(folder)
    assert rounds(benchmark, again(tmp_path / "files", tmp_path / "raw"), 3) > 0


@pytest.mark.parametrize("change", CHANGES)
def test_geometry_and_checks_after_a_change(benchmark: BenchmarkFixture, kept: Kept, change: str) -> None:
    """Shapes, DXF, SVG and STL of panels, sheets and prints, and all checks, in a running process; the rest follows."""
    benchmark.group = f"again in a running process, after {change}"
    numbers = itertools.count(1)

    def run(overrides: Overrides) -> int:
        kept.begin()
        evidence = write(shape(TEXT, overrides, None, kept), TEXT, overrides, hands_out=False)
        return sum(len(check.run(evidence)) for check in CHECKS)

    def setup() -> tuple[tuple[Overrides], dict[str, object]]:
        return (CHANGES[change](next(numbers)),), {}

    findings: int = benchmark.pedantic(run, setup=setup, rounds=5)  # type: ignore[no-untyped-call]
    assert findings > 100


def put(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder."""
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


FOLLOWS = {"3MF": (".3mf",), "PDF": (".pdf",), "pictures": (".png",)}
"""What a moved eye makes anew behind what is checked, and what their names end in."""


@pytest.mark.parametrize("what", FOLLOWS)
@pytest.mark.parametrize("way", ["ours", "floor"])
def test_what_follows_after_the_eye(
    benchmark: BenchmarkFixture, kept: Kept, tmp_path: Path, what: str, way: str
) -> None:
    """3MF, PDF and pictures of shapes that are there: ours, and their bytes by zlib and the disk alone."""
    benchmark.group = f"what follows the eye: {what}"
    numbers = itertools.count(1)

    def shaped() -> Evidence:
        kept.begin()
        overrides = CHANGES["the eye"](next(numbers))
        return write(shape(TEXT, overrides, None, kept), TEXT, overrides, hands_out=False)

    def make(evidence: Evidence) -> dict[str, bytes]:
        if what == "pictures":
            return pictures(evidence, "Cistern")
        scene, stencils, kept = evidence.scene, evidence.stencils, evidence.kept
        if what == "3MF":
            return hand_out_prints(scene, evidence.prints, kept)
        drawn = draw(
            evidence.panels, evidence.bents, scene.make,
            nets=evidence.nets, casework=evidence.casework, stencils=stencils, kept=kept,
        )  # fmt: skip
        return hand_out_paper(scene, evidence.room, drawn, casework=evidence.casework, stencils=stencils, kept=kept)

    if way == "ours":
        made: dict[str, bytes] = benchmark.pedantic(make, setup=lambda: ((shaped(),), {}), rounds=3)  # type: ignore[no-untyped-call]
        assert any(name.endswith(FOLLOWS[what]) for name in made)
    else:
        put(tmp_path / "files", {name: data for name, data in make(shaped()).items() if name.endswith(FOLLOWS[what])})
        assert rounds(benchmark, floor(tmp_path / "files", tmp_path / "raw"), 3) > 0


@pytest.mark.parametrize("change", CHANGES)
def test_whole_build_after_a_change(benchmark: BenchmarkFixture, kept: Kept, change: str) -> None:
    """Pictures and page too, in a running process."""
    benchmark.group = f"again with pictures and page, after {change}"
    numbers = itertools.count(1)

    def setup() -> tuple[tuple[bytes, str, Overrides], dict[str, object]]:
        return (TEXT, "cistern", CHANGES[change](next(numbers))), {"kept": kept}

    made = benchmark.pedantic(build_scene, setup=setup, rounds=3)  # type: ignore[no-untyped-call]
    assert made.failed == 0


class _Seen(Exception):  # noqa: N818 -- it ends a look, and nothing is wrong
    """The outlines have come."""


def test_outlines_on_the_page_after_the_eye_has_moved(benchmark: BenchmarkFixture, kept: Kept) -> None:
    """Until the live page is shown the flat panels; aim 0.5 s, a tenth of which the page waits for the hand to rest."""
    benchmark.group = "live page, outlines after the eye has moved"
    numbers = itertools.count(1)

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


@pytest.mark.usefixtures("kept")
def test_from_the_shell_after_the_eye(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """A process of its own that finds what the last one left for another eye; pictures and page too."""
    benchmark.group = "from the shell, after the eye, with pictures and page"
    numbers = itertools.count(421)

    def run() -> int:
        moved = f"eye.distance={next(numbers)}"
        return command("build", "scenes/cistern.toml", "--out", str(tmp_path), "--set", moved)()

    assert rounds(benchmark, run, 3) == 0
