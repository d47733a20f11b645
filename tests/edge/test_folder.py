"""An export folder is replaced as a whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import random
import resource
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline import folder
from pipeline.folder import WORK, ForeignFolderError, publish, recover
from pipeline.lock import BusyError, held

Files = dict[str, bytes]
EXPECTED_NAMES = ("manifest.json", "panels/floor.dxf", "panels/floor.svg", "prints/pier-1.stl", "report.html")


def export(version: int) -> Files:
    """Files whose every byte string names the version, so that a mixture shows."""
    files = {name: f"{version}".encode() * 4096 for name in EXPECTED_NAMES if name != "manifest.json"}
    return with_manifest(files, version)


def with_manifest(files: Files, version: int) -> Files:
    listed = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    manifest = {"format": 1, "version": version, "scene_sha256": "0" * 64, "files": listed}
    return {**files, "manifest.json": json.dumps(manifest).encode()}


def on_disk(target: Path) -> Files:
    return {p.relative_to(target).as_posix(): p.read_bytes() for p in target.rglob("*") if p.is_file()}


def trays(out: Path) -> list[Path]:
    return [p for p in (out / WORK).glob("folders/*/*") if p.is_dir()]


def in_child(function: Callable[[], object]) -> int:
    """Run in a forked process; return its exit code, negative for a signal."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            function()
            code = 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "exports"


@pytest.fixture(params=["exchange", "rename pair"])
def exchange(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both ways of replacing, the second forced."""
    if request.param == "rename pair":
        monkeypatch.setattr(folder, "_exchange", lambda *_: False)
    elif sys.platform != "linux":
        pytest.skip("renameat2 is Linux")
    return str(request.param)


def put(out: Path, version: int, wait_seconds: float = 5.0) -> None:
    publish(export(version), out / "room", out / WORK, wait_seconds)


def test_a_new_folder_holds_exactly_the_files(out: Path) -> None:
    """What is published is what is read back, and nothing temporary is left."""
    put(out, 1)
    assert export(1) == on_disk(out / "room")
    assert trays(out) == []


@pytest.mark.usefixtures("exchange")
def test_a_replaced_folder_keeps_nothing_of_the_old_one(out: Path) -> None:
    """A file the new export lacks is gone."""
    publish(with_manifest({"panels/old.dxf": b"old"}, 0), out / "room", out / WORK, 1.0)
    put(out, 2)
    assert export(2) == on_disk(out / "room")
    assert trays(out) == []


def test_nothing_is_written_beside_the_folder_but_the_work_folder(out: Path) -> None:
    """Locks and temporaries live in one place."""
    put(out, 1)
    assert {"room", WORK} == {p.name for p in out.iterdir()}


def no_manifest(target: Path) -> None:
    target.mkdir()
    (target / "novel.txt").write_text("chapter one")


def somebody_elses_manifest(target: Path) -> None:
    target.mkdir()
    (target / "manifest.json").write_text('{"name": "a web page", "files": []}')


def broken_manifest(target: Path) -> None:
    target.mkdir()
    (target / "manifest.json").write_text("{" * 100_000)


def nothing_inside(target: Path) -> None:
    target.mkdir()


def unlisted_file(target: Path) -> None:
    put(target.parent, 1)
    (target / "panels" / "notes.txt").write_text("bevel the left one twice")


def link_inside(target: Path) -> None:
    put(target.parent, 1)
    (target / "prints" / "pier-1.stl").unlink()
    (target / "prints" / "pier-1.stl").symlink_to("/etc/hostname")


def link_to_a_folder(target: Path) -> None:
    put(target.parent, 1)
    target.rename(target.with_name("elsewhere"))
    target.symlink_to("elsewhere")


def a_file(target: Path) -> None:
    target.write_text("not a folder")


def look(path: Path) -> object:
    if path.is_symlink():
        return os.readlink(path)
    return on_disk(path) if path.is_dir() else path.read_bytes()


FOREIGN: dict[str, tuple[Callable[[Path], None], tuple[str, ...]]] = {
    "no manifest": (no_manifest, ("novel.txt",)),
    "somebody else's manifest": (somebody_elses_manifest, ("manifest.json",)),
    "broken manifest": (broken_manifest, ("manifest.json",)),
    "empty": (nothing_inside, ()),
    "unlisted file": (unlisted_file, ("panels/notes.txt",)),
    "link inside": (link_inside, ("prints/pier-1.stl",)),
    "link to a folder": (link_to_a_folder, ()),
    "file": (a_file, ()),
}


@pytest.mark.parametrize(("make", "expected_files"), FOREIGN.values(), ids=FOREIGN.keys())
def test_a_folder_with_anything_of_the_users_is_never_replaced(
    out: Path, make: Callable[[Path], None], expected_files: tuple[str, ...]
) -> None:
    """Refused, the files named, and every byte as it was."""
    out.mkdir()
    make(out / "room")
    expected = look(out / "room")
    with pytest.raises(ForeignFolderError) as refusal:
        put(out, 2)
    assert expected_files == refusal.value.files
    assert all(name in str(refusal.value) for name in expected_files)
    assert expected == look(out / "room")
    assert trays(out) == []


def test_what_a_desktop_leaves_when_looking_is_nobodys_work(out: Path) -> None:
    """A folder viewed in a file manager can still be rebuilt."""
    put(out, 1)
    (out / "room" / ".DS_Store").write_bytes(b"\0")
    put(out, 2)
    assert export(2) == on_disk(out / "room")


@pytest.mark.usefixtures("exchange")
def test_a_file_put_in_between_the_look_and_the_exchange_survives(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder is given back with the file in it."""
    put(out, 1)
    write = folder._write

    def write_slowly(files: Files, new: Path) -> None:
        write(files, new)
        (out / "room" / "sketch.txt").write_text("mine")

    monkeypatch.setattr(folder, "_write", write_slowly)
    with pytest.raises(ForeignFolderError, match=r"sketch\.txt"):
        put(out, 2)
    assert {**export(1), "sketch.txt": b"mine"} == on_disk(out / "room")
    assert trays(out) == []


UNSAFE = ("../up.txt", "/root.txt", "a/../b", "", ".", "./a", "a//b", "a\\b", "c:d", "a\nb", "a/./b", "nul\0", "q?")


@pytest.mark.parametrize("name", UNSAFE)
def test_an_unsafe_path_is_a_fault_and_writes_nothing(out: Path, name: str) -> None:
    """Relative plain paths only."""
    with pytest.raises(ValueError, match="unsafe path"):
        publish(with_manifest({name: b""}, 1), out / "room", out / WORK, 1.0)
    assert not out.exists()


def test_names_that_fall_together_on_other_systems_are_a_fault(out: Path) -> None:
    """Upper and lower case are one on Windows and macOS."""
    with pytest.raises(ValueError, match="upper and lower case"):
        publish(with_manifest({"A.svg": b"", "a.svg": b""}, 1), out / "room", out / WORK, 1.0)


def test_a_manifest_that_does_not_list_every_file_is_a_fault(out: Path) -> None:
    """Otherwise the next build would refuse our own folder."""
    put(out, 1)
    with pytest.raises(ValueError, match=r"extra\.txt"):
        publish({**export(2), "extra.txt": b""}, out / "room", out / WORK, 1.0)
    assert export(1) == on_disk(out / "room")
    assert trays(out) == []


def test_a_work_folder_that_is_a_link_is_not_followed(out: Path, tmp_path: Path) -> None:
    """Nothing is written where the link points, and recovery clears nothing there."""
    (tmp_path / "elsewhere" / "folders" / "room" / "tray").mkdir(parents=True)
    out.mkdir()
    (out / WORK).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(NotADirectoryError):
        put(out, 1)
    recover(out)
    assert (tmp_path / "elsewhere" / "folders" / "room" / "tray").is_dir()
    assert not (out / "room").exists()


def full_disk(out: Path) -> None:
    """A real refusal by the system in the middle of writing: no file may grow beyond 2 kB."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2048, 2048))
    try:
        put(out, 2)
    except OSError as error:
        os._exit(40 if error.errno == errno.EFBIG else 41)


@pytest.mark.usefixtures("exchange")
def test_a_full_disk_leaves_the_old_folder_and_no_temporaries(out: Path) -> None:
    """All or nothing, whatever the disk says."""
    put(out, 1)
    assert in_child(lambda: full_disk(out)) == 40
    assert export(1) == on_disk(out / "room")
    assert trays(out) == []


def killed_at(event: int, out: Path) -> None:
    """Publish, and be killed just before the given system call that Python tells of (PEP 578)."""
    count = 0

    def watch(name: str, _: object) -> None:
        nonlocal count
        if name.startswith(("open", "os.", "shutil.")):
            count += 1
            if count == event:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(watch)
    put(out, 2)


@pytest.mark.usefixtures("exchange")
def test_killed_at_any_step_the_folder_is_the_old_one_or_the_new_one(out: Path) -> None:
    """Every step of a publication is tried; recovery brings back a whole folder and clears all temporaries."""
    states = []
    for event in range(1, 500):
        put(out, 1)
        code = in_child(lambda event=event: killed_at(event, out))  # type: ignore[misc]
        recover(out)
        found = on_disk(out / "room")
        assert found in (export(1), export(2)), event
        assert trays(out) == [], event
        states.append(found == export(2))
        if code == 0:
            break
    assert code == 0
    assert True in states[:-1]
    assert len(states) > 20
    assert states == sorted(states)


def publish_for_ever(out: Path) -> None:
    for version in range(10**6):
        put(out, version % 7)


@pytest.mark.usefixtures("exchange")
@pytest.mark.parametrize("seed", range(4))
def test_killed_at_any_moment_the_folder_is_whole(out: Path, seed: int) -> None:
    """The same from outside, at moments no step announces."""
    put(out, 0)
    child = os.fork()
    if child == 0:
        publish_for_ever(out)
        os._exit(0)
    time.sleep(random.Random(seed).uniform(0.01, 0.08))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    recover(out)
    assert on_disk(out / "room") in [export(version) for version in range(7)]
    assert trays(out) == []


@pytest.mark.usefixtures("exchange")
def test_two_builds_at_once_are_not_mixed(out: Path) -> None:
    """Each waits for the other; the last one stands there whole."""
    children = []
    for version in (1, 2, 3):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                for _ in range(5):
                    put(out, version, wait_seconds=30.0)
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0, 0]
    assert on_disk(out / "room") in (export(1), export(2), export(3))
    assert trays(out) == []


def test_a_build_that_waited_in_vain_says_so(out: Path) -> None:
    """The other build's folder is named and left to it."""
    put(out, 1)
    with held(out / WORK / "folders" / "room" / "lock", 0.0), pytest.raises(BusyError, match="room"):
        put(out, 2, wait_seconds=0.0)
    assert export(1) == on_disk(out / "room")


def test_recovery_leaves_a_running_build_alone(out: Path) -> None:
    """Whoever holds the lock still needs its tray."""
    put(out, 1)
    desk = out / WORK / "folders" / "room"
    (desk / "tray").mkdir()
    with held(desk / "lock", 0.0):
        recover(out)
        assert (desk / "tray").is_dir()
    recover(out)
    assert not (desk / "tray").exists()


def hold_and_die(lock: Path) -> None:
    with held(lock, 0.0):
        os.kill(os.getpid(), signal.SIGKILL)


def test_a_killed_process_leaves_no_lock(out: Path) -> None:
    """The system lets go for it."""
    put(out, 1)
    lock = out / WORK / "folders" / "room" / "lock"
    assert in_child(lambda: hold_and_die(lock)) == -signal.SIGKILL
    put(out, 2, wait_seconds=0.0)
    assert export(2) == on_disk(out / "room")


def test_recovery_makes_nothing_where_there_is_nothing(out: Path) -> None:
    """No folder appears by asking."""
    recover(out)
    assert not out.exists()
