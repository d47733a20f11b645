"""Packages that must be loaded at one go."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from types import FrameType

COMPILED = ("numpy", "pydantic", "shapely", "manifold3d")


def load_compiled(packages: Sequence[str]) -> None:
    """Load compiled packages, Ctrl-C held back until they all are.

    As they are loaded they call Python, and not one answers an interruption there: manifold3d ends the process by
    ``std::terminate``, pydantic panics, and numpy and shapely take it for a package that is damaged.
    """
    with interruption_after():
        for package in packages:
            import_module(package)


@contextmanager
def interruption_after() -> Iterator[None]:
    """Let Ctrl-C wait until the end of the block; elsewhere than in the main thread none comes."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        came.append(number)

    before = signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)
    if came:
        signal.raise_signal(signal.SIGINT)
