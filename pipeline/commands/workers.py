"""Several scenes built at once, each in a process and with a pipe of its own.

Not ``ProcessPoolExecutor``: a worker that dies while it hands over a large result (interrupted, or killed for want of
memory) leaves that waiting for ever on the queue all workers share. Here the pipe of a dead process just ends.
"""

from __future__ import annotations

import signal
from collections.abc import Generator, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import Pipe, Process
from multiprocessing.connection import Connection, wait
from pathlib import Path

from pipeline.commands.attempts import Attempt, Overrides, attempt
from pipeline.commands.model import Exit
from pipeline.commands.scene_files import SceneFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Worker:
    """A process building one scene."""

    number: int
    scene: SceneFile
    process: Process

    def result(self, reader: Connection) -> Attempt:
        """Return what the process hands over."""
        with reader:
            try:
                made: Attempt = reader.recv()
            except (EOFError, OSError):
                text = f"foreshorten: {self.scene.path}: the process building it ended suddenly (out of memory?)"
                made = Attempt(scene=self.scene, exit=Exit.FAULT, errors=(text,))
        self.process.join()
        return made


def attempts_at_once(
    scenes: list[SceneFile], overrides: Overrides, jobs: int, work: Path | None = None
) -> Generator[Attempt, None, None]:
    """Yield what became of each scene, in the order given; closed early, leave no process behind."""
    todo = iter(enumerate(scenes))
    running: dict[Connection, Worker] = {}
    done: dict[int, Attempt] = {}
    try:
        for number in range(len(scenes)):
            while number not in done:
                while len(running) < jobs and (following := next(todo, None)):
                    _start(*following, (overrides, work), running)
                ready = wait(list(running))
                for reader in [one for one in running if one in ready]:
                    worker = running[reader]
                    done[worker.number] = worker.result(reader)
                    del running[reader]
            yield done.pop(number)
    finally:
        for worker in running.values():
            worker.process.kill()
        for worker in running.values():
            worker.process.join()


def _start(
    number: int, scene: SceneFile, how: tuple[Overrides, Path | None], running: dict[Connection, Worker]
) -> None:
    reader, writer = Pipe(duplex=False)
    process = Process(target=_work, args=(reader, writer, scene, *how), daemon=True)
    with writer, _interruption_held_back():
        process.start()
        running[reader] = Worker(number=number, scene=scene, process=process)


def _work(reader: Connection, writer: Connection, scene: SceneFile, overrides: Overrides, work: Path | None) -> None:
    """Build in the new process, which dies silently when interrupted: the parent alone says so.

    Where the parent is deaf to Ctrl-C, as a shell makes what it puts in the background, so is this.
    """
    reader.close()
    if signal.getsignal(signal.SIGINT) != signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    with suppress(BrokenPipeError):
        writer.send(attempt(scene, overrides, work))


@contextmanager
def _interruption_held_back() -> Iterator[None]:
    """Let Ctrl-C wait until the new process knows how to die of it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
