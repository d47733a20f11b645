"""What a refusing disk means, in words, and what to do about it."""

from __future__ import annotations

import errno
from pathlib import Path

KINDS = {"a scene file": (".toml",), "a mesh file": (".stl", ".obj", ".ply", ".glb")}
"""Endings of what may be wanted."""
BEGIN = "write one: foreshorten begin NAME"
MOST_NAMED = 3
_MOST_LOOKED_AT = 500


def unwritten(path: Path, error: OSError) -> tuple[str, str]:
    """Return what is said of a file or folder that cannot be written, and what to do."""
    said = f"{path}: cannot be written: {reason(error)}"
    folder = path.parent
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    remedies = {
        errno.ENOENT: f"make the folder {path.parent} first, or name another",
        errno.EEXIST: f"move {folder if not folder.is_dir() else path} away, or name another place",
        errno.ENOTDIR: f"{folder} is a file: move it away, or name another place",
        errno.ENOSPC: "make room on the disk, or name another place",
        errno.ENAMETOOLONG: "give it a shorter name",
    }
    return said, remedies.get(error.errno or 0, "name a place you may write to, or change its permissions")


def unread(path: Path, shown: str, wanted: str, error: OSError) -> tuple[str, str]:
    """Return what is said of a file that cannot be read, and what to do."""
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return f"{shown}: no such file", meant(path, shown, wanted)
    if error.errno == errno.ENAMETOOLONG:
        return f"{shown[:60]}...: {reason(error)}", f"name {wanted}"
    return f"{shown}: {reason(error)}", "change its permissions, or copy it to where you may read it"


def meant(path: Path, shown: str, wanted: str) -> str:
    """Return which file was most likely meant, or what there is, or how to come by one."""
    from pipeline.scene.nearest import nearest

    near = _like_it(path, wanted)
    begins = str(path) == shown
    folder = path.parent

    def name(stem_and_ending: str) -> str:
        return str(folder / stem_and_ending) if begins else stem_and_ending

    stems = {Path(one).stem: one for one in near}
    guess = stems.get(path.name) or stems.get(path.stem) or stems.get(nearest(path.stem, stems) or "")
    if guess is not None:
        return f"did you mean {name(guess)}?"
    below = next(iter(sorted(folder.glob(f"*/{path.name}"))), None) if begins and folder.is_dir() else None
    if below is not None:
        return f"did you mean {below}?"
    if near:
        return f"there is {', '.join(name(one) for one in near[:MOST_NAMED])}{', ...' if near[MOST_NAMED:] else ''}"
    return BEGIN if wanted == "a scene file" else "put it there, or mend the name"


def inside(folder: Path, shown: str, wanted: str) -> str:
    """Return what a folder holds of the kind that is wanted, named where a file should be."""
    held = _like_it(folder / "x", wanted)
    return f"name the file itself, such as {Path(shown) / held[0]}" if held else f"name {wanted}"


def reason(error: OSError) -> str:
    """Return the system's own words."""
    return (error.strerror or str(error)).lower()


def _like_it(path: Path, wanted: str) -> list[str]:
    try:
        found = [one.name for one, _ in zip(sorted(path.parent.iterdir()), range(_MOST_LOOKED_AT), strict=False)]
    except OSError:
        return []
    return [one for one in found if Path(one).suffix.lower() in KINDS.get(wanted, ())]
