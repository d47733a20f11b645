"""Results of pure functions, kept from one build to the next.

Terms
-----
key
    Digest of a function's name and all that goes into it; the same key means the same result, byte for byte.
round
    One build. What no build of the last `ROUNDS` asked for is let go.
shelf
    Where results outlive the process, as bytes; whoever has a disk may give one. It may forget, but never lie.
way
    Names of the fields that a function looked at of a value that holds more than it needs (`watched`).
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from typing import Any, ParamSpec, Protocol, TypeVar

from pipeline.keeping.codec import DamagedError, UncodableError, decode, encode
from pipeline.keeping.digest import Remembered, digest
from pipeline.keeping.watched import Seen, watch

P = ParamSpec("P")
T = TypeVar("T")
V = TypeVar("V")

ROUNDS = 3
"""A change taken back finds the results from before it."""
MOST_WAYS = 4
"""Ways remembered of one function; each that is tried takes a digest."""


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
    heed
        Is called before anything is made anew, and may raise to end a build that nobody waits for any more; what was
        made until then is kept.
    """

    def __init__(self, shelf: Shelf | None = None, heed: Callable[[], None] = lambda: None) -> None:
        self._shelf = shelf
        self._heed = heed
        self._results: dict[bytes, tuple[int, Any]] = {}
        self._remembered = Remembered()
        self._round = 0

    def begin(self) -> None:
        """Begin another round, and let go what has not been asked for in the last ones."""
        self._round += 1
        oldest = self._round - ROUNDS
        self._results = {key: kept for key, kept in self._results.items() if kept[0] > oldest}
        self._remembered.age()

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

    def here(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return what `of` does, and raise what it raises, but keep off the shelf what is made as soon as read."""
        inputs = (work, args, tuple(sorted(kwargs.items())))
        return self.given(inputs, lambda: work(*args, **kwargs), shelved=False)

    def given(self, inputs: tuple[object, ...], make: Callable[[], T], *, shelved: bool = True) -> T:
        """Return what ``make`` returns, where ``inputs`` name all it depends on in a form that has a digest.

        What is not ``shelved`` is kept in this process alone.

        Raises
        ------
        Exception
            Whatever ``make`` raises; nothing is kept then.
        UndigestibleError
            If an input has no canonical form.
        """
        key = digest(inputs, self._remembered)
        known = self._known(key, shelved)
        if known:
            found: T = known[0]
            return found
        result = self._made(make)
        self._keep(key, result, shelved)
        return result

    def watching(self, inputs: tuple[object, ...], value: V, make: Callable[[V], T]) -> T:
        """Return what ``make`` returns of a frozen dataclass of which it may not need everything.

        It is made anew only if a field has changed that it looked at; ``inputs`` name all else it depends on.

        Raises
        ------
        Exception
            Whatever ``make`` raises; nothing is kept then.
        UndigestibleError
            If an input, or a field that is looked at, has no canonical form.
        """
        start = digest(("ways", inputs), self._remembered)
        known_ways = self._known(start)
        ways: tuple[tuple[str, ...], ...] = known_ways[0] if known_ways else ()
        for way in ways:
            known = self._known(self._along(start, way, value))
            if known:
                found: T = known[0]
                return found
        seen: Seen = set()
        result = self._made(lambda: make(watch(value, seen)))
        way = tuple(sorted(seen))
        self._keep(start, (way, *(other for other in ways if other != way))[:MOST_WAYS])
        self._keep(self._along(start, way, value), result)
        return result

    def _along(self, start: bytes, way: tuple[str, ...], value: object) -> bytes:
        """Return the key of what a function made that looked at some fields of a value."""
        return digest((start, way, tuple(getattr(value, name) for name in way)), self._remembered)

    def _made(self, make: Callable[[], T]) -> T:
        """Return what is made, and let what is asked for on the way be kept here too."""
        self._heed()
        before = _AROUND.set(self)
        try:
            return make()
        finally:
            _AROUND.reset(before)

    def _known(self, key: bytes, shelved: bool = True) -> tuple[Any] | tuple[()]:
        """Return a result made earlier, in a tuple, from here or from the shelf; an empty one if there is none."""
        known = self._results.get(key)
        if known is not None:
            self._results[key] = (self._round, known[1])
            return (known[1],)
        stored = None if self._shelf is None or not shelved else self._shelf.get(key)
        if stored is None:
            return ()
        try:
            result = decode(stored)
        except DamagedError:
            return ()
        self._results[key] = (self._round, result)
        return (result,)

    def _keep(self, key: bytes, result: object, shelved: bool = True) -> None:
        """Keep a result, on the shelf too where it can be stored and is wanted there."""
        self._results[key] = (self._round, result)
        if self._shelf is not None and shelved:
            with suppress(UncodableError):
                self._shelf.put(key, encode(result))


class NothingKept(Kept):
    """Makes everything anew, and spends no time on keys: for a single build."""

    def of(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return what a function returns."""
        return work(*args, **kwargs)

    def here(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return what a function returns."""
        return work(*args, **kwargs)

    def given(self, inputs: tuple[object, ...], make: Callable[[], T], *, shelved: bool = True) -> T:
        """Return what ``make`` returns."""
        return make()

    def watching(self, inputs: tuple[object, ...], value: V, make: Callable[[V], T]) -> T:
        """Return what ``make`` returns."""
        return make(value)


NOTHING_KEPT = NothingKept()

_AROUND: ContextVar[Kept] = ContextVar("around", default=NOTHING_KEPT)


def around() -> Kept:
    """Return who keeps the result that is being made, so that a part of it can be kept as well.

    Of a result that is made anew often, most parts may stay the same; outside of any such making, nothing is kept.
    """
    return _AROUND.get()
