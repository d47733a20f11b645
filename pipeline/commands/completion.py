"""``foreshorten completion``: what a shell needs to complete commands, options and files."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from pathlib import Path

from pipeline.commands.model import Command, Exit
from pipeline.commands.terminal import Terminal

SHELLS = ("bash", "zsh")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take the shell."""
    parser.add_argument("shell", choices=SHELLS, help="whose completion to write")
    parser.epilog = 'for bash: eval "$(foreshorten completion bash)", in ~/.bashrc to have it always'


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write the script to stdout."""
    import shtab

    parser = arguments.parser()
    for action in _actions(parser):
        if action.type is Path:  # elsewhere nothing would be completed, not even what the shell does by itself
            action.complete = shtab.DIRECTORY if action.metavar == "FOLDER" else shtab.FILE  # type: ignore[attr-defined]
    terminal.result(shtab.complete(parser, arguments.shell).rstrip("\n"))
    return Exit.DONE


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Yield every argument of a parser and of the commands below it."""
    for action in parser._actions:
        yield action
        if isinstance(action.choices, Mapping):
            for below in action.choices.values():
                yield from _actions(below)


COMMAND = Command(
    name="completion",
    summary="write what a shell needs to complete commands and options",
    add_arguments=add_arguments,
    run=run,
    compiled=(),
)
