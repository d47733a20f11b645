"""The page of results says what pytest-benchmark measured."""

from __future__ import annotations

from typing import Any

from .results import set_out

MACHINE = {"cpu": {"brand_raw": "abacus"}, "system": "Plan", "python_version": "3.11", "node": "secret"}


def one(group: str | None, way: str, seconds: float, **extra: object) -> dict[str, Any]:
    """Return a benchmark as pytest-benchmark tells it."""
    params = {"way": way} if way else None
    stats = {"median": seconds}
    return {"name": "test_some_thing", "group": group, "params": params, "stats": stats, "extra_info": extra}


def test_each_thing_stands_beside_its_floor_and_the_straightforward_way() -> None:
    """Bricks at 1 s and 20 microseconds each: a straight line, R^2 = 1."""
    walls = [one(f"cold build, {n:,} bricks", "ours", 1.0 + n * 20e-6) for n in (1_000, 10_000, 100_000)]
    nesting = [
        one("nesting", "ours", 0.5, sheets=5),
        one("nesting", "straightforward", 2.0),
        one("nesting", "floor", 0.25),
    ]
    some = one(None, "", 0.125)
    page = set_out({"machine_info": MACHINE, "datetime": "2001-02-03T04:05:06", "benchmarks": [*nesting, some, *walls]})
    assert "| nesting | 0.5 | 0.25 | 2 | 2 | 0.25 |" in page
    assert "| some thing | 0.125 |  |  |  |  |" in page
    assert "| nesting, ours: sheets | 5 |" in page
    assert "1.00 s and 20.0 microseconds a brick, R^2 1.0000" in page
    assert "cores of abacus, Plan, Python 3.11, 2001-02-03" in page
    assert "secret" not in page
