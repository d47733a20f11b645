"""Letters of single strokes, to be drawn by a pen, scored by a knife or burnt by a laser.

Terms
-----
unit
    A sixth of the letters' height. Letters are four units wide and stand one and a half apart.

Part ids are all in one case, so one set of capitals does: they read at a smaller size than small letters, have no
tails, and need straight strokes only. A nought is crossed, so that it is no O.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TALL, WIDE, APART = 6, 4.0, 1.5
"""Units."""

STROKES = {
    "a": "00 04 26 44 40|02 42",
    "b": "00 06 36 45 44 33 03|33 42 41 30 00",
    "c": "45 36 16 05 01 10 30 41",
    "d": "00 06 26 44 42 20 00",
    "e": "46 06 00 40|03 33",
    "f": "46 06 00|03 33",
    "g": "45 36 16 05 01 10 30 41 43 23",
    "h": "00 06|40 46|03 43",
    "i": "10 30|20 26|16 36",
    "j": "46 41 30 10 01",
    "k": "00 06|46 03 40",
    "l": "06 00 40",
    "m": "00 06 23 46 40",
    "n": "00 06 40 46",
    "o": "01 05 16 36 45 41 30 10 01",
    "p": "00 06 36 45 44 33 03",
    "q": "01 05 16 36 45 41 30 10 01|22 40",
    "r": "00 06 36 45 44 33 03|23 40",
    "s": "45 36 16 05 04 13 33 42 41 30 10 01",
    "t": "06 46|26 20",
    "u": "06 01 10 30 41 46",
    "v": "06 20 46",
    "w": "06 10 23 30 46",
    "x": "00 46|06 40",
    "y": "06 23 46|23 20",
    "z": "06 46 00 40",
    "0": "01 05 16 36 45 41 30 10 01|12 34",
    "1": "05 26 20|10 30",
    "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 13|33 42 41 30 10 01",
    "4": "30 36 02 42",
    "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 03",
    "7": "06 46 10",
    "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "01 10 30 41 45 36 16 05 04 13 43",
    "-": "13 33",
    "+": "03 43|21 25",
    "=": "02 42|04 44",
    ".": "20 21",
    ",": "21 10",
    ":": "21 22|24 25",
    "/": "00 46",
    "(": "36 25 21 30",
    ")": "16 25 21 10",
    "_": "00 40",
    " ": "",
}
"""The corners of each stroke as x and y in units; strokes are parted by a bar."""

UNKNOWN = "05 16 36 45 44 23 22|20 21"
"""What stands for a letter that is not in the table."""


def letter_strokes(text: str, height: float) -> Array:
    """Return the strokes ``(n, 2, 2)`` of a line of text, its lower left corner at 0, mm.

    Parameters
    ----------
    text
        Capitals and small letters are one.
    height
        Of a letter, mm, above zero.
    """
    unit = height / TALL
    rows: list[list[tuple[float, float]]] = []
    for column, letter in enumerate(text.lower()):
        left = column * (WIDE + APART)
        for stroke in STROKES.get(letter, UNKNOWN).split("|"):
            corners = [(left + int(place[0]), float(place[1])) for place in stroke.split()]
            rows += [[a, b] for a, b in pairwise(corners)]
    return np.array(rows, dtype=np.float64).reshape(-1, 2, 2) * unit


def text_width(text: str, height: float) -> float:
    """Return how wide a line of text is, mm."""
    return max(0.0, len(text) * (WIDE + APART) - APART) * height / TALL
