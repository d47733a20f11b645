"""Scenes with flights of steps, as text."""

from __future__ import annotations

from ..scene_text import PLAIN, changed

FLAGS = """
[floor]
cover = "flags"

[covers.flags]
pattern = "flags"
length = 0.9
width = 0.6
joint = 0.02
"""

ROOM = changed(PLAIN, "thickness = 3.0", "thickness = 2.0") + FLAGS
"""1:48, eye 420 mm before the opening and 78 mm up; hall 175 mm wide, 250 mm deep in 78.5 mm, floor at 2 mm."""


def flight(name: str = "dais", **keys: float | str) -> str:
    """Return one `[[steps]]` table; what is not given: at 8 m, three risers of 0.2 m, goings of 0.48 m."""
    chosen = {"at": 8.0, "count": 3, "rise": 0.2, "going": 0.48, **keys}
    lines = [f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}" for key, value in chosen.items()]
    return "\n".join([f'[[steps]]\nname = "{name}"', *lines, ""])
