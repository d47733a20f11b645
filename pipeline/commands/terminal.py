"""The two streams a user sees: results on stdout, messages on stderr."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from io import TextIOWrapper
from typing import TextIO, TypeVar

from pipeline.commands.waiting import Waiting, bar
from pipeline.scene.values import visible

Item = TypeVar("Item")


class OutputError(Exception):
    """Results cannot be written where stdout leads, as to a full disk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminal:
    """Writes plain text; a reader that went away (``| head``) is no error, any other refusal an ``OutputError``.

    Attributes
    ----------
    quiet
        Leaves out messages that only inform.
    """

    quiet: bool = False

    def result(self, text: str) -> None:
        """Write what the command was asked for."""
        _write(sys.stdout, text)

    def message(self, text: str) -> None:
        """Write what is good to know."""
        if not self.quiet:
            _tell(text)

    def error(self, text: str) -> None:
        """Write what went wrong."""
        _tell(f"foreshorten: {text}")

    def problem(self, text: str) -> None:
        """Write what is wrong at a place of a file, in the form editors jump to: ``file:line:column: text``."""
        _tell(visible(text))

    def fault(self, fault: BaseException) -> None:
        """Write that the program itself failed."""
        self.error(f"{fault_text(fault)}; FORESHORTEN_TRACEBACK=1 shows where")

    def flush(self) -> None:
        """Hand everything on now, so that a full disk is noticed while it can still be said."""
        with _refusals(sys.stdout):
            sys.stdout.flush()

    def can_ask(self) -> bool:
        """Return whether somebody is there to answer."""
        return _is_terminal(sys.stdin) and _is_terminal(sys.stderr)

    def ask(self, question: str) -> str | None:
        """Return the answer to a question, or nothing where there are no more answers."""
        _write(sys.stderr, question, end="")
        with _refusals(sys.stderr):
            sys.stderr.flush()
        answer = sys.stdin.readline()
        return answer or None

    def progress(self, items: Iterable[Item], total: int, doing: str, waiting: Waiting | None = None) -> Iterator[Item]:
        """Yield the items, with a bar on a terminal while each is waited for, and nothing elsewhere."""
        if self.quiet or not _is_terminal(sys.stderr):
            yield from items
            return
        coming = iter(items)
        for number in range(1, total + 1):
            with bar(doing, number, total, waiting or Waiting()):
                item = next(coming)
            yield item


def fault_text(fault: BaseException) -> str:
    """Return one line on an exception nobody foresaw."""
    said = " ".join(str(fault).split())
    return f"a fault of the program: {type(fault).__name__}" + (f": {said}" if said else "")


def _is_terminal(stream: TextIO) -> bool:
    return stream.isatty() and os.environ.get("TERM", "dumb") != "dumb"


def _tell(text: str) -> None:
    """Write to stderr; where even that is refused there is nobody left to tell."""
    with suppress(OutputError):
        _write(sys.stderr, text)


def _write(stream: TextIO, text: str, end: str = "\n") -> None:
    if isinstance(stream, TextIOWrapper) and stream.errors == "strict":
        stream.reconfigure(errors="backslashreplace")
    lines = [visible(line) for line in text.split("\n")]  # names come from files, and a terminal obeys what it is sent
    with _refusals(stream):
        stream.write("\n".join(lines) + end)


@contextmanager
def _refusals(stream: TextIO) -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        _drop(stream)
    except OSError as error:
        _drop(stream)
        said = f"{stream.name.strip('<>')}: {(error.strerror or str(error)).lower()}"
        raise OutputError(f"{said}; send it elsewhere, or make room there") from None


def _drop(stream: TextIO) -> None:
    """Point the stream at nothing, so that Python's own flush at exit stays silent too."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, stream.fileno())
    os.close(nothing)
