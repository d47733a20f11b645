"""A build killed, out of disk or in another one's way leaves one whole folder."""

from __future__ import annotations

import errno
import os
import random
import resource
import signal
import time
from pathlib import Path

import pytest

from pipeline.folder import WORK, recover
from pipeline.lock import BusyError, held
from tests.edge.exporting import before_call, export, in_child, put, trays
from tests.on_disk import files_in


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
    assert export(1) == files_in(out / "room")
    assert trays(out) == []


def killed_at(event: int, out: Path) -> None:
    """Publish, and be killed just before a system call."""
    before_call(event, lambda: os.kill(os.getpid(), signal.SIGKILL))
    put(out, 2)


@pytest.mark.usefixtures("exchange")
def test_killed_at_any_step_the_folder_is_the_old_one_or_the_new_one(out: Path) -> None:
    """Every step of a publication is tried; recovery brings back a whole folder and clears all temporaries."""
    states = []
    for event in range(1, 500):
        put(out, 1)
        code = in_child(lambda event=event: killed_at(event, out))  # type: ignore[misc]
        recover(out)
        found = files_in(out / "room")
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
    assert files_in(out / "room") in [export(version) for version in range(7)]
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
    assert files_in(out / "room") in (export(1), export(2), export(3))
    assert trays(out) == []


def test_a_build_that_waited_in_vain_says_so(out: Path) -> None:
    """The other build's folder is named and left to it."""
    put(out, 1)
    with held(out / WORK / "folders" / "room" / "lock", 0.0), pytest.raises(BusyError, match="room"):
        put(out, 2, wait_seconds=0.0)
    assert export(1) == files_in(out / "room")


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
    assert export(2) == files_in(out / "room")


def test_recovery_makes_nothing_where_there_is_nothing(out: Path) -> None:
    """No folder appears by asking."""
    recover(out)
    assert not out.exists()
