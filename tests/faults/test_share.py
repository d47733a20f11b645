"""A small share of what ``python -m tests.faults`` does, the same each time; and that it would tell."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from tests.faults.building import ROOT
from tests.faults.looking import BrokenError, clean, whole
from tests.faults.stepping import MOVING
from tests.on_disk import Files
from tests.scene_text import PLAIN


def test_a_share_of_stopped_crowded_and_refused_builds_leaves_whole_folders() -> None:
    """Killed, interrupted, eight at once, on a full disk and in folders that may not be written; see the modules."""
    counts = ("--kills", "16", "--interrupts", "16", "--rounds", "2", "--full", "2", "--seed", "5")
    run = subprocess.run(
        [sys.executable, "-m", "tests.faults", *counts], check=False, cwd=ROOT, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    killed, interrupted, crowded, refused = run.stdout.splitlines()
    assert "'old'" in killed
    assert "-9:" in killed
    assert "130:" in interrupted
    assert re.search("builds=16, looks=[1-9]", crowded)
    assert "file too large" in refused
    if os.geteuid() == 0:
        assert "permission denied" in refused
    else:
        assert "only root becomes another user" in refused


def _version(word: bytes) -> Files:
    files = {"a.svg": word, "b.svg": word}
    listed = {name: sha256(content).hexdigest() for name, content in files.items()}
    return {**files, "manifest.json": json.dumps({"files": listed}).encode()}


def _put(files: Files, folder: Path) -> None:
    folder.mkdir(parents=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)


def test_a_mixed_folder_and_what_is_left_over_are_told(tmp_path: Path) -> None:
    """Of two versions, of one with a manifest that fits the mixture, and of temporaries; or nothing would be proved."""
    versions = {"one": _version(b"1"), "two": _version(b"2")}
    room = tmp_path / "exports" / "room"
    _put(versions["one"], room)
    assert whole(room, versions) == "one"
    clean(tmp_path)
    (room / "b.svg").write_bytes(b"2")
    with pytest.raises(BrokenError, match="not as its manifest lists"):
        whole(room, versions)
    mixed = _version(b"1") | {"b.svg": b"2"}
    listed = {name: sha256(mixed[name]).hexdigest() for name in ("a.svg", "b.svg")}
    (room / "manifest.json").write_bytes(json.dumps({"files": listed}).encode())
    with pytest.raises(BrokenError, match="of no one version"):
        whole(room, versions)
    for name in (
        ".foreshorten-0123456789abcdef.part",
        "exports/.foreshorten/folders/room/tray/new/a.svg",
        "temporary/x",
    ):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
        with pytest.raises(BrokenError, match="left over"):
            clean(tmp_path)
        path.unlink()


def test_all_that_writes_is_stepped_through() -> None:
    """Whatever makes, moves or removes a file is done in a module whose every line is tried (`stepping`)."""
    writes = re.compile(r"\bos\.(link|fsync|rename)\b|\w\)?\.(rename|unlink|rmdir|write_bytes|write_text)\(|\"x\+?b\"")
    found = {path for path in (ROOT / "pipeline").rglob("*.py") if writes.search(path.read_text("utf-8"))}
    assert {path.relative_to(ROOT) for path in found} == {Path(name).relative_to(ROOT) for name in MOVING}


@pytest.mark.parametrize(
    "module",
    [
        "argparse",
        "pipeline.cli",
        "pipeline.commands.sweep",
        "datetime",
        "numpy._core.multiarray",
        "pipeline.scene.model",
    ],
)
def test_ctrl_c_is_answered_while_the_program_is_loaded(module: str, tmp_path: Path) -> None:
    """Exit code 130 and one word, from the first import on; numpy and pydantic call for ``datetime`` from within."""
    code = (
        "import runpy, signal, sys\n"
        "def watch(name, given):\n"
        f"    if name == 'import' and given[0] == {module!r}: signal.raise_signal(signal.SIGINT)\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "sys.addaudithook(watch)\n"
        "sys.argv = ['foreshorten', 'schema']\n"
        "runpy.run_module('pipeline', run_name='__main__')\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], check=False, cwd=tmp_path, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr) == (130, "", "foreshorten: interrupted\n")


def test_ctrl_c_while_a_text_is_compiled_is_answered_with_the_same_code(tmp_path: Path) -> None:
    """The interpreter notes one that came through ``exec`` and would die of it in the end; see `pipeline.__main__`."""
    (tmp_path / "argparse.py").write_text("exec('import signal; signal.raise_signal(signal.SIGINT)')\n")
    run = subprocess.run(
        [sys.executable, "-m", "pipeline", "schema"], check=False, cwd=tmp_path, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(ROOT)])}, preexec_fn=_hear,
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr) == (130, "", "foreshorten: interrupted\n")


@pytest.mark.parametrize("command", [["inspect", "room.toml"], ["build", "room.toml"]])
def test_ctrl_c_while_the_solids_are_loaded_is_answered_after(command: list[str], tmp_path: Path) -> None:
    """manifold3d calls Python from C++ destructors as it is loaded, where an interruption would end the process."""
    code = (
        "import enum, signal, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "made = enum.EnumMeta.__call__\n"
        "def make(*given, **named):\n"
        "    if 'Error' in given[1:]: signal.raise_signal(signal.SIGINT)\n"
        "    return made(*given, **named)\n"
        "enum.EnumMeta.__call__ = make\n"
        "import pipeline.__main__\n"
        f"sys.argv = ['foreshorten', *{command!r}]\n"
        "sys.exit(pipeline.__main__.run())\n"
    )
    (tmp_path / "room.toml").write_text(PLAIN)
    run = subprocess.run(
        [sys.executable, "-c", code], check=False, cwd=tmp_path, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr) == (130, "", "foreshorten: interrupted\n")


def _hear() -> None:
    """Be no more deaf to Ctrl-C than a command at a terminal is, though the tests may run in the background."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
