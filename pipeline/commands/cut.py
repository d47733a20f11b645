"""``foreshorten cut``: remember which parts lie on the bench, as they were when they were cut."""

from __future__ import annotations

import argparse
from collections.abc import Collection
from pathlib import Path

from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take an export folder and parts of it."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="export folder, as exports/cistern")
    parser.add_argument(
        "parts",
        metavar="PART",
        nargs="*",
        default=[],
        help="ids of parts, or of a net for its panels; none lists what is marked",
    )
    parser.add_argument("--all", action="store_true", help="every part of the folder")
    parser.add_argument("--forget", action="store_true", help="forget that they were cut")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors")


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Mark parts as cut, forget them, or list them."""
    from pipeline.commands.built_folders import built_folder
    from pipeline.commands.cut_marks import forget, mark, marked

    kept = marked(arguments.folder)
    if not arguments.parts and not arguments.all:
        if arguments.forget:
            raise InputError("--forget: which parts? Name them, or say --all")
        built_folder(arguments.folder)
        for name in kept:
            terminal.result(name)
        return Exit.DONE
    if arguments.forget:
        names = list(kept) if arguments.all else _named(arguments, kept)
        _refuse_unknown(names, list(kept), f"{arguments.folder}: not marked as cut")
        forget(arguments.folder, names)
        lines = [f"{name}: forgotten" for name in names]
    else:
        parts = built_folder(arguments.folder).versions()
        names = list(parts) if arguments.all else _named(arguments, parts)
        _refuse_unknown(names, list(parts), f"{arguments.folder}: no such part")
        mark(arguments.folder, {name: parts[name] for name in names})
        lines = [f"{name}: {'marked as cut again' if name in kept else 'marked as cut'}" for name in names]
    if not terminal.quiet:
        for line in lines:
            terminal.result(line)
    return Exit.DONE


def _named(arguments: argparse.Namespace, known: Collection[str]) -> list[str]:
    """Return the parts that are named, once each; a net stands for its panels, which are cut in one piece."""
    from pipeline.commands.built_folders import built_folder

    names = list(dict.fromkeys(arguments.parts))
    if all(name in known for name in names):
        return names
    nets = built_folder(arguments.folder).nets()
    return list(dict.fromkeys(part for name in names for part in nets.get(name, [name])))


def _refuse_unknown(names: list[str], known: list[str], what: str) -> None:
    from pipeline.scene.nearest import nearest

    said = []
    for name in names:
        if name not in known:
            near = nearest(name, known)
            hint = f"did you mean {near}?" if near else f"there are {', '.join(known) or 'none'}"
            said.append(f"{what}: {name!r}; {hint}")
    if said:
        raise InputError("\n".join(said))


COMMAND = Command(
    name="cut",
    summary="remember parts as cut, so that every later build is held against what lies on the bench",
    add_arguments=add_arguments,
    run=run,
)
