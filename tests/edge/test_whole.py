"""The command line in processes of its own, with the real build."""

from __future__ import annotations

import hashlib
import json
import os
import pty
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.scene.starter import Wishes, starter_scene
from tests.on_disk import files_in

ROOT = Path(__file__).parents[2]
SMALL = """
format = 1
box = { width = 180, height = 150, depth = 85 }
eye = { distance = 420, height = 78 }
space = { scale = 48, depth = 12.0 }
materials.foam = { thickness = 3.0, process = "knife", sheet = [300, 200] }
"""
ENVIRONMENT = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])}


def line(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "pipeline", *arguments]


def run(cwd: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        line(*arguments), cwd=cwd, env=ENVIRONMENT, capture_output=True, text=True, check=False, timeout=300
    )


def test_the_starter_scene_builds_as_it_is(tmp_path: Path) -> None:
    """``begin`` then ``build``: exit code 0, every file listed with its hash, a summary on stdout."""
    assert run(tmp_path, "begin", "my room").returncode == 0
    built = run(tmp_path, "build", "my-room.toml")
    assert (built.returncode, built.stderr) == (0, "")
    files = files_in(tmp_path / "exports" / "my-room")
    manifest = json.loads(files.pop("manifest.json"))
    assert {name: hashlib.sha256(content).hexdigest() for name, content in files.items()} == manifest["files"]
    assert {"report.html", "panels/floor.dxf", "pictures/eye.png"} <= files.keys()
    assert len(built.stdout.splitlines()) >= 3


def test_the_readmes_scene_builds_and_has_ten_lines(tmp_path: Path) -> None:
    """The README's first TOML block, to the letter."""
    block = re.search(r"^```toml\n(.*?)^```", (ROOT / "README.md").read_text(encoding="utf-8"), re.S | re.M)
    assert block is not None
    assert len(block[1].splitlines()) == 10
    (tmp_path / "ten.toml").write_text(block[1], encoding="utf-8")
    built = run(tmp_path, "build", "ten.toml")
    assert built.returncode == 0, built.stdout + built.stderr


def test_the_same_scene_gives_the_same_bytes(tmp_path: Path) -> None:
    """Whatever the folder, the process, the number of jobs and the seed of Python's hashes."""
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text(starter_scene(Wishes(title="room")), encoding="utf-8")
    one = run(tmp_path, "build", "a.toml", "--out", "one")
    two = run(tmp_path, "build", "a.toml", "b.toml", "--out", "two", "--jobs", "2")
    assert (one.returncode, two.returncode) == (0, 0)
    assert files_in(tmp_path / "one" / "a") == files_in(tmp_path / "two" / "a")


def test_json_of_a_real_build_parses(tmp_path: Path) -> None:
    """Relief, parts and checks of the manifest, on stdout, alone."""
    (tmp_path / "room.toml").write_text(SMALL)
    said = json.loads(run(tmp_path, "build", "room.toml", "--json").stdout)
    manifest = json.loads((tmp_path / "exports/room/manifest.json").read_bytes())
    (room,) = said["scenes"]
    assert room["relief"] == manifest["relief"]
    assert room["checks"] == manifest["checks"]
    assert room["parts"] == [part["id"] for part in manifest["parts"]]


def test_a_setting_is_as_good_as_an_edit(tmp_path: Path) -> None:
    """The relief is that of the changed scene; the scene file stays."""
    (tmp_path / "room.toml").write_text(SMALL)
    (tmp_path / "edited.toml").write_text(SMALL.replace("420", "380"))
    said = run(tmp_path, "inspect", "room.toml", "--json", "--set", "eye.distance=380").stdout
    expected = run(tmp_path, "inspect", "edited.toml", "--json").stdout
    assert json.loads(said)["scenes"][0]["relief"] == json.loads(expected)["scenes"][0]["relief"]
    assert (tmp_path / "room.toml").read_text() == SMALL


def test_a_setting_that_is_wrong_is_named(tmp_path: Path) -> None:
    """No line of the file is to blame for it."""
    (tmp_path / "room.toml").write_text(SMALL)
    said = run(tmp_path, "build", "room.toml", "--set", "eye.distance=-5")
    assert said.returncode == 2
    assert said.stderr.startswith("--set eye.distance=-5: ")


def test_all_slips_of_a_scene_are_said_at_once(tmp_path: Path) -> None:
    """Each on a line of its own with file, line and column; nothing is written."""
    (tmp_path / "room.toml").write_text(SMALL.replace("depth = 85", "depht = 85").replace("scale = 48", "scale = 0"))
    said = run(tmp_path, "build", "room.toml")
    assert (said.returncode, said.stdout) == (2, "")
    assert all(re.match(r"room\.toml:\d+:\d+: ", message) for message in said.stderr.splitlines())
    assert {"room.toml:3", "room.toml:5"} == {":".join(m.split(":")[:2]) for m in said.stderr.splitlines()}
    assert [tmp_path / "room.toml"] == list(tmp_path.iterdir())


def interrupted(folder: Path, count: int, jobs: str, handling: signal.Handlers) -> subprocess.Popen[str]:
    """Return a build of many scenes, sent Ctrl-C with its whole group once the first is written.

    A shell starts what it puts in the background deaf to Ctrl-C, and so may these tests be; ``handling`` is what the
    build is started with instead.
    """
    names = [f"room-{number}.toml" for number in range(count)]
    for name in names:
        (folder / name).write_text(starter_scene(Wishes(title="room")), encoding="utf-8")
    before = signal.signal(signal.SIGINT, handling)
    try:
        child = subprocess.Popen(
            line("build", *names, "--jobs", jobs),
            cwd=folder,
            env=ENVIRONMENT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    give_up = time.monotonic() + 60
    while not list((folder / "exports").glob("room-*")) and time.monotonic() < give_up:
        time.sleep(0.01)
    os.killpg(child.pid, signal.SIGINT)
    return child


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_interrupted_it_says_so_and_leaves_nothing(tmp_path: Path, jobs: str) -> None:
    """Ctrl-C reaches the whole group: exit code 130, one word, no traceback, no temporaries, no children."""
    child = interrupted(tmp_path, 40, jobs, signal.SIG_DFL)
    out = tmp_path / "exports"
    _, said = child.communicate(timeout=60)
    assert (child.returncode, said) == (130, "foreshorten: interrupted\n")
    assert [p for p in out.glob(".foreshorten/folders/*/*") if p.is_dir()] == []
    assert 0 < len(list(out.glob("room-*"))) < 40
    with pytest.raises(ProcessLookupError):
        os.killpg(child.pid, 0)


def test_in_the_background_it_is_deaf_to_ctrl_c(tmp_path: Path) -> None:
    """Started with interruptions ignored, as by ``command &`` in a script, parent and workers all finish."""
    child = interrupted(tmp_path, 4, "2", signal.SIG_IGN)
    assert (child.communicate(timeout=120)[1], child.returncode) == ("", 0)
    assert len(list((tmp_path / "exports").glob("room-*"))) == 4


def test_on_a_terminal_results_still_go_to_stdout_alone(tmp_path: Path) -> None:
    """The sign of life is on stderr and gone in the end; a pipe on stdout gets the document and nothing else."""
    (tmp_path / "room.toml").write_text(SMALL)
    ours, theirs = pty.openpty()
    environment = {**ENVIRONMENT, "TERM": "xterm", "NO_COLOR": "1"}
    said = subprocess.run(
        line("build", "room.toml", "--json"), cwd=tmp_path, env=environment, stdout=subprocess.PIPE, stderr=theirs,
        check=False, timeout=300,
    )  # fmt: skip
    os.close(theirs)
    shown = os.read(ours, 1_000_000)
    os.close(ours)
    assert json.loads(said.stdout)["exit"] == said.returncode
    assert b"building" in shown
    assert re.search(rb"\x1b\[[0-9;]*3[0-9]m", shown) is None


def test_a_reader_that_goes_away_ends_nothing(tmp_path: Path) -> None:
    """``foreshorten schema | head -1``: no traceback, exit code 0."""
    code = f"set -o pipefail; {sys.executable} -m pipeline schema | head -1"
    said = subprocess.run(
        ["bash", "-c", code], cwd=tmp_path, env=ENVIRONMENT, capture_output=True, text=True, check=False
    )
    assert (said.returncode, said.stdout, said.stderr) == (0, "{\n", "")


def test_the_schema_is_json(tmp_path: Path) -> None:
    """Draft 4, of an object with the tables of a scene."""
    schema = json.loads(run(tmp_path, "schema").stdout)
    assert schema["$schema"] == "http://json-schema.org/draft-04/schema#"
    assert {"box", "eye", "space", "materials"} <= schema["properties"].keys()
