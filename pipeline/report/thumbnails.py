"""Panels as small pictures for the list of parts."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import path_of
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel

FINE = 0.2
"""mm; a thumbnail is some twenty times smaller than the panel."""
ROOM = (90.0, 60.0)
"""Size of the picture's own coordinates."""


def panel_thumbnail(panel: Panel | BentPanel) -> str:
    """Return the cut outline and the holes of a panel as an SVG element without ids, styles or texts."""
    loops = [flatten_path(path_of(loop), FINE) for loop in panel.cut.loops]
    low, high = loops[0].min(axis=0), loops[0].max(axis=0)
    scale = min((ROOM[0] - 4) / (high[0] - low[0]), (ROOM[1] - 4) / (high[1] - low[1]))
    middle = np.array(ROOM) / 2

    def run(loop: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
        places = middle + (loop - (low + high) / 2) * [scale, -scale]
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in places) + "Z"

    return (
        f'<svg viewBox="0 0 {ROOM[0]:g} {ROOM[1]:g}" aria-hidden="true"><path fill="#efe3cb" fill-rule="evenodd" '
        f'stroke="#3b2f20" stroke-width="1" d="{"".join(map(run, loops))}"/></svg>'
    )
