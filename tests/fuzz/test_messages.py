"""What is said of hostile names can be shown on any terminal."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from pathlib import Path

from tests.fuzz.messages import CALLS, look_at_all
from tests.fuzz.names import NAMES

ROOT = Path(__file__).parents[2]


def test_whatever_is_given_is_repeated_plainly(tmp_path: Path) -> None:
    """Terminal escapes and a share of all other names, in every place of the command line that takes text."""
    names = [name for name in NAMES if "\x1b" in name or "\x9b" in name]
    names += random.Random(2).sample([name for name in NAMES if name not in names], 20)
    assert look_at_all(names, tmp_path) == len(CALLS) * len(names)


def test_it_is_so_under_optimisation_too() -> None:
    """``python -O -m tests.fuzz.messages`` tries all names."""
    run = subprocess.run(
        [sys.executable, "-O", "-m", "tests.fuzz.messages", "\x1b[2J", "a\rb"], check=False, capture_output=True,
        text=True, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.stdout == f"{2 * len(CALLS)} said plainly\n", run.stderr
