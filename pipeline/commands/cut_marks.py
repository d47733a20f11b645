"""Parts marked as cut: their outlines as they were when the blade went round, kept beside the export folders.

They stand in ``<out>/.foreshorten/cut/<stem>/<part>.json``, each with the manifest's entry and the drawing or mesh, so
that they outlive every rebuild of the folder itself.
"""

from __future__ import annotations

import base64
import json
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.disk_words import unread, unwritten
from pipeline.commands.model import InputError
from pipeline.commands.plain_files import read_plain, write_over
from pipeline.folder import WORK

if TYPE_CHECKING:
    from pipeline.commands.attempts import Attempt
    from pipeline.report.comparing import Version

CUT = "cut"
FORMAT = 1
MOST_BYTES = 1024 * 2**20


def marks_folder(export: Path) -> Path:
    """Return where the marks of an export folder are kept."""
    whole = export.resolve()
    return whole.parent / WORK / CUT / whole.name


def marked(export: Path) -> dict[str, Version]:
    """Return the parts marked as cut, by id, as they were then.

    Raises
    ------
    InputError
        If a mark cannot be read.
    """
    from pipeline.report.comparing import Version

    folder = marks_folder(export)
    if not folder.is_dir():
        return {}
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".json")
    except OSError as error:
        raise InputError(*unread(folder, str(folder), "the marks of parts cut", error)) from None
    found = {}
    for path in paths:
        data = read_plain(path, MOST_BYTES, shown=str(path), wanted="the mark of a part cut", larger="too large")
        try:
            mark = json.loads(data)
            if mark["format"] != FORMAT or mark["entry"]["id"] != path.stem:
                raise ValueError
            found[path.stem] = Version(entry=mark["entry"], data=base64.b64decode(mark["data"], validate=True))
        except (ValueError, KeyError, TypeError, RecursionError):
            raise InputError(f"{path}: not the mark of a part cut; delete it to forget that part") from None
    return found


def held_against_cut(attempt: Attempt, out: Path) -> Attempt:
    """Return what was written with what became of the parts marked as cut; nothing is read where none are."""
    if attempt.build is None or attempt.folder is None or not marks_folder(out / attempt.scene.stem).is_dir():
        return attempt
    from pipeline.commands.compare import describe, entry
    from pipeline.report.comparing import compare, versions

    try:
        kept = marked(attempt.folder)
        new = versions(attempt.build.manifest, attempt.build.files.__getitem__)
        found = [one for one in compare(kept, new, cut=frozenset(kept)) if one.id in kept]
    except (InputError, ValueError) as error:  # the folder stands all the same
        return replace(attempt, errors=(*attempt.errors, f"foreshorten: {error}"))
    lines = (f"  {one.verdict}: {describe(one)}" for one in found)
    return replace(attempt, as_cut=tuple(map(entry, found)), as_cut_lines=tuple(lines))


def mark(export: Path, parts: dict[str, Version]) -> None:
    """Keep parts as cut, over what was kept of them.

    Raises
    ------
    InputError
        If the disk does not let us.
    """
    folder = marks_folder(export)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(*unwritten(folder, error)) from None
    for name, version in parts.items():
        content = {
            "format": FORMAT,
            "entry": dict(version.entry),
            "data": base64.b64encode(version.data).decode(),
        }
        write_over(folder / f"{name}.json", json.dumps(content, sort_keys=True).encode())


def forget(export: Path, names: list[str]) -> None:
    """Forget that parts were cut.

    Raises
    ------
    InputError
        If the disk does not let us.
    """
    folder = marks_folder(export)
    try:
        for name in names:
            (folder / f"{name}.json").unlink(missing_ok=True)
    except OSError as error:
        raise InputError(*unwritten(folder, error)) from None
    with suppress(OSError):  # not empty: others are still marked
        folder.rmdir()
