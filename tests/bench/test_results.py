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
    walls = [one("walls", "", 9.0, growth={str(n): 1.0 + n * 20e-6 for n in (1_000, 10_000, 100_000)})]
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
    assert "1.02 s for 1,000, 1.20 s for 10,000, 3.00 s for 100,000; on a straight line 1.00 s and 20.0" in page
    assert "microseconds a brick, R^2 1.0000" in page
    assert "| walls, ours" not in page
    assert "cores of abacus, Plan, Python 3.11, 2001-02-03" in page
    assert "secret" not in page


def test_how_far_times_are_from_a_straight_line_is_told() -> None:
    """1, 2 and 4 s at 0, 1 and 2 thousand: the line 5/6 + 1.5 n leaves 1/6 of 14/3 s^2."""
    walls = [one("walls", "", 9.0, growth={"0": 1.0, "1000": 2.0, "2000": 4.0})]
    page = set_out({"machine_info": MACHINE, "datetime": "2001-02-03T04:05:06", "benchmarks": walls})
    assert f"0.83 s and 1500.0 microseconds a brick, R^2 {1 - (1 / 6) / (14 / 3):.4f}" in page
