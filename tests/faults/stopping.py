"""A build stopped at moments drawn by chance, over and over into one folder."""

from __future__ import annotations

import random
import shutil
import signal
import statistics
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Literal

from tests.faults.building import ROOT, Bench, Running
from tests.faults.looking import BrokenError, clean, whole

Phase = Literal["run", "keeping", "publication", "interpreter"]
SHARES: tuple[Phase, ...] = (*("publication", "run", "publication", "run") * 4, "keeping", "interpreter")
"""In which part of a build it is stopped, in turn: anywhere in it, at two kinds of writing, or anywhere in a process of
its own from the interpreter's first step to its last."""

PAST = 1.1
"""Moments are drawn up to a tenth past the usual end, so that the end is met too."""


@dataclass(slots=True, kw_only=True)
class Stops:
    """What became of builds that were stopped.

    Attributes
    ----------
    codes
        How often each exit code came, negative for a signal.
    found
        How often the folder was the old one or the new one.
    at
        How often the build was at what when it was stopped.
    temporaries
        How often something temporary lay there right after; the next build clears it.
    broken
        What must not be, and was.
    """

    codes: Counter[int] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    at: Counter[str] = field(default_factory=Counter)
    temporaries: int = 0
    broken: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """How long things usually take: of processor time, s, and by the clock, s, for what waits for the disk."""

    cold: float
    warm: float
    interpreter: float
    keeping: float
    publication: float


def measured(bench: Bench) -> Lengths:
    """Return how long the parts of a build take on this machine as busy as it is."""
    cold: list[float] = []
    warm: list[float] = []
    keeping: list[float] = []
    publication: list[float] = []
    for eye in ("far", "near"):
        bench.pack.unlink(missing_ok=True)
        for times in (cold, warm):
            running = Running.forked(bench, bench.arguments(eye))
            seen: dict[str, float] = {}
            spent = 0.0
            while not running.over():
                for mark in running.reached().decode():
                    seen.setdefault(mark, time.monotonic())
                spent = max(spent, running.spent())
                time.sleep(0.0005)
            if running.ended() != (0, ""):
                raise BrokenError("the room does not build again")
            times.append(spent)
            publication.append(seen.get("d", time.monotonic()) - seen.get("p", time.monotonic()))
            if "k" in seen and "p" in seen:
                keeping.append(seen["p"] - seen["k"])
    running, spent = Running.spawned(bench, bench.arguments("far")), 0.0
    while not running.over():
        spent = max(spent, running.spent())
        time.sleep(0.001)
    running.ended()
    return Lengths(
        cold=max(cold), warm=max(warm), interpreter=spent,
        keeping=max(0.002, statistics.median(keeping)), publication=max(0.002, statistics.median(publication)),
    )  # fmt: skip


def stopped(bench: Bench, number: signal.Signals, count: int, seed: str) -> Stops:
    """Build in turn by one eye and the other, stop each build, look, and build it again in peace.

    Told as broken is each folder that is not whole, build that is not clean, and file that stays.
    """
    draw, told = random.Random(f"{number.name} {seed}"), Stops()
    usual = measured(bench)
    old = whole(bench.room, bench.versions)
    for turn in range(count):
        new = "near" if old == "far" else "far"
        phase, share = SHARES[turn % len(SHARES)], draw.uniform(0.0, PAST)
        cold = draw.random() < 0.1 or phase in ("keeping", "interpreter")
        if cold:
            bench.pack.unlink(missing_ok=True)
        else:
            bench.warm()
        start = Running.spawned if phase == "interpreter" else Running.forked
        running = start(bench, bench.arguments(new))
        _wait(running, phase, share, usual, cold)
        at = running.reached().decode()[-1:]
        running.send(number)
        code, said = running.ended()
        try:
            _judge(number, code, said)
            found = whole(bench.room, bench.versions)
            if code == 0 and found != new:
                raise BrokenError("done, and the folder is the old one")
            told.temporaries += _untidy(bench)
            again = Running.forked(bench, bench.arguments(new)).ended()
            if again != (0, ""):
                raise BrokenError(f"the next build: {again}")
            if whole(bench.room, bench.versions) != new:
                raise BrokenError("the next build is not the new one")
            clean(bench.folder)
        except BrokenError as broken:
            told.broken.append(f"{number.name} {turn} of seed {seed}, {phase} at {share:.3f}: {broken}")
            shutil.rmtree(bench.out)
            Running.forked(bench, bench.arguments(new)).ended()
        else:
            told.found["old" if found == old else "new"] += 1
        told.codes[code] += 1
        told.at[{"k": "keeping", "p": "publication", "d": "end"}.get(at, phase)] += 1
        old = new
    return told


def _wait(running: Running, phase: Phase, share: float, usual: Lengths, cold: bool) -> None:
    """Return when the moment has come, or the process is over."""
    if phase in ("keeping", "publication"):
        mark, length = (b"k", usual.keeping) if phase == "keeping" else (b"p", usual.publication)
        while mark not in running.reached() and not running.over():
            time.sleep(0.0002)
        end = time.monotonic() + share * length
        while time.monotonic() < end:
            time.sleep(0.0002)
    else:
        length = usual.interpreter if phase == "interpreter" else usual.cold if cold else usual.warm
        while running.spent() < share * length and not running.over():
            time.sleep(0.0005)


def _judge(number: signal.Signals, code: int, said: str) -> None:
    """Hold a stopped process to what it may say and end with."""
    if number == signal.SIGKILL:
        allowed = {(-signal.SIGKILL, ""), (0, "")}
    else:
        # The system's own end comes before the interpreter is there to say anything, and after all is done.
        allowed = {(130, "foreshorten: interrupted\n"), (0, ""), (-signal.SIGINT, "")}
        if code == -signal.SIGINT and "KeyboardInterrupt" in said and str(ROOT / "pipeline") not in said:
            return  # the interpreter's own words, before the program's first line
    if (code, said) not in allowed:
        raise BrokenError(f"it ended with {code} and said {said!r}")


def _untidy(bench: Bench) -> bool:
    try:
        clean(bench.folder)
    except BrokenError:
        return True
    return False
