"""The program stopped, refused and crowded at its work, as often as there is time for.

python -m tests.faults --kills 200 --interrupts 200 --rounds 50 --full 60
"""

from __future__ import annotations

import argparse
import signal
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.faults.building import Bench, bench_at, load, time_of_children
from tests.faults.crowding import Crowds, crowded
from tests.faults.refusing import Refusals, refused
from tests.faults.stopping import Stops, stopped

Told = Stops | Crowds | Refusals
BATCH = 25
"""Told of one after another, since the whole may take long; each measures anew how busy the machine is."""


def main() -> int:
    """Try what the arguments ask for; return 1 if anything broke."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--kills", type=int, default=0, help="builds killed at moments of chance")
    parser.add_argument("--interrupts", type=int, default=0, help="builds interrupted at moments of chance")
    parser.add_argument("--rounds", type=int, default=0, help="rounds of eight builds at once into one folder")
    parser.add_argument("--full", type=int, default=0, help="builds on a disk that is full, and as many more refused")
    parser.add_argument("--seed", type=int, default=1, help="of all chance")
    given = parser.parse_args()
    tries: dict[str, tuple[int, Callable[[Bench, int, str], Told]]] = {
        "killed": (given.kills, lambda bench, count, seed: stopped(bench, signal.SIGKILL, count, seed)),
        "interrupted": (given.interrupts, lambda bench, count, seed: stopped(bench, signal.SIGINT, count, seed)),
        "crowded": (given.rounds, crowded),
        "refused": (given.full, refused),
    }
    broken: list[str] = []
    with tempfile.TemporaryDirectory(prefix="faults-") as place:
        load(Path(place))
        bench = bench_at(Path(place) / "bench")
        for name, (count, tried) in tries.items():
            for done in range(0, count, BATCH):
                begun, part = time_of_children(), min(BATCH, count - done)
                told = tried(bench, part, f"{given.seed}, {done}")
                _say(f"{name} {part}: {told}; {time_of_children() - begun:.0f} s of processor time")
                broken += told.broken
    for line in broken:
        _say(line)
    return 1 if broken else 0


def _say(text: str) -> None:
    print(text, flush=True)  # noqa: T201


if __name__ == "__main__":
    sys.exit(main())
