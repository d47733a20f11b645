"""As many broken, random and hostile scenes as there is time for; each that breaks the program is kept as a file.

python -m tests.fuzz --reads 200000 --makes 4000 --builds 2000 --seed 1 --jobs 2 --tally counts.json
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: its threads wait by turning round

import argparse
import json
import sys
from collections import Counter
from pathlib import Path

from tests.fuzz.keys import all_keys
from tests.fuzz.running import Kind, run

CORPUS = Path(__file__).parent / "corpus"


def main() -> int:
    """Run what the arguments ask for; return 1 if any scene broke the program."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--reads", type=int, default=10_000, help="scenes read, measured and imagined")
    parser.add_argument(
        "--makes", type=int, default=100, help="small scenes made and checked, without pictures and page"
    )
    parser.add_argument("--builds", type=int, default=20, help="small scenes built whole, by the command")
    parser.add_argument("--seed", type=int, default=1, help="of all chance; the same seed tries the same scenes")
    parser.add_argument("--jobs", type=int, default=1, help="processes at once")
    parser.add_argument("--first", type=int, default=0, help="number of the first scene, to go on from there")
    parser.add_argument("--keep", type=Path, default=CORPUS, help="folder for the scenes that break something")
    parser.add_argument("--tally", type=Path, help="file that counts add up in, from one run to the next")
    given = parser.parse_args()
    counts: dict[Kind, int] = {"read": given.reads, "make": given.makes, "build": given.builds}
    wrong = 0
    for kind, count in counts.items():
        tally = run(kind, count, given.seed, given.jobs, given.keep, given.first)
        wrong += tally["wrong"]
        if given.tally is not None and count:
            add_up(given.tally, kind, tally)
    return 1 if wrong else 0


def add_up(path: Path, kind: Kind, tally: Counter[str]) -> None:
    """Add counts to those of a file, and say which keys no scene has held yet, good or not."""
    known = json.loads(path.read_text()) if path.exists() else {}
    mine = known.setdefault(kind, {})
    for name, count in tally.items():
        before = mine.get(name, 0)
        mine[name] = max(before, count) if name in ("slowest, ms", "most held, MB") else before + count
    path.write_text(json.dumps(known, indent=1, sort_keys=True))
    for way in ("tried", "good"):
        never = [key.name for key in all_keys() if not mine.get(f"key {key.name} {way}")]
        print(f"{kind}: {len(all_keys()) - len(never)} of {len(all_keys())} keys {way}; never {never}")  # noqa: T201


if __name__ == "__main__":
    sys.exit(main())
