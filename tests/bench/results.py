"""Sets out what the benchmarks measured in RESULTS.md.

pytest tests/bench --benchmark-enable --benchmark-json=measured.json
python -m tests.bench.results measured.json

What was measured bit by bit is set out together: name all the files.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np

RESULTS = Path(__file__).parent / "RESULTS.md"
WAYS = ("floor", "straightforward")
HEAD = """# What was measured

By `pytest tests/bench --benchmark-enable --benchmark-json=measured.json`, set out by
`python -m tests.bench.results measured.json`.
Middle of three runs or more, seconds of the clock, on {machine}, Python {python}, {date}; beside it ran
{beside}.

*floor*: the bytes of the same files by printf, zlib and the disk alone, their numbers known beforehand (`floor.py`).
*straightforward*: the same DXF, STL and PNG, or the same work, entity by entity and boolean by boolean with ezdxf,
trimesh, manifold3d, shapely and Pillow, what is in them known beforehand (`straightforward.py`).
Both compute no relief, joint, guide or check.
"""


def main() -> None:
    """Read what pytest-benchmark wrote, and write RESULTS.md."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.results", description=__doc__)
    parser.add_argument("measured", type=Path, nargs="+", help="files of --benchmark-json, of one machine and day")
    parser.add_argument("--beside", default="nothing else", help="what else the machine was doing")
    given = parser.parse_args()
    measured = [json.loads(path.read_text()) for path in given.measured]
    benchmarks = [one for part in measured for one in part["benchmarks"]]
    page = set_out({**measured[0], "benchmarks": benchmarks}, given.beside)
    RESULTS.write_text(page, encoding="utf-8")


def set_out(measured: dict[str, Any], beside: str = "nothing else") -> str:
    """Return the page of what pytest-benchmark wrote as JSON."""
    machine = measured["machine_info"]
    processor = machine["cpu"].get("brand_raw") or machine["machine"]
    head = HEAD.format(
        machine=f"{os.cpu_count()} cores of {processor}, {machine['system']}",
        python=machine["python_version"],
        date=measured["datetime"][:10],
        beside=beside,
    )
    groups: dict[str, dict[str, float]] = defaultdict(dict)
    extra: list[str] = []
    growth: dict[str, float] = {}
    for one in measured["benchmarks"]:
        params = one["params"] or {}
        group = one["group"] or one["name"].removeprefix("test_").replace("_", " ")
        groups[group][params.get("way", "ours")] = one["stats"]["median"]
        growth = one["extra_info"].get("growth", growth)
        for name, value in one["extra_info"].items():
            if name == "growth":
                continue
            extra.append(f"| {group}, {params.get('way', 'ours')}: {name} | {value} |")
    lines = [
        head,
        "| | seconds | floor | times the floor | straightforward | times that |",
        "|---|--:|--:|--:|--:|--:|",
    ]
    lines += [_row(group, ways) for group, ways in groups.items()]
    lines += ["", *([_growth(growth), ""] if growth else []), "| of these | |", "|---|--:|", *extra, ""]
    return "\n".join(lines)


def _row(group: str, ways: dict[str, float]) -> str:
    ours = ways.get("ours")
    cells = [group, "" if ours is None else f"{ours:.3g}"]
    for way in WAYS:
        other = ways.get(way)
        cells.append("" if other is None else f"{other:.3g}")
        cells.append("" if other is None or ours is None else f"{ours / other:.2g}")
    return f"| {' | '.join(cells)} |"


def _growth(seconds_of: dict[str, float]) -> str:
    """Return how straight the least times of walls of plain bricks lie over their number, by least squares."""
    counts, seconds = np.array([(int(count), least) for count, least in seconds_of.items()], dtype=np.float64).T
    slope, start = np.polyfit(counts, seconds, 1)
    rest = seconds - (slope * counts + start)
    straight = 1.0 - rest @ rest / ((seconds - seconds.mean()) @ (seconds - seconds.mean()))
    told = ", ".join(f"{least:.2f} s for {count:,.0f}" for count, least in zip(counts, seconds, strict=True))
    return (
        f"Walls of bricks, everything made and checked in a running process, nothing kept, by turns, the least time "
        f"of each: {told}; on a straight line {start:.2f} s and {slope * 1e6:.1f} microseconds a brick, "
        f"R^2 {straight:.4f}."
    )


if __name__ == "__main__":
    main()
