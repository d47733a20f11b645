"""A typing mistake is answered with its line, its column and what was meant."""

from __future__ import annotations

from collections import Counter

from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from tests.fuzz.slips import KINDS, Slip, slips

COUNT, SEED = 100, 20


def answered(slip: Slip) -> tuple[bool, bool, bool]:
    """Return whether line, column and suggestion of any message are right."""
    try:
        read_scene(slip.text)
    except SceneFileError as error:
        there = [item for item in error.placed if item.line == slip.line]
        first, last = slip.columns
        column = any(item.column is not None and first <= item.column <= last for item in there)
        return bool(there), column, any(slip.meant in item.problem.remedy for item in there)
    return False, False, False


def test_a_hundred_slips_are_answered() -> None:
    """The line of all, the column of 95, what was meant of 90."""
    found = [(slip, answered(slip)) for slip in slips(SEED, COUNT)]
    missed = [
        f"{slip.kind}: {slip.text.splitlines()[slip.line - 1]!r}: {right}" for slip, right in found if not all(right)
    ]
    lines, columns, meant = (sum(right[k] for _, right in found) for k in range(3))
    assert lines == COUNT, missed
    assert columns >= 0.95 * COUNT, missed
    assert meant >= 0.90 * COUNT, missed
    assert Counter(slip.kind for slip, _ in found).keys() == KINDS.keys()
