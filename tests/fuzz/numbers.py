"""Every number of a scene file, made what no number there should be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from tests.fuzz.keys import Key, numeric_keys, scene_with
from tests.fuzz.writing import Raw, placed_toml

NO_NUMBERS = ("nan", "+nan", "inf", "-inf", "1e400", "-1e400", "true", "false", '"nan"', '"inf m"', '"1e999 m"')
"""No key takes these."""
FAR_NUMBERS = (
    "0",
    "0.0",
    "-0.0",
    "-1",
    "-1e-12",
    "1e-12",
    "1e-5",
    "1e12",
    "1e6",
    "99999",
    "5e-324",
    "9" * 30,
    '"1e-12 m"',
)
"""Some keys take some of these; nothing must break."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One key with one value.

    Attributes
    ----------
    line
        Of the key in the text, where it begins in the first column.
    """

    key: Key
    value: str
    text: str
    line: int


def cases(values: tuple[str, ...]) -> Iterator[Case]:
    """Yield a small scene for each key that holds a number and each of the values."""
    for key in numeric_keys():
        for value in values:
            data = scene_with(key.path, Raw(value))
            if key.path[0] == "space" and key.path[1] in ("back_scale", "back_width"):
                del data["eye"]["distance"]  # only two of the three may be there
            text, lines = placed_toml(data)
            line = next(lines[key.path[:end]] for end in range(len(key.path), 0, -1) if key.path[:end] in lines)
            yield Case(key=key, value=value, text=text, line=line)
