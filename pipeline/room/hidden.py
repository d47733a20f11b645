"""Flat pieces that stand in the built box alone, where no eye looks.

Nobody imagines them. Yet the relief is invertible, so each shows some plane of the imagined room, and as the face of
that plane it goes the way of every other face: drawn, written, checked against the very rays that do not reach it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.problems import KeyPath
from pipeline.elements.surfaces import Face, Mark
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region, loop_of
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]


def built_face(
    part: str, corners_built: ArrayLike, up: ArrayLike, *, relief: Relief, sheet: SurfaceSheet, path: KeyPath
) -> Face:
    """Return the face of a flat piece given by its corners in the box.

    Parameters
    ----------
    part
        Part id.
    corners_built
        ``(n, 3)`` built mm, in one plane behind the apron, counter-clockwise as seen on the face the sheet lies behind.
    up
        ``(3,)`` built direction that is up on the drawing.
    relief
        The collineation.
    sheet, path
        What it is made of, and where the scene file speaks of it.
    """
    points = frames.apply(relief.imagined_from_built, corners_built)
    across = frames.unit(points[1] - points[0])
    normal = frames.unit(np.cross(across, points[-1] - points[0]))
    axes = np.column_stack([across, np.cross(normal, across)])
    return Face(
        id=part,
        imagined_from_host=np.vstack([np.column_stack([axes, points[0]]), [0.0, 0.0, 1.0]]),
        inward=normal,
        up=np.asarray(up, dtype=np.float64),
        region=Region(loop_of(curves.polygon((points - points[0]) @ axes))),
        sheet=sheet,
        cover=None,
        extent=(0.0, 0.0),
        level=False,
        path=path,
    )


def hidden_mark(host: Face, name: str, corners_built: ArrayLike, plane: Array, relief: Relief) -> Mark:
    """Return the place of a piece on the hidden face of a host, as it is seen square through the sheet.

    Parameters
    ----------
    host, name
        The host, and the part that stands there.
    corners_built
        ``(n, 3)`` built mm, on or near the hidden face, behind the apron.
    plane
        ``(4,)`` (n, c): the built plane of the host's visible face, n of unit length.
    relief
        The collineation.
    """
    corners = np.asarray(corners_built, dtype=np.float64)
    seen = corners - np.outer(corners @ plane[:3] + plane[3], plane[:3])
    points = frames.apply(relief.imagined_from_built, seen)
    matrix = host.imagined_from_host
    flat = (points - matrix[:3, 2]) @ np.linalg.pinv(matrix[:3, :2]).T
    return Mark(host=host.id, name=name, curve=curves.polygon(flat), hidden=True)
