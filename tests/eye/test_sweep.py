"""Many builds side by side: combinations, the contact sheet, and a cluster that loses a worker."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path

import numpy as np
import pytest

from pipeline.cli import main
from pipeline.commands.attempts import attempt
from pipeline.commands.cluster import attempts_through, cluster
from pipeline.commands.combinations import axes, combinations, count
from pipeline.commands.model import Exit, InputError
from pipeline.commands.scene_files import SceneFile, safe_stem
from pipeline.report.contact_sheet import Card, contact_sheet
from tests.eye.test_compare import WALL
from tests.report.test_page import HOSTILE, Reader

ROOT = Path(__file__).parents[2]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    dot = np.zeros((3, 4, 3), dtype=np.uint8)
    monkeypatch.setattr("pipeline.report.pictures.render", lambda *_, **__: dot)  # pictures take longer than the rest
    monkeypatch.chdir(tmp_path)
    Path("room.toml").write_text(WALL)
    return tmp_path


def test_combinations_are_a_product_with_names_of_their_own() -> None:
    """The last key runs fastest; what no folder may be called is left out of the name, a digest keeps them apart."""
    swept = axes([("eye.distance", "300:400:50"), ("title", 'a/b,a\\b,"A:b"'), ("eye.height", "60,60")])
    found = combinations(swept)
    assert count(swept) == len(found) == 9
    assert [dict(one.settings)["eye.distance"] for one in found[::3]] == ["300", "350", "400"]
    assert found[0].name == "eye.distance=300_title=a-b_eye.height=60"
    names = [one.name for one in found]
    assert len({name.casefold() for name in names}) == 9
    assert [safe_stem(Path(f"{name}.toml")) for name in names] == names
    long = combinations(axes([("title", "x" * 500 + "," + "x" * 499 + "y")]))
    assert max(len(one.name) for one in long) <= 120
    assert long[0].name != long[1].name


@pytest.mark.parametrize(
    "sets", [["eye.height=1,2", "eye.height=3"], ["eye.height="], ["eye.height=1,,2"], ["eye.height=3:1:1"]]
)
def test_settings_that_name_nothing_are_refused(bench: Path, sets: list[str]) -> None:
    """Exit code 2, nothing built."""
    arguments = [word for text in sets for word in ("--set", text)]
    assert main(["sweep", "room.toml", *arguments]) == 2
    assert not Path("exports").exists()


def test_far_too_many_builds_are_refused_before_any(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """10,001 without --yes."""
    assert main(["sweep", "room.toml", "--set", "eye.distance=400:10400:1"]) == 2
    assert "10,001 builds are more than 10,000" in capsys.readouterr().err
    assert not Path("exports").exists()


def test_a_sweep_builds_each_combination_as_a_build_alone_does(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Same bytes in each folder as `build --set`; the page shows every build, and those that cannot be built."""
    code = main(
        ["sweep", "room.toml", "--set", "eye.distance=400,-1", "--set", "eye.height=70,80", "--jobs", "2", "--json"]
    )
    document = json.loads(capsys.readouterr().out)
    assert code == document["exit"] == 2
    assert [build["exit"] for build in document["builds"]] == [0, 0, 2, 2]
    assert document["builds"][1]["settings"] == {"eye.distance": "400", "eye.height": "80"}
    folder = Path("exports/room-sweep/eye.distance=400_eye.height=80")
    assert main(["build", "room.toml", "--set", "eye.height=80", "--set", "eye.distance=400", "--out", "alone"]) == 0
    ours, alone = (
        {p.relative_to(top).as_posix(): p.read_bytes() for p in top.rglob("*.dxf")}
        for top in (folder, Path("alone/room"))
    )
    assert ours == alone != {}
    page = Reader(Path(document["page"]).read_bytes())
    assert len([tag for tag, _ in page.tags if tag == "img"]) == 2
    assert page.text.count("Not built.") == 2
    for link in page.values("href"):
        assert link.startswith("#") or (folder.parent / re.sub("%3D", "=", link)).is_file()
    assert not [value for name in ("src", "href") for value in page.values(name) if "//" in value]


def test_somebodys_page_is_not_written_over(bench: Path) -> None:
    """Only a contact sheet of ours is replaced."""
    Path("mine").mkdir()
    Path("mine/contact-sheet.html").write_text("<p>holiday</p>")
    assert main(["sweep", "room.toml", "--set", "eye.height=70", "--out", "mine"]) == 2
    assert [path.name for path in Path("mine").iterdir()] == ["contact-sheet.html"]
    assert Path("mine/contact-sheet.html").read_text() == "<p>holiday</p>"


def test_the_page_keeps_what_a_scene_says_as_text() -> None:
    """Settings and messages come from files of anybody."""
    card = Card(settings=((HOSTILE, HOSTILE),), errors=(HOSTILE,))
    page = Reader(contact_sheet(HOSTILE, HOSTILE, [card]))
    assert "script" not in [tag for tag, _ in page.tags]
    assert HOSTILE in page.text


def scenes(*distances: int) -> list[SceneFile]:
    return [SceneFile(path=Path("room.toml"), stem=f"at-{d}", settings=(("eye.distance", str(d)),)) for d in distances]


def test_any_executor_will_do_and_holds_no_more_than_asked(bench: Path) -> None:
    """Threads in place of a cluster: results in order, refusals among them, at most two sent and not taken."""
    sent: list[int] = []

    class Counting(ThreadPoolExecutor):
        def submit(self, *arguments: object, **more: object) -> object:  # type: ignore[override]
            sent.append(1)
            return super().submit(*arguments, **more)  # type: ignore[arg-type]

    with Counting(2) as executor, closing(attempts_through(executor, scenes(400, -1, 410), (), 2)) as made:
        first = next(made)
        assert len(sent) <= 2
        rest = list(made)
    assert [one.exit for one in (first, *rest)] == [Exit.DONE, Exit.INPUT, Exit.DONE]
    assert [one.scene.stem for one in (first, *rest)] == ["at-400", "at--1", "at-410"]


Cluster = tuple[str, list[subprocess.Popen[bytes]]]


@pytest.fixture(scope="module")
def two_workers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """A scheduler and two worker processes of one thread each, as anybody would start them."""
    distributed = pytest.importorskip("distributed", reason="the extra foreshorten[cluster] is not installed")
    folder = tmp_path_factory.mktemp("dask")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "DASK_DISTRIBUTED__DIAGNOSTICS__NVML": "False"}
    scheduler = ["scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
    worker = ["worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(folder)]
    running: list[subprocess.Popen[bytes]] = []
    with (folder / "dask.log").open("ab") as log:
        try:
            for words in (scheduler, worker, worker):
                command = [sys.executable, "-m", "dask", *words]
                running.append(subprocess.Popen(command, env=environment, stdout=log, stderr=log, cwd=folder))
            _wait_until_it_takes_calls(port)
            with distributed.Client(address, set_as_default=False) as client:
                client.wait_for_workers(2, timeout=120)
            yield address, running[1:]
        finally:
            for process in running:
                process.kill()
            for process in running:
                process.wait()


def _wait_until_it_takes_calls(port: int) -> None:
    for _ in range(600):
        with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        time.sleep(0.1)
    raise AssertionError("no scheduler within a minute")


def test_a_sweep_runs_on_a_cluster(bench: Path, two_workers: Cluster) -> None:
    """The same command, the work elsewhere."""
    address, _ = two_workers
    assert main(["sweep", "room.toml", "--set", "eye.distance=400,410", "--cluster", address]) == 0
    assert Path("exports/room-sweep/eye.distance=410/manifest.json").is_file()


def test_a_killed_worker_loses_no_result(bench: Path, two_workers: Cluster) -> None:
    """One is killed with builds in its hands: all five come back, in order, as they are built here."""
    import distributed

    address, workers = two_workers
    wanted = scenes(*range(400, 450, 10))
    with cluster(address) as (executor, _), closing(attempts_through(executor, wanted, (), 5)) as made:
        results = [next(made)]
        with distributed.Client(address, set_as_default=False) as watcher:
            pids = watcher.run(os.getpid)
            busy = next(pids[at] for at, tasks in watcher.processing().items() if tasks)
        os.kill(busy, signal.SIGKILL)
        results += list(made)
    assert [worker.wait() for worker in workers if worker.pid == busy] == [-signal.SIGKILL]
    assert [one.exit for one in results] == [Exit.DONE] * 5
    assert [one.scene.stem for one in results] == [scene.stem for scene in wanted]
    for one in results[-1:]:
        here = attempt(one.scene, ())
        assert one.build is not None
        assert here.build is not None
        drawings = [name for name in here.build.files if name.endswith(".dxf")]
        assert {name: one.build.files[name] for name in drawings} == {name: here.build.files[name] for name in drawings}


def test_a_scheduler_that_is_not_there_is_told_in_bounded_time(
    bench: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit code 2 and one line, however the port answers: not at all, or by closing."""
    pytest.importorskip("distributed", reason="the extra foreshorten[cluster] is not installed")
    monkeypatch.setattr("pipeline.commands.cluster.CONNECT_SECONDS", 1.0)
    with socket.socket() as deaf:
        deaf.bind(("127.0.0.1", 0))
        deaf.listen()
        for address in (f"tcp://127.0.0.1:{deaf.getsockname()[1]}", "tcp://127.0.0.1:1", "nonsense", "foo://bar:1"):
            begun = time.monotonic()
            assert main(["sweep", "room.toml", "--set", "eye.distance=400", "--cluster", address]) == 2
            assert time.monotonic() - begun < 60  # it ends; how soon is not what is tested
            said = capsys.readouterr().err
            assert f"--cluster {address}: no scheduler answers there" in said
            assert "Traceback" not in said
    assert not Path("exports").exists()


def test_without_the_extra_the_cluster_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plain install has no Dask."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"pip install '\.\[cluster\]'"), cluster("tcp://127.0.0.1:1"):
        pass
