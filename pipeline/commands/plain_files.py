"""Files named by a person or a scene, read and written with care: anything may stand there."""

from __future__ import annotations

import shutil
import stat
from pathlib import Path

from pipeline.commands import disk_words
from pipeline.commands.model import InputError


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
    """Write a file that is not there yet, whole or not at all."""
    with path.open("xb") as stream:
        try:
            stream.write(content)
            stream.flush()
        except BaseException:
            path.unlink()
            raise


def write_over(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, over an older one or not.

    Raises
    ------
    InputError
        If the disk does not let us.
    """
    part = path.with_name(f"{path.name}.part")
    try:
        write_new(part, content)
        if path.exists():
            shutil.copymode(path, part)
        part.replace(path)
    except FileExistsError:
        raise InputError(f"{part}: is in the way, left by a run that was killed; delete it") from None
    except OSError as error:
        raise InputError(*disk_words.unwritten(path, error)) from None
