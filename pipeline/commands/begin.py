"""``foreshorten begin``: a commented starter scene."""

from __future__ import annotations

import argparse
import re
import unicodedata
from pathlib import Path

from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.plain_files import write_new
from pipeline.commands.scene_files import safe_stem
from pipeline.commands.terminal import Terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take the new scene's name."""
    parser.add_argument("name", metavar="NAME", help="name of the scene, or a path ending in it")


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write ``NAME.toml``; never over a file that is there."""
    from pipeline.scene.starter import starter_scene

    path = scene_path(arguments.name)
    title = Path(arguments.name.removesuffix(".toml")).name
    try:
        write_new(path, starter_scene(title).encode())
    except FileExistsError:
        raise InputError(f"{path}: exists already and was left alone; choose another name") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {(error.strerror or str(error)).lower()}") from None
    terminal.result(str(path))
    terminal.message(f"next: foreshorten build {path}")
    return Exit.DONE


def scene_path(name: str) -> Path:
    """Return the path to write, its last part made a plain file name of letters, digits, hyphens and underscores.

    Raises
    ------
    InputError
        If nothing is left of the name, or what is left cannot name a file.
    """
    given = Path(name.removesuffix(".toml"))
    plain = unicodedata.normalize("NFKD", given.name).encode("ascii", "ignore").decode()
    safe = re.sub(r"[^A-Za-z0-9_]+", "-", plain).strip("-")[:100]
    if not safe:
        raise InputError(f"{name!r}: no letters or digits to name a file by")
    path = given.with_name(f"{safe}.toml")
    safe_stem(path)
    return path


COMMAND = Command(
    name="begin",
    summary="write a commented starter scene that builds as it is",
    add_arguments=add_arguments,
    run=run,
)
