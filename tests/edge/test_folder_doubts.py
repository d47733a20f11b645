"""Folders, locks and files in doubt: what is no file of ours, what the system cannot do, what is in the way."""

from __future__ import annotations

import ctypes
import errno
import json
import os
import resource
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from pipeline import folder, lock
from pipeline.commands.model import InputError
from pipeline.commands.plain_files import read_plain, write_new, write_over
from pipeline.commands.publishing import recovered
from pipeline.commands.scene_edits import write_values
from pipeline.folder import WORK, ForeignFolderError, recover, strangers
from pipeline.lock import BusyError, held
from pipeline.scene.editing import EditError, with_values
from tests.edge.exporting import put
from tests.on_disk import files_in


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """A published folder."""
    put(tmp_path / "exports", 1)
    return tmp_path / "exports" / "room"


def test_a_manifest_that_is_no_plain_file_is_none_of_ours(target: Path) -> None:
    """A link may lead to a real one: whose files those are nobody knows."""
    (target / "manifest.json").rename(target.parent / "elsewhere.json")
    (target / "manifest.json").symlink_to(target.parent / "elsewhere.json")
    with pytest.raises(ForeignFolderError):
        strangers(target)
    (target / "manifest.json").unlink()
    (target / "manifest.json").mkdir()
    with pytest.raises(ForeignFolderError):
        strangers(target)


@pytest.mark.parametrize(("key", "value"), [("scene_sha256", 5), ("files", ["panels/floor.dxf"])])
def test_a_manifest_of_other_types_is_none_of_ours(key: str, value: object, target: Path) -> None:
    """The same words in another program's file; with ours in its place again the folder is ours."""
    whole = (target / "manifest.json").read_bytes()
    (target / "manifest.json").write_text(json.dumps({**json.loads(whole), key: value}))
    with pytest.raises(ForeignFolderError):
        strangers(target)
    (target / "manifest.json").write_bytes(whole)
    assert strangers(target) == ()


def test_a_manifest_larger_than_any_is_not_read(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit is lowered to one byte less than it has."""
    size = (target / "manifest.json").stat().st_size
    monkeypatch.setattr(folder, "MAX_MANIFEST_BYTES", size)
    assert strangers(target) == ()
    monkeypatch.setattr(folder, "MAX_MANIFEST_BYTES", size - 1)
    with pytest.raises(ForeignFolderError):
        strangers(target)


def test_what_is_no_desk_is_passed_over(target: Path) -> None:
    """A file or a link beside the desks: neither is followed nor removed, and the desks are still cleared."""
    desks = target.parent / WORK / "folders"
    (desks / "a file").write_text("mine")
    (desks / "a link").symlink_to(target)
    (desks / "room" / "left over").mkdir()
    recover(target.parent)
    assert (desks / "a file").read_text() == "mine"
    assert (desks / "a link").is_symlink()
    assert not (desks / "room" / "left over").exists()
    assert "manifest.json" in files_in(target)


@pytest.mark.skipif(sys.platform != "linux", reason="renameat2 is Linux")
def test_folders_that_cannot_be_exchanged_are_told_from_a_disk_that_refuses(tmp_path: Path) -> None:
    """renameat2(2): EINVAL for one within the other, as file systems without it answer; ENOENT for a missing one."""
    (tmp_path / "outer" / "inner").mkdir(parents=True)
    assert not folder._exchange(tmp_path / "outer", tmp_path / "outer" / "inner")
    with pytest.raises(FileNotFoundError) as refused:
        folder._exchange(tmp_path / "outer", tmp_path / "missing")
    assert refused.value.errno == errno.ENOENT
    assert (tmp_path / "outer" / "inner").is_dir()


@pytest.mark.skipif(sys.platform != "linux", reason="renameat2 is Linux")
def test_a_c_library_without_the_call_means_two_renames(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """glibc before 2.28, and others: the export is replaced all the same."""
    monkeypatch.setattr(ctypes, "CDLL", lambda *_, **__: object())
    assert not folder._exchange(target, target)
    put(target.parent, 2)
    assert json.loads((target / "manifest.json").read_bytes())["version"] == 2


def test_a_lock_is_waited_for(tmp_path: Path) -> None:
    """Its holder lets go after a while, and then it is ours; where it does not, we say so."""
    taken, free = threading.Event(), threading.Event()

    def hold() -> None:
        with held(tmp_path / "lock", 1.0):
            taken.set()
            free.wait(60)

    holder = threading.Thread(target=hold)
    holder.start()
    assert taken.wait(60)
    with pytest.raises(BusyError), held(tmp_path / "lock", 0.0):
        pass
    threading.Timer(3 * lock.POLL_SECONDS, free.set).start()
    with held(tmp_path / "lock", 60.0):
        assert free.is_set()
    holder.join()


def test_a_file_system_without_locks_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """ENOLCK, as some network disks answer, at once: waiting would not help."""

    def none(_: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(lock, "_take", none)
    before = time.monotonic()
    with pytest.raises(OSError, match=os.strerror(errno.ENOLCK)), held(tmp_path / "lock", 3600.0):
        pass
    assert time.monotonic() - before < 1800


def test_a_work_folder_that_cannot_be_recovered_is_said(target: Path) -> None:
    """A lock file that is a link is not followed."""
    link = target.parent / WORK / "folders" / "room" / "lock"
    link.unlink()
    link.symlink_to(target / "report.html")
    with pytest.raises(InputError, match=r"exports: cannot be written: .*lock.*; nothing was replaced: "):
        recovered(target.parent)


@contextmanager
def small_files() -> Iterator[None]:
    """Let files have a hundred bytes, as on a full disk; not while the test is told of, since its log is a file too."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_file_that_cannot_be_written_to_its_end_is_not_there(tmp_path: Path) -> None:
    """Neither it nor a part of it; an older one stays as it was."""
    old = tmp_path / "old.toml"
    old.write_bytes(b"old")
    with pytest.raises(OSError, match="large"), small_files():
        write_new(tmp_path / "new.toml", bytes(1000))
    with pytest.raises(InputError, match=r"old\.toml: cannot be written: "), small_files():
        write_over(old, bytes(1000))
    assert {old} == set(tmp_path.iterdir())
    assert old.read_bytes() == b"old"


def test_a_file_of_the_users_that_is_called_a_part_is_left(tmp_path: Path) -> None:
    """Only what this program calls its parts is its own."""
    (tmp_path / "a.toml.part").write_bytes(b"mine")
    write_over(tmp_path / "a.toml", b"whole")
    assert (tmp_path / "a.toml").read_bytes() == b"whole"
    assert (tmp_path / "a.toml.part").read_bytes() == b"mine"


def test_what_can_be_no_files_name_is_said(tmp_path: Path) -> None:
    """A byte of zero ends names for the system."""
    with pytest.raises(InputError, match=r"^'a\\x00b': not a file name; name a scene file$"):
        read_plain(tmp_path / "a\0b", 100, shown="a\0b", wanted="a scene file", larger="too large")


def test_values_that_have_no_table_are_told_to_be_written_by_hand(tmp_path: Path) -> None:
    """The file is left as it is."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"format = 1\n")
    with pytest.raises(InputError, match=r"a\.toml: .*; write distance = 400 into \[eye\] by hand$"):
        write_values(path, path.read_bytes(), {("eye", "distance"): 400.0})
    assert path.read_bytes() == b"format = 1\n"


def test_a_number_written_another_way_is_not_written_over_by_the_same() -> None:
    """``4.2e2`` is 420: nothing is to change, so nothing may."""
    with pytest.raises(EditError, match=r"^more than eye\.distance would change$"):
        with_values("[eye]\ndistance = 4.2e2\n", {("eye", "distance"): 420.0})
