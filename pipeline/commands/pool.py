"""Several scenes built at once, each in a process of its own."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

from pipeline.commands.attempts import Attempt, Overrides, attempt
from pipeline.commands.model import Exit
from pipeline.commands.scene_files import SceneFile


def attempts_at_once(scenes: list[SceneFile], overrides: Overrides, jobs: int) -> Iterator[Attempt]:
    """Yield what became of each scene, in the order given; interrupted, leave no process behind."""
    pool = ProcessPoolExecutor(min(jobs, len(scenes)), initializer=_die_silently_when_interrupted)
    try:
        futures = [pool.submit(attempt, scene, overrides) for scene in scenes]
        for scene, future in zip(scenes, futures, strict=True):
            try:
                yield future.result()
            except BrokenProcessPool:
                text = f"foreshorten: {scene.path}: the process building it ended suddenly (out of memory?)"
                yield Attempt(scene=scene, exit=Exit.FAULT, errors=(text,))
    except BaseException:
        for worker in multiprocessing.active_children():
            worker.terminate()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _die_silently_when_interrupted() -> None:
    """Let the parent alone say that it was interrupted."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
