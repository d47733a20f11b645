"""Results of pure functions, kept from one build to the next.

Terms
-----
key
    Digest of a function's name and all that goes into it; the same key means the same result, byte for byte.
round
    One build. What no build of the last `ROUNDS` asked for is let go.
shelf
    Where results outlive the process, as bytes; whoever has a disk may give one. It may forget, but never lie.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any, ParamSpec, Protocol, TypeVar

from pipeline.keeping.codec import DamagedError, UncodableError, decode, encode
from pipeline.keeping.digest import Remembered, digest

P = ParamSpec("P")
T = TypeVar("T")

ROUNDS = 3
"""A change taken back finds the results from before it."""


class Shelf(Protocol):
    """Bytes by key, that outlive the process."""

    def get(self, key: bytes) -> bytes | None:
        """Return what was put under a key, whole and unharmed, or nothing."""

    def put(self, key: bytes, value: bytes) -> None:
        """Keep bytes under a key, if that is possible."""


class Kept:
    """Results by key, for as long as builds ask for them.

    The results are shared by all builds that ask, so whoever takes one leaves it as it is.

    Parameters
    ----------
    shelf
        Where results outlive the process; nothing if they need not.
    """

    def __init__(self, shelf: Shelf | None = None) -> None:
        self._shelf = shelf
        self._results: dict[bytes, tuple[int, Any]] = {}
        self._remembered: Remembered = {}
        self._round = 0

    def begin(self) -> None:
        """Begin another round, and let go what has not been asked for in the last ones."""
        self._round += 1
        oldest = self._round - ROUNDS
        self._results = {key: kept for key, kept in self._results.items() if kept[0] > oldest}
        self._remembered = {}

    def of(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return what a pure function returns, made anew only if no earlier call was given the same.

        Raises
        ------
        Exception
            Whatever the function raises; nothing is kept then.
        UndigestibleError
            If something that goes in has no canonical form.
        """
        return self.given((work, args, tuple(sorted(kwargs.items()))), lambda: work(*args, **kwargs))

    def given(self, inputs: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what ``make`` returns, where ``inputs`` name all it depends on in a form that has a digest.

        Raises
        ------
        Exception
            Whatever ``make`` raises; nothing is kept then.
        UndigestibleError
            If an input has no canonical form.
        """
        key = digest(inputs, self._remembered)
        known = self._results.get(key)
        result: T = self._fetched(key, make) if known is None else known[1]
        self._results[key] = (self._round, result)
        return result

    def _fetched(self, key: bytes, make: Callable[[], T]) -> T:
        """Return a result from the shelf, or made and put there."""
        if self._shelf is None:
            return make()
        stored = self._shelf.get(key)
        if stored is not None:
            with suppress(DamagedError):
                found: T = decode(stored)
                return found
        result = make()
        with suppress(UncodableError):
            self._shelf.put(key, encode(result))
        return result


class NothingKept(Kept):
    """Makes everything anew, and spends no time on keys: for a single build."""

    def of(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return what a function returns."""
        return work(*args, **kwargs)

    def given(self, inputs: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what ``make`` returns."""
        return make()


NOTHING_KEPT = NothingKept()
