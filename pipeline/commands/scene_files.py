"""Scene files named on the command line, read with care: anything may stand there."""

from __future__ import annotations

import argparse
import re
from dataclasses import dataclass
from pathlib import Path
from unicodedata import normalize

from pipeline.commands.model import InputError
from pipeline.commands.plain_files import read_plain

_DEVICE_NAMES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
"""Windows, *Naming Files, Paths, and Namespaces*: reserved with any extension."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneFile:
    """One scene to build.

    Attributes
    ----------
    path
        Where its file is, as the user wrote it.
    stem
        Name of its export folder.
    allow_outside
        Whether the files it names may lie outside its own folder.
    settings
        Keys and values set over the file's own, after those of the whole command: one of a sweep.
    """

    path: Path
    stem: str
    allow_outside: bool = False
    settings: tuple[tuple[str, str], ...] = ()


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what every command on scene files takes."""
    parser.add_argument("scenes", metavar="SCENE", nargs="+", type=Path, help="scene file (.toml)")
    add_settings(parser, "one key, as in --set eye.distance=380")
    add_allowance(parser)
    parser.add_argument("--jobs", metavar="N", type=job_count, default=1, help="scenes built at once (default: 1)")
    parser.add_argument("--json", action="store_true", help="write one JSON document to stdout instead of text")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors (and JSON, where asked for)")


def add_settings(parser: argparse.ArgumentParser, what: str) -> None:
    """Take values set over a scene's own; ``what`` says of which key, in words."""
    parser.add_argument(
        "--set",
        metavar="KEY=VALUE",
        dest="overrides",
        action="append",
        default=[],
        type=override,
        help=f"use another value for {what}; may be repeated",
    )


def add_allowance(parser: argparse.ArgumentParser) -> None:
    """Take leave to read meshes elsewhere."""
    parser.add_argument(
        "--allow-outside", action="store_true", help="read mesh files outside the scene file's folder too"
    )


def override(text: str) -> tuple[str, str]:
    """Return the key and the value of ``KEY=VALUE``."""
    key, equals, value = text.partition("=")
    if not (key.strip() and equals):
        raise argparse.ArgumentTypeError(f"{text!r} is not KEY=VALUE, as in eye.distance=380")
    return key.strip(), value.strip()


def job_count(text: str) -> int:
    """Return a whole number from 1 to 256."""
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= 256):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 256, as in 4")
    return int(text)


def scene_files(paths: list[Path], allow_outside: bool = False) -> list[SceneFile]:
    """Return the scenes, each with the stem its export folder is named by.

    Raises
    ------
    InputError
        If a stem makes no safe folder name, or two are the same where upper and lower case are one.
    """
    scenes = [SceneFile(path=path, stem=safe_stem(path), allow_outside=allow_outside) for path in paths]
    seen: dict[str, Path] = {}
    for scene in scenes:
        alike = normalize(
            "NFC", scene.stem.casefold()
        )  # some systems hold composed and decomposed letters for the same
        other = seen.setdefault(alike, scene.path)
        if other is not scene.path:
            raise InputError(f"{other} and {scene.path} would be written to the same folder: rename one of them")
    return scenes


def safe_stem(path: Path) -> str:
    """Return the path's stem if it can name a folder on every system.

    Raises
    ------
    InputError
        If it cannot.
    """
    stem = path.stem
    unsafe = any(not c.isprintable() or c in '\\/:*?"<>|' for c in stem) or stem != stem.strip(" .")
    if unsafe or not stem or _DEVICE_NAMES.fullmatch(stem) or len(stem.encode(errors="replace")) > 200:
        raise InputError(
            f"{str(path)!r}: {stem!r} makes no safe folder name: use letters, digits, spaces, hyphens and underscores"
        )
    return stem


def read_bytes(path: Path) -> bytes:
    """Return a scene file's bytes.

    Raises
    ------
    InputError
        If it is missing, no plain file, unreadable, or larger than a scene file may be; no more than that is ever read.
    """
    from pipeline.scene.limits import MOST_BYTES

    larger = f"more than {MOST_BYTES:,} bytes; a scene file is far smaller"
    return read_plain(path, MOST_BYTES, shown=str(path), wanted="a scene file", larger=larger)
