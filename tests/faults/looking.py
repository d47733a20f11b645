"""What must be true of a bench whatever befell the program: one whole export folder, and nothing beside it.

Nothing here is an ``assert``: the full run may be made under ``python -O``.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path

from pipeline.folder import WORK
from tests.on_disk import Files, files_in


class BrokenError(Exception):
    """What must not happen has happened."""


def whole(folder: Path, versions: Mapping[str, Files]) -> str:
    """Return which of some versions an export folder is, byte for byte.

    Raises
    ------
    BrokenError
        If it is none of them, or not what its own manifest lists.
    """
    found = files_in(folder)
    if "manifest.json" not in found:
        raise BrokenError(f"{folder}: no manifest among {sorted(found)}")
    listed = json.loads(found["manifest.json"])["files"]
    told = {name: hashlib.sha256(content).hexdigest() for name, content in found.items() if name != "manifest.json"}
    if told != listed:
        raise BrokenError(f"{folder}: not as its manifest lists: {sorted(set(told.items()) ^ set(listed.items()))[:6]}")
    for name, files in versions.items():
        if found == files:
            return name
    raise BrokenError(f"{folder}: its files are of no one version")


def left_over(bench: Path, ours: frozenset[str] = frozenset({"room.toml"})) -> list[str]:
    """Return the files and empty folders of a bench that are neither ``ours`` nor a build's to keep.

    A build keeps its export folder, one lock and one file of results for each scene, and its folders.
    """
    found = []
    for path in sorted(bench.rglob("*")):
        name = path.relative_to(bench).as_posix()
        below = name.removeprefix("exports/")
        if path.is_dir() and not path.is_symlink():
            kept = any(path.iterdir()) or below in ("exports", WORK, f"{WORK}/kept", f"{WORK}/folders", "temporary")
        else:
            kept = name in ours or below.startswith("room/")
            kept = kept or below in (f"{WORK}/folders/room/lock", f"{WORK}/kept/room.kept")
        if not kept:
            found.append(name)
    return found


def held_locks(bench: Path) -> list[str]:
    """Return the locks of a bench that somebody holds."""
    found = []
    for path in bench.rglob("lock"):
        descriptor = os.open(path, os.O_RDWR)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            found.append(str(path))
        finally:
            os.close(descriptor)
    return found


def clean(bench: Path, ours: frozenset[str] = frozenset({"room.toml"})) -> None:
    """Hold a bench to having nothing on it that a build does not keep.

    Raises
    ------
    BrokenError
        If there is something, or a lock is held.
    """
    if left := left_over(bench, ours) or held_locks(bench):
        raise BrokenError(f"{bench}: left over: {left}")
