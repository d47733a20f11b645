"""Mesh files that a scene names, read with care: a scene file may come from anybody."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING

from pipeline.commands.model import InputError
from pipeline.commands.plain_files import read_plain

if TYPE_CHECKING:
    from pipeline.elements.problems import Problem
    from pipeline.scene.model import Scene

BESIDE = "a file beside the scene file, or in a folder below it"
OUTSIDE = "move it there, or say --allow-outside if you trust the scene"


def read_named(scene: Scene, folder: Path, allow_outside: bool) -> tuple[dict[str, bytes], list[Problem]]:
    """Return the mesh files a scene names, by the name it uses, and what is wrong with the others.

    Parameters
    ----------
    folder
        The scene file's, from where names are told.
    allow_outside
        Whether names may lead out of it.
    """
    from pipeline.elements.problems import Problem
    from pipeline.meshfiles import MOST_BYTES

    files: dict[str, bytes] = {}
    problems = []
    left = MOST_BYTES
    named = [(table.file, ("meshes", number, "file")) for number, table in enumerate(scene.meshes)]
    named += [(one.mesh, ("figures", number, "mesh")) for number, one in enumerate(scene.figures) if one.mesh]
    for name, key in named:
        if name in files:
            continue
        try:
            path = folder / name if allow_outside else inside(folder, name)
            files[name] = read_mesh(path, left)
            left -= len(files[name])
        except InputError as refusal:
            problems.append(Problem(path=key, found=refusal.said, allowed=BESIDE, remedy=refusal.remedy))
    return files, problems


def inside(folder: Path, name: str) -> Path:
    """Return the path of a file in a folder or below it, links followed.

    Raises
    ------
    InputError
        If the name, or a link on the way, leads out of the folder.
    """
    windows = PureWindowsPath(name)
    if windows.drive or windows.root or "\\" in name or ".." in PurePosixPath(name).parts:
        raise InputError(f"{name}: leads out of the scene file's folder, or could on some system", OUTSIDE)
    try:
        root = folder.resolve()
        path = (root / name).resolve()
    except (OSError, ValueError, RuntimeError):
        raise InputError(f"{name!r}: not a file name", "name a mesh file beside the scene") from None
    if not path.is_relative_to(root):
        raise InputError(f"{name}: is a link that leads out of the scene file's folder", OUTSIDE)
    return path


def read_mesh(path: Path, most: int) -> bytes:
    """Return a mesh file's bytes.

    Raises
    ------
    InputError
        If it is missing, no plain file, unreadable or larger than ``most`` bytes; no more than that is ever read.
    """
    larger = f"mesh files of one scene may have {most:,} bytes left; it has more"
    return read_plain(path, most, shown=path.name, wanted="a mesh file", larger=larger)
