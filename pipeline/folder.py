"""An export folder written as a whole or not at all.

Terms
-----
target
    The export folder of one scene, ``<out>/<stem>``.
work
    ``<out>/.foreshorten``; nothing temporary is ever written elsewhere.
desk
    ``<work>/folders/<stem>``: the target's lock, and a tray for each publication under way.
tray
    A folder on the desk with ``new`` (being written) and ``old`` (what stood at the target). Whoever holds the lock
    may clear every tray on the desk: its process is dead.
stranger
    A file in a target that the target's own manifest does not list.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from pipeline.lock import BusyError, held

WORK = ".foreshorten"
MANIFEST = "manifest.json"
MAX_MANIFEST_BYTES = 256 * 2**20
"""Ours stay far below; more is somebody else's file and not worth reading."""

WAIT_SECONDS = 120.0
"""A publication takes well under a second, but on a busy machine the last of eight at once has waited for over 20; the
lock dies with its holder, so this long means something is wrong."""

LEFT_BY_FILE_VIEWERS = frozenset({".DS_Store", "Thumbs.db", "desktop.ini", ".directory"})
"""Written by desktops when a folder is merely looked at: nobody's work."""

_NOT_SUPPORTED = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EPERM}
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2


class ForeignFolderError(Exception):
    """The target was not written by this program, or holds files that were not.

    Attributes
    ----------
    target
        The folder that was left alone.
    files
        Strangers, relative to it.
    """

    def __init__(self, target: Path, reason: str, files: tuple[str, ...] = ()) -> None:
        shown = ", ".join(files[:5]) + (f" and {len(files) - 5} more" if len(files) > 5 else "")
        what = f"{reason}: {shown}" if files else reason
        super().__init__(f"{target}: {what}; nothing was replaced: move it away, or build with another --out")
        self.target = target
        self.files = files


def publish(files: dict[str, bytes], target: Path, work: Path, wait_seconds: float) -> None:
    """Replace the target by ``files`` (relative path to bytes, manifest included), as a whole or not at all.

    Raises
    ------
    ForeignFolderError
        If the target is not a folder this program wrote, or holds strangers.
    pipeline.lock.BusyError
        If another build kept writing the same target.
    ValueError
        If a path is unsafe, or the manifest does not list every file.
    OSError
        If the disk refuses. The target is then as it was, and nothing temporary is left.
    """
    _refuse_unsafe(files)
    desk = _desk(work, target)
    with _holding(desk, target, wait_seconds):
        _clear(desk, target)
        if _exists(target):
            _refuse_foreign(target, target)
        tray = Path(tempfile.mkdtemp(dir=desk))
        try:
            _write(files, tray / "new")
            _swap(tray / "new", tray / "old", target)
            _put_back_if_foreign(tray, target)
        finally:
            _settle(tray, target)
        _sync_folder(target.parent)


def recover(out: Path) -> None:
    """Undo what killed processes left half done in ``out``, and remove their temporaries.

    A target another process is publishing at this moment is left to it.
    """
    desks = out / WORK / "folders"
    if not desks.is_dir() or any(p.is_symlink() for p in (out / WORK, desks)):
        return
    for desk in sorted(desks.iterdir()):
        if not desk.is_symlink() and desk.is_dir():
            with contextlib.suppress(BusyError), held(desk / "lock", 0.0):
                _clear(desk, out / desk.name)


def strangers(folder: Path) -> tuple[str, ...]:
    """Return the files in ``folder`` that its manifest does not list, sorted, as relative paths.

    Symbolic links and anything else that is not a plain file are strangers too: this program writes none.

    Raises
    ------
    ForeignFolderError
        If there is no manifest of ours.
    """
    listed = _listed(folder)
    found = ((path.relative_to(folder).as_posix(), plain) for path, plain in _walk(folder))
    return tuple(sorted(name for name, plain in found if not (plain and name in listed)))


def _refuse_unsafe(files: dict[str, bytes]) -> None:
    for name in files:
        path = PurePosixPath(name)
        unsafe = path.is_absolute() or ".." in path.parts or str(path) != name or not path.parts
        if unsafe or any(ord(c) < 32 or c in '\\:*?"<>|' for c in name):
            raise ValueError(f"unsafe path in an export: {name!r}")
    if len({name.casefold() for name in files}) < len(files):
        raise ValueError("two files of an export differ only in upper and lower case")


def _desk(work: Path, target: Path) -> Path:
    """Return the target's desk, made where missing; links on the way are refused, except in the user's own path."""
    work.parent.mkdir(parents=True, exist_ok=True)
    desk = work / "folders" / target.name
    for folder in (work, work / "folders", desk):
        with contextlib.suppress(FileExistsError):
            folder.mkdir()
        if not stat.S_ISDIR(folder.lstat().st_mode):
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))
    return desk


@contextlib.contextmanager
def _holding(desk: Path, target: Path, wait_seconds: float) -> Iterator[None]:
    try:
        with held(desk / "lock", wait_seconds):
            yield
    except BusyError:
        raise BusyError(f"{target}: another build is writing it; nothing was replaced: try again") from None


def _refuse_foreign(folder: Path, target: Path) -> None:
    if not stat.S_ISDIR(folder.lstat().st_mode):
        raise ForeignFolderError(target, "not a folder this program wrote")
    if files := strangers(folder):
        raise ForeignFolderError(target, "holds files this program did not write", files)


def _put_back_if_foreign(tray: Path, target: Path) -> None:
    """Give the target back when somebody put a file into it between the look and the exchange."""
    if not _exists(tray / "old"):
        return
    try:
        _refuse_foreign(tray / "old", target)
    except BaseException:
        _swap(tray / "old", tray / "new", target)
        raise


def _listed(folder: Path) -> frozenset[str]:
    path = folder / MANIFEST
    try:
        if not stat.S_ISREG(path.lstat().st_mode) or path.stat().st_size > MAX_MANIFEST_BYTES:
            raise ValueError
        manifest = json.loads(path.read_bytes())
        files = manifest["files"]
        if not isinstance(manifest["scene_sha256"], str) or not isinstance(files, dict):
            raise ValueError
    except (FileNotFoundError, ValueError, KeyError, TypeError, RecursionError):
        names = tuple(sorted(p.relative_to(folder).as_posix() for p, _ in _walk(folder)))
        raise ForeignFolderError(folder, f"has no {MANIFEST} of this program", names) from None
    return frozenset({MANIFEST, *files})


def _walk(folder: Path) -> Iterator[tuple[Path, bool]]:
    """Yield everything below that is not a folder, links not followed, and whether it is a plain file."""
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                yield from _walk(Path(entry.path))
            elif entry.name not in LEFT_BY_FILE_VIEWERS:
                yield Path(entry.path), entry.is_file(follow_symlinks=False)


def _write(files: dict[str, bytes], new: Path) -> None:
    new.mkdir()
    folders = {new}
    for name, content in sorted(files.items()):
        path = new / name
        path.parent.mkdir(parents=True, exist_ok=True)
        folders.update(p for p in path.parents if new in p.parents)
        with path.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    for folder in folders:
        _sync_folder(folder)
    if unlisted := strangers(new):
        raise ValueError(f"files of an export missing from its manifest: {', '.join(unlisted)}")


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _swap(new: Path, old: Path, target: Path) -> None:
    """Put ``new`` at the target; what stood there ends as ``old``."""
    if not _exists(target):
        new.rename(target)
    elif _exchange(new, target):
        new.rename(old)
    else:
        target.rename(old)
        new.rename(target)


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; return False where the system or file system cannot.

    Source: renameat2(2), Linux 3.15, glibc 2.28.
    """
    if sys.platform != "linux":
        return False
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if call is None:
        return False
    if call(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    error = ctypes.get_errno()
    if error in _NOT_SUPPORTED:
        return False
    raise OSError(error, os.strerror(error), str(other))


def _clear(desk: Path, target: Path) -> None:
    for tray in sorted(desk.iterdir()):
        if tray.is_dir() and not tray.is_symlink():
            _settle(tray, target)


def _settle(tray: Path, target: Path) -> None:
    """Give the target back what stood there if it is now missing, and remove the tray."""
    if _exists(tray / "old") and not _exists(target):
        (tray / "old").rename(target)
    shutil.rmtree(tray, ignore_errors=True)


def _exists(path: Path) -> bool:
    return os.path.lexists(path)
