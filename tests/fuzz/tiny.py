"""Small rooms of all that a scene can hold: few units, few parts, one sheet of paper, so that very many can be built.

Terms
-----
piece
    The text of one thing that can be put into the bare room, or of a few that belong together. Each is good by itself,
    and most of them beside any other; where two are not, the scene is refused in words.
"""

from __future__ import annotations

import pickle
import random
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

_PARTED = (Path(__file__).parent / "pieces.txt").read_text(encoding="utf-8").split("=== ")[1:]
PIECES = {name: text for name, _, text in (part.partition("\n") for part in _PARTED)}
"""By name."""
BARE = PIECES.pop("bare")
"""2.8 m wide, 2.3 m high and 4 m deep, in a box of 6 by 5 by 3 cm."""
SLOW = (
    "lined passage", "window", "ribbed vault", "ribs of sheet", "groin", "printed webs", "spiral", "mesh",
    "hollow mesh", "boards", "mitred boards", "lid", "passage", "lit", "wired", "arch", "column", "side steps",
)  # fmt: skip
"""Pieces that take ten times as long to read or to make as others."""
SOON = tuple(name for name in PIECES if name not in SLOW)
SHARE = 0.3
"""Of rooms that have one of the slow pieces."""
SURFACES = ("left", "right", "back", "floor", "ceiling", "front")


def furnished(rng: random.Random, most: int) -> dict[str, Any]:
    """Return the tables of the bare room with up to so many pieces in it, of the slow ones hardly ever two."""
    names = rng.sample(SOON, rng.randint(0, most))
    return together([*names, rng.choice(SLOW)] if rng.random() < SHARE else names)


def together(names: list[str]) -> dict[str, Any]:
    """Return the tables of the bare room and the pieces of these names; of the same key the last one holds.

    What is only there for the sake of pieces, a second material and so a material for each surface, is left out
    where none of them needs it.
    """
    texts = [PIECES[name] for name in names]
    data: dict[str, Any] = pickle.loads(_packed(BARE))
    if not any("thin" in text or "[materials" in text for text in texts):
        data = {key: table for key, table in data.items() if key not in SURFACES}
        del data["materials"]["thin"]
    if any("[vault]" in text for text in texts):
        data.pop("ceiling", None)
    for text in texts:
        _into(data, pickle.loads(_packed(text)))
    return data


def _into(data: dict[str, Any], piece: dict[str, Any]) -> None:
    for key, value in piece.items():
        there = data.get(key)
        if isinstance(there, dict) and isinstance(value, dict):
            _into(there, value)
        elif isinstance(there, list) and value and isinstance(value[0], dict):
            there += value
        else:
            data[key] = value


@cache
def _packed(text: str) -> bytes:
    """Return a text's tables in a form that gives new ones soon."""
    return pickle.dumps(tomllib.loads(text))
