"""``foreshorten build --watch``, in a process of its own."""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands.scene_files import SceneFile
from pipeline.commands.watching import changes, state_of
from tests.scene_text import PLAIN, changed

ROOT = Path(__file__).parents[2]
PATIENCE = 120.0
"""Seconds after which a line that does not come will never come."""


class Watch:
    """A watching process, and the lines it has said."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "pipeline", "build", "room.toml", "--watch"],
            cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)}, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self._lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line)

    def says(self, text: str) -> str:
        """Wait for a line with a text in it."""
        while True:
            line = self._lines.get(timeout=PATIENCE)
            if text in line:
                return line


@pytest.fixture
def watch(tmp_path: Path) -> Iterator[Watch]:
    """A plain room under watch."""
    (tmp_path / "room.toml").write_text(PLAIN)
    started = Watch(tmp_path)
    yield started
    if started.process.poll() is None:
        started.process.kill()
        started.process.wait()


def test_a_scene_is_built_again_when_it_changes_and_an_error_leaves_the_last_good_build(
    watch: Watch, tmp_path: Path
) -> None:
    """Changed, broken, gone, back again; Ctrl-C ends it, with the code of an interruption."""
    scene, manifest = tmp_path / "room.toml", tmp_path / "exports" / "room" / "manifest.json"

    def distance() -> float:
        return float(json.loads(manifest.read_bytes())["relief"]["eye_distance"])

    watch.says("report.html")
    assert distance() == 420
    watch.says("watching")
    scene.write_text(changed(PLAIN, "distance = 420", "distance = 400"))
    watch.says("report.html")
    assert distance() == 400
    scene.write_text(changed(PLAIN, "distance = 420", "distanse = 400"))
    assert "room.toml:11:1" in watch.says("distanse")
    assert distance() == 400
    scene.unlink()
    watch.says("is gone")
    assert distance() == 400
    scene.write_text(PLAIN)
    watch.says("report.html")
    assert distance() == 420
    watch.process.send_signal(signal.SIGINT)
    assert watch.process.wait(timeout=PATIENCE) == 130
    assert (tmp_path / "exports" / ".foreshorten" / "kept" / "room.kept").is_file()


def test_meshes_and_the_layout_are_watched_too(tmp_path: Path) -> None:
    """Whatever a build reads counts; what it does not read does not."""
    path = tmp_path / "room.toml"
    path.write_text(PLAIN + '[[meshes]]\nname = "pot"\nfile = "pot.stl"\nat = [0, 3]\n')
    scene = SceneFile(path=path, stem="room")
    looks: Iterator[Callable[[], object]] = iter(
        [
            lambda: (tmp_path / "other.stl").write_bytes(b"1"),
            lambda: (tmp_path / "pot.stl").write_bytes(b"12"),
            lambda: None,
            lambda: (tmp_path / "room.layout.json").write_bytes(b"123"),
            path.unlink,
        ]
    )

    def pause() -> None:
        try:
            next(looks)()
        except StopIteration:
            raise KeyboardInterrupt from None

    watched = changes({scene: state_of(scene)}, pause)
    seen = [(next(watched)[1], sorted(file.name for file in tmp_path.iterdir())) for _ in range(3)]
    with pytest.raises(KeyboardInterrupt):
        next(watched)
    names = ["other.stl", "pot.stl", "room.layout.json", "room.toml"]
    assert seen == [(True, [names[0], names[1], names[3]]), (True, names), (False, names[:3])]


def test_watching_and_one_document_at_the_end_do_not_go_together(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, and nothing is begun."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "room.toml").write_text(PLAIN)
    assert main(["build", "room.toml", "--watch", "--json"]) == 2
    assert "--watch" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["room.toml"]
