"""Scenes built on other machines, through a Dask scheduler behind the interface of ``concurrent.futures``.

What is sent is the scene's text and the files it names; what comes back is everything that was made of it. The pure
build function reads and writes nothing, so it may run anywhere and twice: when a worker dies, the scheduler gives what
it had, done or half done, to another.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Generator, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from typing import Any

from pipeline.commands.attempts import Attempt, Gathered, Overrides, gather, make_gathered
from pipeline.commands.model import Exit, InputError
from pipeline.commands.scene_files import SceneFile
from pipeline.commands.terminal import fault_text

CONNECT_SECONDS = 10.0
"""A scheduler answers at once, or is not there."""
WORKER_SECONDS = 30.0
"""Workers may still be starting."""
IN_HAND = 2
"""Builds sent for each thread of the workers: one at work, one waiting, and no more results than these in memory."""


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """Yield an executor of a Dask scheduler and how many builds to have in hand.

    Raises
    ------
    InputError
        If the extra is not installed, no scheduler answers at the address, or it has no workers.
    """
    try:
        import distributed
    except ImportError:
        raise InputError("--cluster: needs more than is installed; run .venv/bin/pip install '.[cluster]'") from None
    quiet = logging.getLogger("distributed")
    quiet.setLevel(logging.CRITICAL)  # what it would say is said here, once and in our words
    _refuse_silence(address)
    client = distributed.Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    try:
        try:
            client.wait_for_workers(1, timeout=WORKER_SECONDS)
        except TimeoutError:
            raise InputError(
                f"--cluster {address}: the scheduler has no workers after {WORKER_SECONDS:g} s; start one with: dask"
                f" worker {address}, in an environment where foreshorten is installed"
            ) from None
        threads = sum(client.nthreads().values())
        with client.get_executor(pure=False) as executor:
            yield executor, IN_HAND * max(1, threads)
    finally:
        client.close(timeout=CONNECT_SECONDS)


def _refuse_silence(address: str) -> None:
    """Ask who is there first: a client of something that takes calls and never answers would wait for ever.

    Raises
    ------
    InputError
        If no scheduler answers in time.
    """
    import distributed

    async def ask() -> Any:
        async with distributed.core.rpc(address) as there:
            return await there.identity()

    async def ask_in_time() -> Any:
        return await asyncio.wait_for(ask(), CONNECT_SECONDS)

    try:
        answer = asyncio.run(ask_in_time())
        said = "" if answer.get("type") == "Scheduler" else f"it is a {answer.get('type', 'stranger')}"
    except Exception as error:  # whatever another server may answer is no scheduler's answer
        said = " ".join(str(error).split()) or "no answer"
    if said:
        raise InputError(
            f"--cluster {address}: no scheduler answers there within {CONNECT_SECONDS:g} s ({said[:200]}); start one"
            " with: dask scheduler, and a worker on each machine with: dask worker ADDRESS"
        )


def attempts_through(
    executor: Executor, scenes: list[SceneFile], overrides: Overrides, in_hand: int
) -> Generator[Attempt, None, None]:
    """Yield what became of each scene, in the order given, never more than ``in_hand`` of them sent and not taken."""
    waiting: deque[tuple[SceneFile, Future[Attempt] | Attempt]] = deque()
    todo = iter(scenes)
    try:
        while True:
            while len(waiting) < in_hand and (scene := next(todo, None)) is not None:
                waiting.append((scene, _sent(executor, scene, overrides)))
            if not waiting:
                return
            scene, one = waiting.popleft()
            yield one if isinstance(one, Attempt) else _taken(scene, one)
    finally:
        for _, one in waiting:
            if isinstance(one, Future):
                one.cancel()


def _sent(executor: Executor, scene: SceneFile, overrides: Overrides) -> Future[Attempt] | Attempt:
    gathered = gather(scene, overrides)
    if not isinstance(gathered, Gathered):
        return gathered
    return executor.submit(make_gathered, scene, gathered, overrides)


def _taken(scene: SceneFile, sent: Future[Attempt]) -> Attempt:
    try:
        return sent.result()
    except ImportError as missing:
        text = f"{scene.path}: the workers have no foreshorten like this one: {missing}"
        return Attempt(scene=scene, exit=Exit.INPUT, errors=(f"foreshorten: {text}",))
    except Exception as lost:
        text = f"{scene.path}: not built on the cluster: {fault_text(lost)}"
        return Attempt(scene=scene, exit=Exit.FAULT, errors=(f"foreshorten: {text}",))
