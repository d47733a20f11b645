"""A piece of work stopped just before each line of the modules that write, or refused at each call to the system."""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any, Literal

from pipeline import folder, lock
from pipeline.commands import cut_marks, pack, plain_files, scene_edits

Fault = Literal["killed", "interrupted", "full", "read-only"]
FAULTS: tuple[Fault, ...] = ("killed", "interrupted", "full", "read-only")

MOVING = frozenset(str(module.__file__) for module in (folder, cut_marks, pack, plain_files))
"""Make, move and remove files."""
WRITING = MOVING | {str(module.__file__) for module in (lock, scene_edits)}
ERRORS = {"full": errno.ENOSPC, "read-only": errno.EROFS}


def steps(fault: Fault, work: Callable[[], int], below: Path) -> Iterator[int]:
    """Have a piece of work meet a fault at its first step, its second and so on, until it is past its last.

    Yields its exit code after each, negative for a signal, for the caller to look and to put everything back.

    Parameters
    ----------
    fault
        What it meets.
    work
        Returns its exit code; it is done in a process of its own.
    below
        Calls to the system are refused for files in this folder only.
    """
    for step in range(1, 3000):
        met, code = _one(fault, work, step, below)
        if not met:
            return
        yield code
    raise AssertionError("it has no last step")


def _one(fault: Fault, work: Callable[[], int], step: int, below: Path) -> tuple[bool, int]:
    """Return whether a step was reached, and the exit code."""
    reads, writes = os.pipe()
    process = os.fork()
    if process == 0:
        code = 99
        try:
            signal.signal(signal.SIGINT, signal.default_int_handler)

            def met() -> None:
                os.write(writes, b".")

            if fault in ("killed", "interrupted"):
                _at_line(step, met, signal.SIGKILL if fault == "killed" else signal.SIGINT)
            else:
                _at_call(step, met, ERRORS[fault], str(below))
            code = work()
        except KeyboardInterrupt:
            code = 130
        finally:
            os._exit(code)
    os.close(writes)
    code = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    reached = bool(os.read(reads, 1))
    os.close(reads)
    return reached, code


def _at_line(step: int, met: Callable[[], None], number: signal.Signals) -> None:
    count = 0

    def line(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal count
        if event == "line":
            count += 1
            if count == step:
                met()
                signal.raise_signal(number)
        return line

    def call(frame: FrameType, event: str, _: Any) -> Any:
        return line if frame.f_code.co_filename in WRITING else None

    sys.settrace(call)


def _at_call(step: int, met: Callable[[], None], number: int, below: str) -> None:
    """Refuse one of the calls that Python tells of (PEP 578)."""
    count = 0

    def watch(name: str, given: tuple[Any, ...]) -> None:
        nonlocal count
        if not name.startswith(("open", "os.", "shutil.")) or not given:
            return
        if not isinstance(given[0], str | Path) or not str(given[0]).startswith(below):
            return
        count += 1
        if count == step:
            met()
            raise OSError(number, os.strerror(number), str(given[0]))

    sys.addaudithook(watch)
