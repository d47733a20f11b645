"""Many scenes in processes of their own, so that one that dies or hangs takes no other with it."""

from __future__ import annotations

import faulthandler
import hashlib
import multiprocessing
import random
import resource
import shutil
import tempfile
import time
import traceback
from collections import Counter
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Literal

from tests.fuzz.growing import BUILT, QUICK, demos, grown
from tests.fuzz.judging import WrongError, judge_build, judge_make, judge_read
from tests.fuzz.mutating import mutated

Kind = Literal["read", "make", "build"]
IN_ONE_PROCESS: dict[Kind, int] = {"read": 4000, "make": 400, "build": 60}
STUCK_SECONDS = 300.0
"""By the clock; in compiled code no alarm of ours rings."""
MOST_BYTES = 6 * 2**30
"""Of addresses a process may have; what it holds is measured."""


def scene(kind: Kind, seed: int, number: int) -> str:
    """Return one scene of a run; the same for the same numbers."""
    rng = random.Random(f"{kind} {seed} {number}")
    if kind != "read":
        text = grown(rng, BUILT, 3, wild=0.15)
        return text if rng.random() < 0.95 else mutated(rng, [text])
    texts = (*BUILT, *demos()) if rng.random() < 0.06 else QUICK
    return mutated(rng, list(texts)) if rng.random() < 0.6 else grown(rng, texts, 5, wild=0.4)


def run(kind: Kind, count: int, seed: int, jobs: int, keep: Path, first: int = 0) -> Counter[str]:
    """Judge so many scenes; keep each that breaks something in a folder; return how many of each outcome."""
    tally: Counter[str] = Counter()
    keep.mkdir(parents=True, exist_ok=True)
    todo = list(range(first, first + count))
    running: dict[Connection, _Batch] = {}
    begun = time.monotonic()
    while todo or running:
        while todo and len(running) < jobs:
            numbers, todo = todo[: IN_ONE_PROCESS[kind]], todo[IN_ONE_PROCESS[kind] :]
            batch = _Batch(kind, seed, numbers)
            running[batch.heard] = batch
        heard = wait(list(running), timeout=5.0)
        for link in list(running):
            batch = running[link]
            if link in heard:
                batch.hear(tally, keep)
            elif time.monotonic() - batch.last > STUCK_SECONDS:
                batch.process.kill()
            if batch.over:
                del running[link]
                todo = batch.left + todo
                _say(kind, tally, begun)
    return tally


def _say(kind: Kind, tally: Counter[str], begun: float) -> None:
    words = ", ".join(f"{count} {outcome}" for outcome, count in sorted(tally.items()))
    print(f"{kind}: {words}; {time.monotonic() - begun:.0f} s", flush=True)  # noqa: T201


class _Batch:
    """One process and what it still has to do."""

    def __init__(self, kind: Kind, seed: int, numbers: list[int]) -> None:
        self.kind, self.seed, self.left = kind, seed, numbers
        self.heard, tells = multiprocessing.Pipe(duplex=False)
        self.process = multiprocessing.get_context("fork").Process(target=_work, args=(tells, kind, seed, numbers))
        self.process.start()
        tells.close()
        self.last = time.monotonic()
        self.over = False

    def hear(self, tally: Counter[str], keep: Path) -> None:
        """Take in what the process says of its next scene, or that it is no more."""
        self.last = time.monotonic()
        try:
            outcome, words, seconds, kilobytes = self.heard.recv()
        except EOFError:
            self.process.join()
            self.over = True
            if self.left and self.process.exitcode:
                outcome, words = "wrong", f"the process ended with {self.process.exitcode}"
                self._count(tally, keep, outcome, words)
            return
        tally["slowest, ms"] = max(tally["slowest, ms"], int(1000 * seconds))
        tally["most held, MB"] = max(tally["most held, MB"], kilobytes // 1000)
        self._count(tally, keep, outcome, words)

    def _count(self, tally: Counter[str], keep: Path, outcome: str, words: str) -> None:
        number = self.left.pop(0)
        tally[outcome] += 1
        if outcome == "wrong":
            text = scene(self.kind, self.seed, number).encode("utf-8", "surrogatepass")
            name = f"{self.kind}-{hashlib.sha256(text).hexdigest()[:10]}"
            (keep / f"{name}.toml").write_bytes(text)
            print(f"{name} (number {number}): {words}", flush=True)  # noqa: T201


def _work(tells: Connection, kind: Kind, seed: int, numbers: list[int]) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    try:
        for number in numbers:
            faulthandler.dump_traceback_later(STUCK_SECONDS, exit=True)
            outcome, words, seconds = _judged(kind, scene(kind, seed, number), folder / str(number))
            held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            tells.send((outcome, words, seconds, held))
            if outcome == "wrong":
                return  # memory once held is never given back, and threads may still be at it
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _judged(kind: Kind, text: str, folder: Path) -> tuple[str, str, float]:
    try:
        if kind == "read":
            verdict = judge_read(text)
        elif kind == "make":
            verdict = judge_make(text)
        else:
            folder.mkdir()
            verdict = judge_build(text, folder)
            shutil.rmtree(folder)
    except (Exception, WrongError) as wrong:
        where = traceback.extract_tb(wrong.__traceback__)[-1]
        words = " ".join(str(wrong).split())[:600]
        return "wrong", f"{type(wrong).__name__}: {words} ({where.filename}:{where.lineno})", 0.0
    return verdict.outcome, "", verdict.seconds
