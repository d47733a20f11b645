"""A small share of what ``python -m tests.fuzz`` does, the same each time; and that it would tell."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz import judging
from tests.fuzz.growing import grown
from tests.fuzz.judging import SlowError, WrongError, judge_read, limits, look_at, writes_only_in
from tests.fuzz.running import scene
from tests.strategies import scenes

ROOT = Path(__file__).parents[2]


def test_a_share_of_mutated_and_random_scenes_breaks_nothing(tmp_path: Path) -> None:
    """No fault, no hang, no gigabyte, nothing written elsewhere; in processes of their own."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", "--reads", "2000", "--makes", "40", "--builds", "15", "--seed", "3",
         "--keep", str(tmp_path)],
        check=False, cwd=ROOT, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    assert list(tmp_path.iterdir()) == []
    assert " refused" in run.stdout
    assert " built" in run.stdout


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(scenes(behind=True), st.integers(0, 10**6))
def test_a_random_room_with_odd_keys_is_taken_or_refused_in_words(text: str, seed: int) -> None:
    """Rooms that could be built, a few of their keys changed to what they may be and hardly ever are."""
    assert judge_read(grown(random.Random(seed), (text,), 3, wild=0.4)).outcome in ("taken", "refused")


def test_the_same_numbers_give_the_same_scene() -> None:
    """Whatever breaks can be made again."""
    assert scene("read", 1, 2) == scene("read", 1, 2)
    assert len({scene("read", 1, number) for number in range(200)}) > 150


def test_what_takes_too_long_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """The alarm rings in the middle of a loop."""
    monkeypatch.setattr(judging, "MOST_SECONDS", 0.05)
    with pytest.raises(SlowError), limits():
        sum(number for number in count() if number < 0)


def test_what_holds_too_much_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A new peak counts, over what was held before."""
    monkeypatch.setattr(judging, "MOST_KILOBYTES", -1)
    monkeypatch.setattr(judging, "_peak", iter((1, 10**9, 10**9, 10**9)).__next__)
    with pytest.raises(WrongError, match="it held"), limits():
        pass


def test_what_is_written_elsewhere_is_told(tmp_path: Path) -> None:
    """By any way of writing that Python tells of; reading is free, and so is the folder itself."""
    for write in ((tmp_path / "a").write_bytes, lambda _: (tmp_path / "b").mkdir()):
        with pytest.raises(WrongError, match="outside"), writes_only_in(tmp_path / "out"):
            write(b"")
    with writes_only_in(tmp_path):
        (tmp_path / "c").write_bytes(b"")
        (tmp_path / "c").read_bytes()


def test_numbers_that_are_none_are_told() -> None:
    """In drawings and solids."""
    for name, content in (("a.svg", b"<svg d='M nan 1'/>"), ("a.dxf", b" 10\ninf\n"), ("a.stl", bytes(80) + b"\x01")):
        with pytest.raises((WrongError, ValueError)):
            look_at(name, content)
