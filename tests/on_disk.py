"""What a folder holds."""

from __future__ import annotations

from pathlib import Path

Files = dict[str, bytes]


def files_in(folder: Path) -> Files:
    """Return every file below a folder by its path in it; nothing where there is no folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
