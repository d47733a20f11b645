"""Every mesh file of some folders through ``foreshorten warp``, each in a process of its own and judged from outside.

python -m tests.meshes FOLDER ... --jobs 2 --told verdicts.csv

Files that an earlier run has told of are passed over with --but verdicts.csv, and counted.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import multiprocessing
import random
import re
import resource
import signal
import sys
import tempfile
import traceback
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path

from pipeline.meshfiles import READERS
from tests.meshes.elsewhere import Verdict, judge
from tests.scene_text import PLAIN

STUCK_SECONDS = 600
"""Of processor time; a file that takes longer, trimesh's reading of it included, is stuck, and its process is ended."""
MOST_BYTES = 6 * 2**30
"""Of addresses a process may have; what it holds is measured."""


def main(arguments: list[str] | None = None) -> int:
    """Judge the files; return 1 if any answer was wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.meshes", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path, help="looked through to the bottom")
    parser.add_argument("--jobs", type=int, default=1, help="processes at once")
    parser.add_argument("--some", type=int, help="so many of the files, by chance, and not all of them")
    parser.add_argument("--seed", type=int, default=1, help="of that chance; the same seed takes the same files")
    parser.add_argument("--told", type=Path, help="CSV file to which a row is added for each")
    parser.add_argument("--seconds", type=int, default=STUCK_SECONDS, help="of the processor that a file may take")
    parser.add_argument("--but", type=Path, nargs="*", default=(), help="CSV files of runs that need not be repeated")
    given = parser.parse_args(arguments)
    paths = distinct([path for folder in given.folders for path in sorted(folder.rglob("*"))])
    count = len(paths)
    done = {row[0] for told in given.but for row in csv.reader(told.read_text().splitlines())}
    paths = [path for path in paths if str(path) not in done]
    if given.but:
        _say(f"{count - len(paths)} of {count} files were told of before")
    if given.some is not None:
        paths = random.Random(given.seed).sample(paths, min(given.some, count))
    tally: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        scene = Path(folder) / "plain.toml"
        scene.write_text(PLAIN)
        with ThreadPoolExecutor(given.jobs) as pool:
            for path, verdict in zip(
                paths, pool.map(partial(alone, scene=scene, seconds=given.seconds), paths), strict=True
            ):
                tally[verdict.outcome] += 1
                tally[f"{verdict.outcome}: {kind_of_words(verdict.said)}"] += bool(verdict.said)
                tally["slowest, ms"] = max(tally["slowest, ms"], int(1000 * verdict.seconds))
                tally["most held, MB"] = max(tally["most held, MB"], int(verdict.megabytes))
                tally["farthest off, pm"] = max(tally["farthest off, pm"], int(1e9 * (verdict.off or 0)))
                if given.told:
                    _tell(given.told, path, verdict)
                if verdict.outcome == "wrong":
                    _say(f"{path}: {verdict.said}")
    _say(f"{len(paths)} of {count} files, no two alike")
    for words, number in sorted(tally.items()):
        _say(f"{number:7} {words}")
    return 1 if tally["wrong"] else 0


def distinct(paths: list[Path]) -> list[Path]:
    """Return the mesh files among some paths, one of each content."""
    found: dict[str, Path] = {}
    for path in paths:
        if path.is_file() and path.suffix.lower().removeprefix(".") in READERS:
            found.setdefault(hashlib.sha256(path.read_bytes()).hexdigest(), path)
    return list(found.values())


def kind_of_words(said: str) -> str:
    """Return what was said with names and numbers taken out, to be counted."""
    words = re.sub(r"^.*?cannot be (printed|read): |; allowed: .*$", "", said)
    words = re.sub(r"(: \d+ edges round| as at| about) .*|^\S* was mended: ", "", words)
    return re.sub(r"[-+]?\d[\d.,]*(e[-+]?\d+)?", "N", words)[:120]


def alone(path: Path, scene: Path, seconds: int = STUCK_SECONDS) -> Verdict:
    """Return what becomes of a file in a process of its own, with so many seconds of the processor."""
    heard, tells = multiprocessing.Pipe(duplex=False)
    process = multiprocessing.get_context("fork").Process(target=_work, args=(tells, path, scene, seconds))
    process.start()
    tells.close()
    try:
        verdict: Verdict = heard.recv()
        return verdict
    except EOFError:
        process.join()
        late = process.exitcode == -signal.SIGXCPU
        return Verdict(
            outcome="wrong",
            said=f"not done after {seconds} s" if late else f"its process ended with {process.exitcode}",
        )
    finally:
        process.join()
        heard.close()


def _work(tells: Connection, path: Path, scene: Path, seconds: int) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
    try:
        verdict = judge(path, scene)
    except Exception as wrong:  # whatever it is, it is told of the file
        where = traceback.extract_tb(wrong.__traceback__)[-1]
        verdict = Verdict(outcome="wrong", said=f"{type(wrong).__name__}: {wrong} ({where.filename}:{where.lineno})")
    tells.send(verdict)


def _tell(told: Path, path: Path, one: Verdict) -> None:
    """Add a file's row, so that a run that is broken off has told of what it did."""
    with told.open("a", newline="") as file:
        csv.writer(file).writerow([path, one.outcome, one.facets, one.seconds, one.megabytes, one.off, one.said])


def _say(words: str) -> None:
    print(words, flush=True)  # noqa: T201


if __name__ == "__main__":
    sys.exit(main())
