"""Disks that are full after so many bytes or files, and folders that may not be written: real ones."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.building import ROOT, Bench, Running
from tests.faults.looking import BrokenError, clean, whole

PAGE = 4096
"""Bytes a tmpfs gives a file at a time."""
AMPLE = 64 * 2**20


class UnableError(Exception):
    """This machine lets nobody do that here."""


@dataclass(slots=True, kw_only=True)
class Refusals:
    """What became of builds that the disk refused.

    Attributes
    ----------
    codes, found
        How often each exit code came, and the old folder or the new one.
    words
        What was said, without paths.
    skipped
        What could not be tried here, and why.
    broken
        What must not be, and was.
    """

    codes: Counter[int] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    words: Counter[str] = field(default_factory=Counter)
    skipped: list[str] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)


def refused(bench: Bench, count: int, seed: str) -> Refusals:
    """Build on disks that are full at moments drawn by chance, and into folders that may not be written."""
    told, draw = Refusals(), random.Random(f"refused {seed}")
    for number in range(count):
        share = draw.uniform(0.0, 1.1)
        _tried(bench, told, f"full at {share:.3f}, {number}", lambda share=share: _tmpfs(bench, share))  # type: ignore[misc]
        most = int(draw.uniform(0, 1.1 * max(map(len, bench.versions["far"].values()))))
        _tried(bench, told, f"files of {most}", lambda: _nothing(bench), lambda most=most: _small_files(most))  # type: ignore[misc]
    for name, how in READ_ONLY.items():
        _tried(bench, told, name, lambda how=how: how(bench))  # type: ignore[misc]
    for name, of in AS_OTHERS.items():
        _tried(bench, told, name, lambda of=of: _unwritable(of(bench), bench), _other_user)  # type: ignore[misc]
    return told


@contextmanager
def _nothing(bench: Bench) -> Iterator[None]:
    yield


def _tried(
    bench: Bench, told: Refusals, name: str, around: Callable[[], object], before: Callable[[], None] = lambda: None
) -> None:
    """Build in peace by one eye, then by the other where it may be refused, look, and build again in peace."""
    try:
        bench.warm()
        _in_peace(bench, "far")
        with around():  # type: ignore[attr-defined]
            code, said = Running.forked(bench, bench.arguments("near"), before).ended()
            found = whole(bench.room, bench.versions)
            _judge(code, said, found)
        told.found["old" if found == "far" else "new"] += 1
        told.codes[code] += 1
        told.words[" ".join(word for word in said.split() if "/" not in word)] += 1
        if whole(bench.room, bench.versions) != found:
            raise BrokenError("the folder is another now")
        if code == 2:
            _no_trays(bench)
        _in_peace(bench, "near")
        clean(bench.folder)
    except UnableError as unable:
        told.skipped.append(f"{name}: {unable}")
    except BrokenError as broken:
        told.broken.append(f"{name}: {broken}")
        shutil.rmtree(bench.out, ignore_errors=True)


def _in_peace(bench: Bench, eye: str) -> None:
    ended = Running.forked(bench, bench.arguments(eye)).ended()
    if ended != (0, "") or whole(bench.room, bench.versions) != eye:
        raise BrokenError(f"a build in peace: {ended}")


def _judge(code: int, said: str, found: str) -> None:
    """Hold a build to done and new, or refused in one line with the old folder standing."""
    if (code, said, found) == (0, "", "near"):
        return
    lines = said.splitlines()
    if code != 2 or found != "far" or len(lines) != 1 or "cannot be written: " not in said:
        raise BrokenError(f"it ended with {code}, the folder is by the {found} eye, and it said {said!r}")


def _no_trays(bench: Bench) -> None:
    trays = [path.name for path in bench.out.glob(".foreshorten/folders/*/*") if path.is_dir()]
    if trays:
        raise BrokenError(f"trays left: {trays}")


@contextmanager
def _tmpfs(bench: Bench, share: float) -> Iterator[None]:
    """Put the exports on a disk in memory with room for a share of what a build writes."""
    here = {path: path.read_bytes() for path in bench.out.rglob("*") if path.is_file()}
    aside = bench.folder.with_name("aside")
    _mounted(["mount", "-t", "tmpfs", "-o", f"size={AMPLE}", "none", str(bench.out)])
    try:
        for path, content in here.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        taken = os.statvfs(bench.out)
        used = (taken.f_blocks - taken.f_bfree) * taken.f_frsize
        pages = sum(-(-len(content) // PAGE) for content in bench.versions["near"].values())
        room = used + int(share * pages) * PAGE
        subprocess.run(["mount", "-o", f"remount,size={room}", str(bench.out)], check=True)
        yield
        subprocess.run(["mount", "-o", f"remount,size={AMPLE}", str(bench.out)], check=True)
        shutil.copytree(bench.out, aside)
    finally:
        subprocess.run(["umount", str(bench.out)], check=True)
    shutil.rmtree(bench.out)
    aside.rename(bench.out)


def _small_files(most: int) -> None:
    """Let no file grow beyond so many bytes, for this process."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


@contextmanager
def _bound(folder: Path) -> Iterator[None]:
    """Mount a folder over itself, so that it may only be read."""
    _mounted(["mount", "--bind", str(folder), str(folder)])
    try:
        subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], check=True)
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@contextmanager
def _fixed(path: Path) -> Iterator[None]:
    """Have the file system refuse every change of a file or folder, whoever asks."""
    _mounted(["chattr", "+i", str(path)])
    try:
        yield
    finally:
        subprocess.run(["chattr", "-i", str(path)], check=True)


def _mounted(command: list[str]) -> None:
    try:
        run = subprocess.run(command, check=False, capture_output=True, text=True)
    except FileNotFoundError:
        raise UnableError(f"there is no {command[0]}") from None
    if run.returncode:
        raise UnableError(" ".join(run.stderr.split()))


READ_ONLY: dict[str, Callable[[Bench], object]] = {
    "read-only exports": lambda bench: _bound(bench.out),
    "read-only room": lambda bench: _bound(bench.room),
    "read-only work folder": lambda bench: _bound(bench.out / ".foreshorten"),
    "read-only kept": lambda bench: _bound(bench.pack.parent),
    "fixed exports": lambda bench: _fixed(bench.out),
    "fixed room": lambda bench: _fixed(bench.room),
    "fixed work folder": lambda bench: _fixed(bench.out / ".foreshorten"),
    "fixed desk": lambda bench: _fixed(bench.out / ".foreshorten" / "folders" / "room"),
    "fixed lock": lambda bench: _fixed(bench.out / ".foreshorten" / "folders" / "room" / "lock"),
    "fixed pack": lambda bench: _fixed(bench.pack),
}
AS_OTHERS: dict[str, Callable[[Bench], Path]] = {
    "another's exports": lambda bench: bench.out,
    "another's room": lambda bench: bench.room,
    "another's panels": lambda bench: bench.room / "panels",
    "another's desk": lambda bench: bench.out / ".foreshorten" / "folders" / "room",
    "another's kept": lambda bench: bench.pack.parent,
}
OTHER = 65534
OPEN = 0o005
"""A folder that everybody may read and enter."""


def _other_user() -> None:
    """Go on as a user to whom permissions apply."""
    os.setgroups([])
    os.setgid(OTHER)
    os.setuid(OTHER)


@contextmanager
def _unwritable(folder: Path, bench: Bench) -> Iterator[None]:
    """Give a bench to another user, but for one folder."""
    if os.geteuid() != 0:
        raise UnableError("only root becomes another user")
    if any(path.stat().st_mode & OPEN != OPEN for path in (ROOT, *ROOT.parents)):
        raise UnableError("another user cannot read the program where it lies")
    everything = [bench.folder, *bench.folder.rglob("*")]
    parents = [path for path in bench.folder.parents if path.stat().st_mode & OPEN != OPEN]
    modes = {path: path.stat().st_mode for path in parents}
    for path in parents:
        path.chmod(modes[path] | 0o055)
    for path in everything:
        if path != folder and folder not in path.parents:
            os.chown(path, OTHER, OTHER)
    try:
        yield
    finally:
        for path in [bench.folder, *bench.folder.rglob("*")]:
            with suppress(FileNotFoundError):
                os.chown(path, 0, 0)
        for path, mode in modes.items():
            path.chmod(mode)
