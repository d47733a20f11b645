"""What a build leaves for the next one, in one file for each scene: ``<out>/.foreshorten/kept/<stem>.kept``.

Terms
-----
pack
    The file: a line that says whose it is, an index in JSON, then the stored results one after another.
maker
    A digest of the program's own files and of the libraries it computes with; results of another maker do not count.

A pack that is damaged, foreign or of another maker is as good as none, and is replaced. It is written beside and moved
into place, so that two builds at once leave the one's or the other's; and nothing that goes wrong here stops a build.
"""

from __future__ import annotations

import json
import platform
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from hashlib import sha256
from importlib import metadata
from pathlib import Path

from pipeline.commands.plain_files import replace_file
from pipeline.keeping.kept import NOTHING_KEPT, Kept

FOLDER = "kept"
FIRST_LINE = b"foreshorten kept results 1\n"
MOST_BYTES = 256 * 2**20
"""A larger pack is not read and not written; the full demo's is a tenth of it."""

LIBRARIES = ("numpy", "shapely", "manifold3d", "pillow", "reportlab", "jinja2", "pydantic", "embreex")


class Pack:
    """A shelf that is read from one file, and saved as one.

    Parameters
    ----------
    file
        Where it lies, or is going to.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._data, self._index = _read(file)
        self._asked: dict[str, bytes] = {}
        self._new = False

    def get(self, key: bytes) -> bytes | None:
        """Return what an earlier process put under a key, if it is unharmed."""
        name = key.hex()
        if name in self._asked:
            return self._asked[name]
        entry = self._index.get(name)
        if entry is None:
            return None
        start, length, digest = entry
        value = self._data[start : start + length]
        if sha256(value).hexdigest() != digest:
            self._new = True
            return None
        self._asked[name] = value
        return value

    def put(self, key: bytes, value: bytes) -> None:
        """Keep bytes under a key."""
        self._asked[key.hex()] = value
        self._new = True

    def save(self) -> None:
        """Write what this process asked for, if any of it is new; a disk that refuses is left alone."""
        if not self._new or sum(map(len, self._asked.values())) > MOST_BYTES:
            return
        index, at = {}, 0
        for name, value in self._asked.items():
            index[name] = (at, len(value), sha256(value).hexdigest())
            at += len(value)
        head = json.dumps({"maker": maker(), "entries": index}, separators=(",", ":")).encode() + b"\n"
        with suppress(OSError):
            self._file.parent.mkdir(parents=True, exist_ok=True)
            replace_file(self._file, b"".join([FIRST_LINE, head, *self._asked.values()]))


def pack_of(work: Path, stem: str) -> Pack:
    """Return the pack of a scene; ``work`` is ``<out>/.foreshorten``."""
    return Pack(_file_of(work, stem))


def forget(work: Path, stems: Iterable[str]) -> None:
    """Take away what builds left of scenes, so that the next makes everything anew, and leaves that in its place."""
    for stem in stems:
        with suppress(OSError):
            _file_of(work, stem).unlink()


def _file_of(work: Path, stem: str) -> Path:
    return work / FOLDER / f"{stem}.kept"


@contextmanager
def keeping(work: Path | None, stem: str) -> Iterator[Kept]:
    """Give a build what earlier ones left, and leave what it made if it ends well; nothing of both without a folder."""
    if work is None:
        yield NOTHING_KEPT
        return
    pack = pack_of(work, stem)
    yield Kept(pack)
    pack.save()


def _read(file: Path) -> tuple[bytes, dict[str, tuple[int, int, str]]]:
    """Return the results of a pack, and where each lies; nothing of one that is not ours."""
    try:
        if file.is_symlink() or file.stat().st_size > MOST_BYTES:
            return b"", {}
        whole = file.read_bytes()
    except OSError:
        return b"", {}
    if not whole.startswith(FIRST_LINE):
        return b"", {}
    end = whole.find(b"\n", len(FIRST_LINE))
    try:
        head = json.loads(whole[len(FIRST_LINE) : end])
        if head["maker"] != maker():
            return b"", {}
        entries = {
            str(name): (int(at), int(length), str(digest)) for name, (at, length, digest) in head["entries"].items()
        }
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return b"", {}
    return whole[end + 1 :], entries


@cache
def maker() -> str:
    """Return what tells this program, as installed here, from any other that may compute otherwise."""
    hasher = sha256(f"{sys.version} {platform.machine()} {platform.system()}".encode())
    root = Path(__file__).parent.parent
    for file in sorted(path for path in root.rglob("*") if path.suffix in {".py", ".html", ".css"}):
        state = file.stat()
        hasher.update(f"{file.relative_to(root).as_posix()} {state.st_size} {state.st_mtime_ns};".encode())
    for name in LIBRARIES:
        with suppress(metadata.PackageNotFoundError):
            hasher.update(f"{name} {metadata.version(name)};".encode())
    return hasher.hexdigest()
