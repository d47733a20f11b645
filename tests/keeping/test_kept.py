"""What is kept, for how long, and when it is made anew."""

from __future__ import annotations

import pytest

from pipeline.keeping.kept import NOTHING_KEPT, ROUNDS, Kept

CALLS: list[object] = []


def doubled(value: float, *, plus: float = 0.0) -> float:
    """Return twice a value, and note that it was asked."""
    CALLS.append(value)
    return 2 * value + plus


def halved(value: float) -> float:
    """Return half a value, and note that it was asked."""
    CALLS.append(value)
    return value / 2


def test_the_same_call_is_made_once() -> None:
    """Another argument, another function or another keyword is another call."""
    CALLS.clear()
    kept = Kept()
    assert [kept.of(doubled, 2.0), kept.of(doubled, 2.0), kept.of(halved, 2.0)] == [4.0, 4.0, 1.0]
    assert [kept.of(doubled, 2.0, plus=1.0), kept.of(doubled, 2.0, plus=1.0)] == [5.0, 5.0]
    assert CALLS == [2.0, 2.0, 2.0]


def test_what_raises_is_tried_again() -> None:
    """No refusal is kept: the next round may find the file mended."""
    kept, tried = Kept(), []

    def fail() -> int:
        tried.append(1)
        raise ValueError

    for _ in range(2):
        try:
            kept.given((1,), fail)
        except ValueError:
            continue
    assert tried == [1, 1]


def test_who_no_longer_waits_can_end_a_build_and_keeps_what_was_made() -> None:
    """Heed is paid before anything is made anew; what is known is given all the same."""
    CALLS.clear()
    wanted = [True]

    def heed() -> None:
        if not wanted[0]:
            raise InterruptedError

    kept = Kept(heed=heed)
    assert kept.of(doubled, 3.0) == 6.0
    wanted[0] = False
    assert kept.of(doubled, 3.0) == 6.0
    with pytest.raises(InterruptedError):
        kept.of(doubled, 4.0)
    assert CALLS == [3.0]


def test_a_result_nobody_asks_for_is_let_go() -> None:
    """It stays for `ROUNDS` rounds after the last that asked for it, so that a change can be taken back."""
    CALLS.clear()
    kept = Kept()
    kept.begin()
    kept.of(doubled, 1.0)
    for _ in range(ROUNDS - 1):
        kept.begin()
    kept.of(doubled, 1.0)
    assert CALLS == [1.0]
    for _ in range(ROUNDS):
        kept.begin()
    kept.of(doubled, 1.0)
    assert CALLS == [1.0, 1.0]


def test_nothing_kept_makes_everything_anew() -> None:
    """The store of a single build spends no time on keys, and takes what has none."""
    CALLS.clear()
    assert [NOTHING_KEPT.of(doubled, 2.0), NOTHING_KEPT.of(doubled, 2.0)] == [4.0, 4.0]
    assert NOTHING_KEPT.given((object(),), lambda: 3) == 3
    assert CALLS == [2.0, 2.0]


class Drawer:
    """A shelf in memory that counts."""

    def __init__(self) -> None:
        self.held: dict[bytes, bytes] = {}

    def get(self, key: bytes) -> bytes | None:
        """Return what was put under a key."""
        return self.held.get(key)

    def put(self, key: bytes, value: bytes) -> None:
        """Hold bytes under a key."""
        self.held[key] = value


def test_what_is_made_as_soon_as_fetched_is_kept_in_the_process_alone() -> None:
    """Another process, which has the same shelf, makes it anew; the same one does not."""

    class Cupboard(dict[bytes, bytes]):
        def put(self, key: bytes, value: bytes) -> None:
            self[key] = value

    CALLS.clear()
    shelf = Cupboard()
    first, second = Kept(shelf), Kept(shelf)
    assert [kept.here(doubled, 5.0) for kept in (first, first, second)] == [10.0] * 3
    assert CALLS == [5.0, 5.0]
    assert shelf == {}
    assert [kept.of(halved, 5.0) for kept in (first, second)] == [2.5, 2.5]
    assert CALLS == [5.0, 5.0, 5.0]
    assert len(shelf) == 1
    assert NOTHING_KEPT.here(doubled, 5.0) == 10.0
