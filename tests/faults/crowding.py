"""Many builds at once into one folder, by one eye and the other in turn."""

from __future__ import annotations

import random
import time
from collections import Counter
from dataclasses import dataclass, field

from tests.faults.building import PATIENCE, Bench, Running
from tests.faults.looking import BrokenError, clean, whole

AT_ONCE = 8


@dataclass(slots=True, kw_only=True)
class Crowds:
    """What became of builds made at once.

    Attributes
    ----------
    builds
        How many there were.
    looks
        How often the folder was looked at while they were at it.
    seen
        How often it was by which eye then, and how often it changed while it was read, which tells nothing.
    last
        How often it was by which eye in the end.
    broken
        What must not be, and was.
    """

    builds: int = 0
    looks: int = 0
    seen: Counter[str] = field(default_factory=Counter)
    last: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)


def crowded(bench: Bench, rounds: int, seed: str) -> Crowds:
    """Start eight builds at once, look at their folder until all have ended, and so on; told is what broke."""
    draw, told = random.Random(f"crowd {seed}"), Crowds()
    for number in range(rounds):
        eyes = ["far", "near"] * (AT_ONCE // 2)
        draw.shuffle(eyes)
        if draw.random() < 0.9:
            bench.warm()
        else:
            bench.pack.unlink(missing_ok=True)
        running = [Running.forked(bench, bench.arguments(eye)) for eye in eyes]
        try:
            _look_on(bench, running, told)
            for one in running:
                if (ended := one.ended()) != (0, ""):
                    raise BrokenError(f"one of them: {ended}")
            told.last[whole(bench.room, bench.versions)] += 1
            clean(bench.folder)
        except BrokenError as broken:
            told.broken.append(f"round {number} of seed {seed}: {broken}")
        told.builds += len(running)
    return told


def _look_on(bench: Bench, running: list[Running], told: Crowds) -> None:
    """Read the folder over and over; one that has not been exchanged meanwhile must be whole."""
    give_up = time.monotonic() + PATIENCE
    while sum(one.over() for one in running) < len(running) and time.monotonic() < give_up:
        told.looks += 1
        before = _which(bench)
        try:
            found = whole(bench.room, bench.versions)
        except (BrokenError, FileNotFoundError):
            if _which(bench) == before:
                raise
            found = "changed"
        told.seen[found] += 1
        time.sleep(0.005)


def _which(bench: Bench) -> tuple[int, int]:
    """Return what tells the folder that stands there from any before it; a number alone may be given again."""
    state = bench.room.stat()
    return state.st_ino, state.st_ctime_ns
