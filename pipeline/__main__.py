"""``python -m pipeline``, and ``foreshorten``: the command line, which answers Ctrl-C from first import to end."""

from __future__ import annotations

import signal
import sys


def run() -> int:
    """Run the command line and return its exit code."""
    try:
        from pipeline.cli import main

        return main()
    except KeyboardInterrupt:  # while it was being loaded, or once more while the first was being answered
        sys.stderr.write("foreshorten: interrupted\n")
        return 130
    finally:
        # Compiling a text, as dataclasses do when a module is loaded, notes an interruption that came meanwhile, and
        # the interpreter would die of it in the end though it has been answered. Compiling another forgets it.
        exec("")
        # What is left is the interpreter's own end, which an exception would only litter with words.
        if signal.getsignal(signal.SIGINT) == signal.default_int_handler:
            signal.signal(signal.SIGINT, signal.SIG_DFL)


if __name__ == "__main__":
    raise SystemExit(run())
