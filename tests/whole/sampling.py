"""Some of many parts, for tests that take their time over each."""

from __future__ import annotations

import os
import random
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")

PARTS = int(os.environ.get("FORESHORTEN_PARTS", "3"))
"""How many parts of a scene are looked at closely; by hand 1000, which is all of them."""


def some(things: Sequence[T], seed: str) -> list[T]:
    """Return up to ``PARTS`` things in their order, the same for the same seed."""
    if len(things) <= PARTS:
        return list(things)
    return [things[place] for place in sorted(random.Random(seed).sample(range(len(things)), PARTS))]
