"""As many broken, random and hostile scenes as there is time for; each that breaks the program is kept as a file.

python -m tests.fuzz --reads 200000 --makes 4000 --builds 2000 --seed 1 --jobs 2
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

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
    given = parser.parse_args()
    counts: dict[Kind, int] = {"read": given.reads, "make": given.makes, "build": given.builds}
    tally: Counter[str] = Counter()
    for kind, count in counts.items():
        tally += run(kind, count, given.seed, given.jobs, given.keep, given.first)
    return 1 if tally["wrong"] else 0


if __name__ == "__main__":
    sys.exit(main())
