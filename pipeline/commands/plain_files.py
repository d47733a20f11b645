"""Files named by a person or a scene, read and written with care: anything may stand there.

Terms
-----
part
    The file ``.foreshorten-<16 hex digits>.part`` that is written beside another and moved into its place, so that
    whatever happens the old file stands there or the new one. Its writer holds its lock; one whose lock nobody holds
    is left by a writer that was killed, and whoever writes into the folder next clears it.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import shutil
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from pipeline.commands import disk_words
from pipeline.commands.model import InputError
from pipeline.lock import try_to_hold

_PART = re.compile(r"\.foreshorten-[0-9a-f]{16}\.part")


def read_plain(path: Path, most: int, *, shown: str, wanted: str, larger: str) -> bytes:
    """Return a file's bytes; no more than ``most`` and one are ever read.

    Parameters
    ----------
    path
        The file.
    most
        Bytes it may have.
    shown
        What messages call it.
    wanted
        What it should be: "a scene file".
    larger
        What is said of a file with more bytes.

    Raises
    ------
    InputError
        If it is missing, no plain file, unreadable or too large.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            if path.is_dir():
                raise InputError(
                    f"{shown}: is a folder, and {wanted} is needed", disk_words.inside(path, shown, wanted)
                )
            raise InputError(f"{shown}: is not a plain file, and {wanted} is needed", f"name {wanted}")
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except OSError as error:
        raise InputError(*disk_words.unread(path, shown, wanted, error)) from None
    except ValueError:
        raise InputError(f"{shown!r}: not a file name", f"name {wanted}") from None
    if len(data) > most:
        raise InputError(f"{shown}: {larger}", f"name {wanted}")
    return data


def write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet, whole or not at all.

    Raises
    ------
    FileExistsError
        If it is there, be it since a moment ago.
    OSError
        If the disk does not let us.
    """
    with _part_of(path) as (part, stream):
        _fill(stream, content)
        try:
            os.link(part, path)  # unlike a renaming it never takes the place of another file
        except FileExistsError:
            raise
        except OSError:  # a file system without links
            if path.exists():
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
            _move(part, stream, path)


def write_over(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, over an older one or not.

    Raises
    ------
    InputError
        If the disk does not let us.
    """
    try:
        replace_file(path, content)
    except OSError as error:
        raise InputError(*disk_words.unwritten(path, error)) from None


def replace_file(path: Path, content: bytes) -> None:
    """Write a file as `write_over`, for callers to whom it is no fault of the user's if the disk does not let us.

    Raises
    ------
    OSError
        If it does not. The file is then as it was.
    """
    with _part_of(path) as (part, stream):
        _fill(stream, content)
        if path.exists():
            shutil.copymode(path, part)
        _move(part, stream, path)


def clear_parts(folder: Path) -> None:
    """Remove what writers that were killed left in a folder; a file that is being written is left to its writer."""
    with suppress(OSError):
        for part in [path for path in folder.iterdir() if _PART.fullmatch(path.name)]:
            with suppress(OSError):
                _clear(part)


def _clear(part: Path) -> None:
    if sys.platform == "win32":
        part.unlink()  # refused while it is open
        return
    descriptor = os.open(part, os.O_RDWR | os.O_NOFOLLOW)
    try:
        if try_to_hold(descriptor):
            part.unlink()
    finally:
        os.close(descriptor)


@contextmanager
def _part_of(path: Path) -> Iterator[tuple[Path, BinaryIO]]:
    """Yield a new file beside a path, to be written and moved there; of it and of dead ones like it nothing stays."""
    clear_parts(path.parent)
    part = path.with_name(f".foreshorten-{secrets.token_hex(8)}.part")
    try:
        with part.open("x+b") as stream:
            if sys.platform != "win32":
                try_to_hold(stream.fileno())
            yield part, stream
    finally:
        with suppress(OSError):
            part.unlink()


def _fill(stream: BinaryIO, content: bytes) -> None:
    stream.write(content)
    stream.flush()
    os.fsync(stream.fileno())  # or a power cut after the renaming could leave an empty file


def _move(part: Path, stream: BinaryIO, path: Path) -> None:
    if sys.platform == "win32":
        stream.close()  # an open file cannot be moved there
    part.replace(path)
