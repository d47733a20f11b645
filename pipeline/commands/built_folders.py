"""Export folders read back, with care: anything may stand there."""

from __future__ import annotations

import hashlib
import json
import os
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from pipeline.commands.model import InputError
from pipeline.commands.plain_files import read_plain
from pipeline.folder import MANIFEST, MAX_MANIFEST_BYTES

if TYPE_CHECKING:
    from pipeline.report.comparing import Version

PART_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
"""What names files of ours; anything else could lead out of the folder."""
MOST_BYTES = 512 * 2**20
"""Of one drawing or mesh; ours stay far below."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BuiltFolder:
    """An export folder: where it is, and what its manifest says."""

    path: Path
    manifest: dict[str, Any]

    def read(self, name: str) -> bytes:
        """Return the bytes of a file the manifest lists, as it was built.

        Raises
        ------
        InputError
            If it is missing, or is no longer what was written.
        """
        safe = PurePosixPath(name)
        if safe.is_absolute() or ".." in safe.parts or name not in self.manifest["files"]:
            raise InputError(f"{self.path}: {name!r} is not among the files of its {MANIFEST}", "build the scene again")
        data = read_plain(
            self.path / name,
            MOST_BYTES,
            shown=str(self.path / name),
            wanted="a file of a build",
            larger="too large for a file of a build",
        )
        if hashlib.sha256(data).hexdigest() != self.manifest["files"][name]:
            raise InputError(f"{self.path / name}: was changed after it was built; build the scene again")
        return data

    def nets(self) -> dict[str, list[str]]:
        """Return the panels of every net by its id.

        Raises
        ------
        InputError
            If the manifest does not say them as ours do.
        """
        try:
            return {net["id"]: [part["id"] for part in net["parts"]] for net in self.manifest.get("nets", [])}
        except (KeyError, TypeError) as error:
            raise _not_ours(self.path, f"its {MANIFEST} lacks {error}") from None

    def versions(self) -> dict[str, Version]:
        """Return every part by id.

        Raises
        ------
        InputError
            If a file is missing, changed or unreadable.
        """
        from pipeline.report.comparing import versions

        try:
            return versions(self.manifest, self.read)
        except (KeyError, TypeError) as error:
            raise _not_ours(self.path, f"its {MANIFEST} lacks {error}") from None


def built_folder(path: Path) -> BuiltFolder:
    """Return an export folder.

    Raises
    ------
    InputError
        If it is none.
    """
    if not os.path.isdir(path):  # where Path.is_dir would raise: of a name that is none here, it says so too
        what = "is no folder" if os.path.exists(path) else "no such folder"
        raise InputError(f"{path}: {what}, and a built folder is needed", "foreshorten build SCENE makes one")
    if not (path / MANIFEST).exists():
        raise _not_ours(path, f"it has no {MANIFEST}")
    data = read_plain(
        path / MANIFEST, MAX_MANIFEST_BYTES, shown=str(path / MANIFEST), wanted="a manifest", larger="too large"
    )
    try:
        manifest = json.loads(data)
        parts, files = manifest["parts"], manifest["files"]
        ours = isinstance(manifest["scene_sha256"], str) and isinstance(parts, list) and isinstance(files, dict)
        ours = ours and all(PART_ID.fullmatch(part["id"]) and isinstance(part["files"], dict) for part in parts)
    except (ValueError, KeyError, TypeError, RecursionError):
        ours = False
    if not ours:
        raise _not_ours(path, f"its {MANIFEST} is not of this program")
    return BuiltFolder(path=path, manifest=manifest)


def _not_ours(path: Path, why: str) -> InputError:
    return InputError(f"{path}: not a folder this program built ({why}); name one like exports/cistern")
