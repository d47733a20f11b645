"""The command line: which command, and what exit code. The commands themselves stand in ``pipeline.commands``."""

from __future__ import annotations

import argparse
import errno
import gc
import os
import sys
from collections.abc import Sequence

from pipeline.commands import COMMANDS
from pipeline.commands.loading import load_compiled
from pipeline.commands.model import Exit, InputError
from pipeline.commands.terminal import OutputError, Terminal
from pipeline.commands.usage import Parser

EPILOG = """exit codes: 0 built and no check failed; 1 built but a check failed; 2 the input is wrong, nothing written;
3 a fault of the program; 130 interrupted"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; usage errors leave through argparse, with code 2."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # looking for them takes longer than a scene's reading
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # points are three numbers: its threads only wait for another
    gc.set_threshold(100_000, 20, 100)  # shapes hold no cycles, and looking for some takes a twentieth of the time
    terminal = Terminal()
    try:
        if any("\0" in word for word in arguments or ()):  # from a script; a shell cannot pass one on
            raise InputError("an argument holds a zero byte", "leave it out: no name and no value has one")
        given, extra = parser().parse_known_args(arguments)
        if extra:
            given.own.unknown(extra)
        terminal = Terminal(quiet=getattr(given, "quiet", False))
        load_compiled(given.compiled)
        code = given.run(given, terminal)
        terminal.flush()
    except (InputError, OutputError) as refusal:
        terminal.error(str(refusal))
        code = Exit.INPUT
    except KeyboardInterrupt:
        terminal.error("interrupted")
        code = Exit.INTERRUPTED
    except OSError as fault:
        # Python's own questions, as whether a file is there, are refused too where its name is no name here.
        code = _too_long(fault, terminal) if fault.errno == errno.ENAMETOOLONG else _fault(fault, terminal)
    except Exception as fault:
        code = _fault(fault, terminal)
    return int(code)


def _too_long(fault: OSError, terminal: Terminal) -> Exit:
    from pipeline.commands.disk_words import reason

    terminal.error(f"{str(fault.filename)[:60]}...: {reason(fault)}: give it a shorter name")
    return Exit.INPUT


def _fault(fault: Exception, terminal: Terminal) -> Exit:
    if os.environ.get("FORESHORTEN_TRACEBACK"):
        raise_to_hook(fault)
    terminal.fault(fault)
    return Exit.FAULT


def raise_to_hook(fault: Exception) -> None:
    """Show a traceback as Python itself would."""
    sys.excepthook(type(fault), fault, fault.__traceback__)


def parser() -> Parser:
    """Return the parser of every command in the table."""
    top = Parser(
        prog="foreshorten",
        description="False-perspective rooms for shallow boxes: one scene file in, panels, prints, guides, checks out.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    top.add_argument("--version", action=Version, nargs=0, help="show the version and exit")
    commands = top.add_subparsers(metavar="COMMAND", required=True, parser_class=Mixed)
    for command in COMMANDS:
        own = commands.add_parser(command.name, help=command.summary, description=command.summary, allow_abbrev=False)
        command.add_arguments(own)
        own.set_defaults(run=command.run, compiled=command.compiled, parser=parser, own=own)
    return top


class Mixed(Parser):
    """Takes options between and before the names of files and parts too, as in ``cut FOLDER --forget PART``."""

    _within = False

    def parse_known_args(self, args=None, namespace=None):  # type: ignore[no-untyped-def]
        """Parse options first and what is left after them; past ``--`` there are none, and the order is as written."""
        if self._within or "--" in (args or ()):
            return super().parse_known_args(args, namespace)
        self._within = True
        try:
            return self.parse_known_intermixed_args(args, namespace)
        finally:
            self._within = False


class Version(argparse.Action):
    """Looks the version up only when asked: reading package metadata costs as much as all the rest of ``--help``."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        """Print and leave."""
        from importlib.metadata import version

        print(f"foreshorten {version('foreshorten')}")
        parser.exit()


if __name__ == "__main__":
    raise SystemExit(main())
