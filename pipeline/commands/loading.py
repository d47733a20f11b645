"""What must be loaded at one go."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


def load_solids() -> None:
    """Load manifold3d, Ctrl-C held back.

    It makes its enumerations by calling Python from C++ destructors, which may raise nothing: an interruption there
    ends the process by ``std::terminate``, with pages of words and a core dump.
    """
    with interruption_after():
        import manifold3d  # noqa: F401


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
