"""Built scenes onto the disk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pipeline.commands.attempts import Attempt
from pipeline.commands.cut_marks import CUT
from pipeline.commands.disk_words import unwritten
from pipeline.commands.model import Exit, InputError
from pipeline.commands.pack import FOLDER as KEPT
from pipeline.commands.plain_files import clear_parts
from pipeline.folder import WAIT_SECONDS, WORK, ForeignFolderError, publish, recover
from pipeline.lock import BusyError


def recovered(out: Path) -> None:
    """Finish or undo what a killed run left in ``out``; do nothing where there is nothing.

    Raises
    ------
    InputError
        If the disk does not let us.
    """
    try:
        recover(out)
        for folder in (out, out / WORK / KEPT, *(out / WORK / CUT).glob("*/")):
            clear_parts(folder)
    except OSError as error:
        raise InputError(_disk_text(out, error)) from None


def published(attempt: Attempt, out: Path) -> Attempt:
    """Write what was built; where that is refused, return the attempt with exit code 2 and the reason."""
    if attempt.build is None:
        return attempt
    target = out / attempt.scene.stem
    try:
        publish(attempt.build.files, target, out / WORK, WAIT_SECONDS)
    except (ForeignFolderError, BusyError) as refusal:
        return _unwritten(attempt, str(refusal))
    except OSError as error:
        return _unwritten(attempt, _disk_text(target, error))
    return replace(attempt, folder=target)


def _unwritten(attempt: Attempt, reason: str) -> Attempt:
    return replace(attempt, build=None, exit=Exit.INPUT, errors=(f"foreshorten: {reason}",))


def _disk_text(target: Path, error: OSError) -> str:
    at = f" ({error.filename})" if error.filename and Path(str(error.filename)) != target else ""
    said, remedy = unwritten(target, error)
    return f"{said}{at}; nothing was replaced: {remedy}"
