"""Many scenes in processes of their own, so that one that dies or hangs takes no other with it."""

from __future__ import annotations

import faulthandler
import gc
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
from multiprocessing.sharedctypes import Synchronized
from pathlib import Path
from typing import Literal

from tests.fuzz.growing import BUILT, demos, grown, grown_tables
from tests.fuzz.judging import WrongError, judge_build, judge_make, refusal, small_pictures, ticking
from tests.fuzz.mutating import mutated
from tests.fuzz.odd_forms import odd_form
from tests.fuzz.reaching import keys_of
from tests.fuzz.tiny import furnished
from tests.fuzz.writing import to_toml

Kind = Literal["read", "make", "build"]
IN_ONE_PROCESS: dict[Kind, int] = {"read": 20_000, "make": 400, "build": 200}
TOLD_AFTER: dict[Kind, int] = {"read": 500, "make": 1, "build": 1}
"""Scenes of which a process tells at once."""
LOOKED_AT: dict[Kind, int] = {"read": 20, "make": 1, "build": 1}
"""Of so many scenes the keys of one are counted."""
LARGE_PICTURES = 20
"""Of so many builds one takes its pictures at their full size."""
STUCK_SECONDS = 300.0
"""By the clock; in compiled code no alarm of ours rings."""
MOST_BYTES = 6 * 2**30
"""Of addresses a process may have that makes and builds; what it holds is measured."""
MORE_BYTES = 10**9
"""Of addresses that a process which only reads may take beside those it began with."""
DISK = Path("/dev/shm")
"""Where flushing a file costs nothing."""

TOLD = "# built with "
"""Before the options of a build, in the last line of the file that is kept."""

Told = tuple[Counter[str], int, str]
"""Counts, and of a scene that broke something its number and what happened; nothing where none did."""


def scene(kind: Kind, seed: int, number: int) -> str | bytes:
    """Return one scene of a run; the same for the same numbers."""
    rng = random.Random(f"{kind} {seed} {number}")
    share = rng.random()
    if kind != "read":
        if share < 0.02:
            return grown(rng, BUILT, 3, wild=0.15)
        text = to_toml(grown_tables(rng, furnished(rng, 7), rng.randint(0, 3), wild=0.15))
        return text if share < 0.95 else mutated(rng, [text])
    if share < 0.01:
        return mutated(rng, [*BUILT, *demos()]) if share < 0.007 else grown(rng, (*BUILT, *demos()), 5, wild=0.4)
    if share < 0.55:
        return mutated(rng, [to_toml(furnished(rng, 5)), to_toml(furnished(rng, 5))])
    if share < 0.9:
        broken = rng.choice((0.0, 0.0, 0.5))
        return to_toml(grown_tables(rng, furnished(rng, 4), rng.randint(1, 5), wild=0.4, broken=broken))
    return odd_form(rng, to_toml(furnished(rng, 2)))


def options(kind: Kind, seed: int, number: int) -> tuple[str, ...]:
    """Return what a build is told beside its scene."""
    rng = random.Random(f"options {kind} {seed} {number}")
    chosen = ("--anew",) if rng.random() < 0.7 else ()
    if rng.random() < 0.1:
        key, low, high = rng.choice(
            (("eye.distance", 1.0, 900.0), ("space.depth", 0.1, 50.0), ("box.depth", 5.0, 90.0))
        )
        return (*chosen, "--set", f"{key}={rng.uniform(low, high):.3f}")
    return (*chosen, "--json") if rng.random() < 0.1 else chosen


def run(kind: Kind, count: int, seed: int, jobs: int, keep: Path, first: int = 0) -> Counter[str]:
    """Judge so many scenes; keep each that breaks something in a folder; return how many of each outcome."""
    tally: Counter[str] = Counter()
    keep.mkdir(parents=True, exist_ok=True)
    todo = range(first, first + count)
    running: dict[Connection, _Batch] = {}
    begun = time.monotonic()
    while todo or running:
        while todo and len(running) < jobs:
            batch = _Batch(kind, seed, todo[: IN_ONE_PROCESS[kind]])
            todo = todo[IN_ONE_PROCESS[kind] :]
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
                if batch.left:
                    again = _Batch(kind, seed, batch.left)
                    running[again.heard] = again
                _say(kind, tally, begun)
    return tally


def _say(kind: Kind, tally: Counter[str], begun: float) -> None:
    words = ", ".join(f"{count} {outcome}" for outcome, count in sorted(tally.items()) if "key " not in outcome)
    print(f"{kind}: {words}; {time.monotonic() - begun:.0f} s", flush=True)  # noqa: T201


class _Batch:
    """One process and what it still has to do."""

    def __init__(self, kind: Kind, seed: int, numbers: range) -> None:
        self.kind, self.seed, self.numbers = kind, seed, numbers
        self.heard, tells = multiprocessing.Pipe(duplex=False)
        context = multiprocessing.get_context("fork")
        self.at = context.Value("q", numbers.start, lock=False)
        self.process = context.Process(target=_work, args=(tells, self.at, kind, seed, numbers))
        self.process.start()
        tells.close()
        self.last = time.monotonic()
        self.over, self.wrong = False, -1

    @property
    def left(self) -> range:
        """Scenes that nobody has tried yet, once the process is over."""
        done = self.wrong if self.wrong >= 0 else self.numbers.stop - 1
        return range(done + 1, self.numbers.stop)

    def hear(self, tally: Counter[str], keep: Path) -> None:
        """Take in what the process says of its last scenes, or that it is no more."""
        self.last = time.monotonic()
        try:
            counts, number, words = self.heard.recv()
        except EOFError:
            self.process.join()
            self.over = True
            if self.process.exitcode and self.wrong < 0:
                tally["wrong"] += 1
                self._keep(keep, self.at.value, f"the process ended with {self.process.exitcode}")
            return
        for name, count in counts.items():
            tally[name] = max(tally[name], count) if name in ("slowest, ms", "most held, MB") else tally[name] + count
        if number >= 0:
            self._keep(keep, number, words)

    def _keep(self, keep: Path, number: int, words: str) -> None:
        self.wrong = number
        text = scene(self.kind, self.seed, number)
        data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
        if self.kind == "build":
            data += f"\n{TOLD}{' '.join(options(self.kind, self.seed, number))}\n".encode()
        name = f"{self.kind}-{hashlib.sha256(data).hexdigest()[:10]}"
        (keep / f"{name}.toml").write_bytes(data)
        print(f"{name} (number {number}): {words}", flush=True)  # noqa: T201


def _work(tells: Connection, at: Synchronized[int], kind: Kind, seed: int, numbers: range) -> None:
    most = MOST_BYTES if kind != "read" else _addresses() + MORE_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    folder = Path(tempfile.mkdtemp(prefix="fuzz-", dir=DISK if DISK.is_dir() else None))
    counts: Counter[str] = Counter()
    gc.freeze()
    gc.set_threshold(50_000)
    try:
        with ticking(lambda: at.value):
            for number in numbers:
                at.value = number
                if (number - numbers.start) % TOLD_AFTER[kind] == 0:
                    faulthandler.dump_traceback_later(STUCK_SECONDS, exit=True)
                    counts = _tell(tells, counts)
                words = _count(counts, kind, seed, number, folder / str(number))
                if words:
                    _tell(tells, counts, number, words)
                    return  # memory once held is never given back, and threads may still be at it
        _tell(tells, counts)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _addresses() -> int:
    return int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()


def _tell(tells: Connection, counts: Counter[str], number: int = -1, words: str = "") -> Counter[str]:
    counts["most held, MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1000
    tells.send((counts, number, words))
    return Counter()


def _count(counts: Counter[str], kind: Kind, seed: int, number: int, folder: Path) -> str:
    """Judge one scene and count what became of it; return what it broke."""
    begun = time.process_time()
    text = scene(kind, seed, number)
    outcome, words = _judged(kind, seed, number, text, folder)
    spent = int(1e6 * (time.process_time() - begun))
    counts[outcome] += 1
    counts["processor time, us"] += spent
    counts["slowest, ms"] = max(counts["slowest, ms"], spent // 1000)
    if number % LOOKED_AT[kind] == 0:
        for key in keys_of(text):
            counts[f"key {key} tried"] += 1
            counts[f"key {key} good"] += outcome in ("taken", "built", "failed")
    return words


def _judged(kind: Kind, seed: int, number: int, text: str | bytes, folder: Path) -> tuple[str, str]:
    try:
        if kind == "read":
            return ("refused" if refusal(text) else "taken"), ""
        if kind == "make":
            return judge_make(text).outcome, ""
        folder.mkdir()
        if number % LARGE_PICTURES == 0:
            verdict = judge_build(text, folder, options(kind, seed, number))
        else:
            with small_pictures():
                verdict = judge_build(text, folder, options(kind, seed, number))
        shutil.rmtree(folder)
    except (Exception, WrongError) as wrong:
        where = traceback.extract_tb(wrong.__traceback__)[-1]
        said = " ".join(str(wrong).split())[:600]
        return "wrong", f"{type(wrong).__name__}: {said} ({where.filename}:{where.lineno})"
    return verdict.outcome, ""
