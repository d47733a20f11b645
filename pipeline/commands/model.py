"""What a command is, how it refuses, and what it may return."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from pipeline.commands.loading import COMPILED
from pipeline.commands.terminal import Terminal


class Exit(IntEnum):
    """Exit codes. Of several scenes the highest counts."""

    DONE = 0
    CHECK_FAILED = 1
    INPUT = 2
    """The scene, an argument or the folder to write to is at fault; nothing was written."""
    FAULT = 3
    """A mistake in the program, worth reporting."""
    INTERRUPTED = 130


class InputError(Exception):
    """The command cannot do what was asked; the text is all the user needs.

    Attributes
    ----------
    said, remedy
        What is wrong, and what to do next; the latter empty where ``said`` ends in it.
    """

    def __init__(self, said: str, remedy: str = "") -> None:
        super().__init__(f"{said}; {remedy}" if remedy else said)
        self.said = said
        self.remedy = remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One command: everything heavy is imported inside ``run``, so that ``--help`` stays quick."""

    name: str
    summary: str
    add_arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace, Terminal], Exit]
    compiled: tuple[str, ...] = COMPILED
    """Compiled packages that it needs."""
