"""The front frame's outside: what of the opening the panels leave bare it covers, up to the clearance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall import Outside
from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.problems import Problem, SceneError
from pipeline.room.inside import Inside, border_lines, inset
from pipeline.room.surface_sheets import total
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

BARE = 1e-6
"""mm of bare box beside the sheets that counts as none (rounding)."""

READ = 0.1
"""mm; a measured box is not known closer, so a wedge that gapes by no more beyond the clearance counts as none."""


def frame_outside(
    scene: Scene, sheets: dict[str, SurfaceSheet], inside: Inside, section: tuple[float, float, float]
) -> Outside | None:
    """Return the front frame's outer corners on the opening, or nothing where none is built.

    ``section`` is the hall's width, height and floor level at the opening, mm.

    Raises
    ------
    SceneError
        If a frame is asked for, or needed, that would have no bar on one side.
    """
    width, height, floor = section
    bare = _bare(sheets, inside, width, floor + height) if inside.measured else _even(scene, sheets, width, height)
    rounding = READ if inside.measured else BARE
    needed = scene.vault is not None or bare > scene.box.clearance + rounding
    wanted = scene.front.build if scene.front.build is not None else needed
    if not wanted:
        return None
    corners = _corners(scene, inside)
    hall = [(-width / 2, floor), (width / 2, floor), (width / 2, floor + height), (-width / 2, floor + height)]
    rims = [line[:2] @ corner + line[2] for line in border_lines(corners) for corner in np.array(hall)]
    if min(rims) <= 0:
        problem = Problem(
            path=("front", "build"),
            found="the hall reaches the edge of the box on one side, so a front frame would have no bar there",
            allowed="false",
            remedy="leave the front frame out, or make the hall smaller",
        )
        raise SceneError([problem])
    (a, b), (c, d), (e, f), (g, h) = corners.tolist()
    return (a, b), (c, d), (e, f), (g, h)


def _corners(scene: Scene, inside: Inside) -> Array:
    clearance = scene.box.clearance
    if inside.measured:
        return inset(inside.opening[:, [0, 2]], clearance)
    half, top = scene.box.width / 2 - clearance, scene.box.height - clearance
    return np.array([(-half, 0.0), (half, 0.0), (half, top), (-half, top)])


def _even(scene: Scene, sheets: dict[str, SurfaceSheet], width: float, height: float) -> float:
    """Return the widest strip of a rectangular opening beside the sheets, mm."""
    half = scene.box.width / 2
    return max(
        half - width / 2 - total(sheets, "left-wall"),
        half - width / 2 - total(sheets, "right-wall"),
        scene.box.height - total(sheets, "floor") - height - total(sheets, "ceiling"),
    )


def _bare(sheets: dict[str, SurfaceSheet], inside: Inside, width: float, top: float) -> float:
    """Return the same of an opening that is not square: its widest gap at the corners of the sheets, mm."""
    left, right = -width / 2 - total(sheets, "left-wall"), width / 2 + total(sheets, "right-wall")
    high = top + total(sheets, "ceiling")
    _, *lines = border_lines(inside.opening[:, [0, 2]])
    beside = [((right, 0.0), (right, high)), ((right, high), (left, high)), ((left, high), (left, 0.0))]
    return max(float(line[:2] @ end + line[2]) for line, ends in zip(lines, beside, strict=True) for end in ends)
