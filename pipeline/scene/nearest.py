"""The known word a mistyped one was most likely meant to be."""

from __future__ import annotations

from collections.abc import Iterable

LONGEST_WORD = 60
"""Characters; a longer word is no slip of the fingers."""


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word fewest slips away, or nothing if none is near.

    A word is near within one slip for every three letters of the longer one, at least one. Words that begin alike
    are near too (``colour`` and ``colours``, ``min`` and ``min_wall``).
    """
    plain = _plain(word)
    if not plain or len(word) > LONGEST_WORD:
        return None
    allowed = {other: max(1, max(len(plain), len(other)) // 3) for other in known}
    alike = {other: _plain(other) for other in allowed}
    # Each letter that one has more than the other is a slip: most words need not be held against each other.
    close = [other for other in allowed if abs(len(alike[other]) - len(plain)) <= allowed[other]]
    counts = {other: slips(plain, alike[other]) for other in close}
    near = sorted((count, other) for other, count in counts.items() if count <= allowed[other])
    if near:
        return near[0][1]
    begun = [other for other in alike if len(plain) > 2 and alike[other].startswith(plain)]
    return min(begun, key=lambda other: (len(alike[other]), other), default=None)  # the rest of it is what is left out


def slips(word: str, other: str) -> int:
    """Return the number of letters added, left out, changed or swapped with their neighbour (Damerau, 1964).

    The restricted form: no letter takes part in two slips.
    """
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, letter in enumerate(word, 1):
        row = [i]
        for j, wanted in enumerate(other, 1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != wanted))
            if i > 1 and j > 1 and letter == other[j - 2] and word[i - 2] == wanted:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        before, last = last, row
    return last[-1]


def _plain(word: str) -> str:
    return word.lower().replace("-", "_").replace(" ", "_").strip("_")
