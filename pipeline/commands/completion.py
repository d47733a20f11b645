"""``foreshorten completion``: what a shell needs to complete commands, options and files."""

from __future__ import annotations

import argparse

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

    terminal.result(shtab.complete(arguments.parser(), arguments.shell).rstrip("\n"))
    return Exit.DONE


COMMAND = Command(
    name="completion",
    summary="write what a shell needs to complete commands and options",
    add_arguments=add_arguments,
    run=run,
)
