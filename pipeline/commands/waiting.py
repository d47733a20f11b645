"""A bar on the terminal while something is waited for."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from pipeline.stages import STAGES

PATIENCE = 0.5
"""s; what takes less shows no bar."""


class Waiting:
    """What is waited for may tell here what it does, for whoever shows it; nobody need."""

    def __init__(self) -> None:
        self.tell: Callable[[str], None] = lambda stage: None

    def begins(self, stage: str) -> None:
        """Tell that a stage begins."""
        self.tell(stage)


@contextmanager
def bar(doing: str, number: int, total: int, waiting: Waiting) -> Iterator[None]:
    """Show how far things are while one of them is waited for: ``number`` of ``total``, from 1, and its stage."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True, no_color="NO_COLOR" in os.environ or None)
    what = f"{doing} scene {number} of {total}" if total > 1 else doing
    shown = Progress(
        TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn(), console=console, transient=True
    )
    stages = STAGES if total == 1 else ()
    task = shown.add_task(what, total=total * (len(stages) or 1), completed=number - 1)

    def tell(stage: str) -> None:
        done = number - 1 + (stages.index(stage) if stage in stages else 0)
        shown.update(task, description=f"{what}: {stage}", completed=done)

    waiting.tell = tell
    patient = threading.Timer(PATIENCE, shown.start)
    patient.daemon = True
    patient.start()
    try:
        yield
    finally:
        patient.cancel()
        patient.join()
        if shown.live.is_started:
            shown.stop()
        waiting.tell = lambda stage: None
