"""A lock between processes that dies with its holder."""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

POLL_SECONDS = 0.05
"""Between two tries: short beside a publication, long beside a system call."""

_TAKEN = {errno.EAGAIN, errno.EACCES, errno.EDEADLK}


class BusyError(Exception):
    """Another process held the lock all the time one was ready to wait."""


if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _take(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def try_to_hold(descriptor: int) -> bool:
    """Take the lock of an open file for as long as it is open; return whether it was to be had.

    It is not where another process has it, or where the file system knows no locks.
    """
    try:
        _take(descriptor)
    except OSError:
        return False
    return True


@contextmanager
def held(path: Path, wait_seconds: float) -> Iterator[None]:
    """Hold the lock file at ``path``; the system lets go of it when the process ends, however it ends.

    The file itself stays: removing it would let two processes hold locks on two files of one name.

    Raises
    ------
    BusyError
        If another process still holds it after ``wait_seconds``.
    OSError
        If the file cannot be made, is a symbolic link, or its file system knows no locks.
    """
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
    try:
        _wait_for(descriptor, wait_seconds)
        yield
    finally:
        os.close(descriptor)


def _wait_for(descriptor: int, wait_seconds: float) -> None:
    give_up = time.monotonic() + wait_seconds
    while True:
        try:
            return _take(descriptor)
        except OSError as error:
            if error.errno not in _TAKEN:
                raise
        if time.monotonic() >= give_up:
            raise BusyError
        time.sleep(POLL_SECONDS)
