"""Numbers written back into a scene file, everything else in it left as it was."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pipeline.commands.model import InputError
from pipeline.commands.plain_files import write_over
from pipeline.commands.scene_files import read_bytes

MARK = b"\xef\xbb\xbf"
"""Some editors put it before UTF-8; where it stands it stays."""


def write_values(path: Path, data: bytes, values: Mapping[tuple[str, ...], float]) -> bytes:
    """Set values by key in a scene file, and return its bytes as they are now.

    Parameters
    ----------
    path
        The file.
    data
        What was read from it; it can be read as a scene and has the tables the values stand in.
    values
        Number by the tables' names and its own.

    Raises
    ------
    InputError
        If the file is not what it was, more than these values would change, or the disk does not let us.
    """
    from pipeline.scene.editing import EditError, with_values

    before, body = (MARK, data[len(MARK) :]) if data.startswith(MARK) else (b"", data)
    try:
        edited = before + with_values(body.decode(), values).encode()
    except EditError as error:
        by_hand = ", ".join(f"{keys[-1]} = {value:g} into [{'.'.join(keys[:-1])}]" for keys, value in values.items())
        raise InputError(f"{path}: {error}; write {by_hand} by hand") from None
    if read_bytes(path) != data:
        raise InputError(f"{path}: was changed while we read it; run the command again")
    write_over(path.resolve(), edited)  # a link stays a link
    return edited
