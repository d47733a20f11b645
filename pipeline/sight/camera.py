"""A pinhole camera before the box, its picture plane the opening itself.

Looking square at the opening keeps every vertical vertical, wherever the camera stands: only the pinhole moves,
the picture plane y = 0 stays. Pixel centres lie at whole numbers (column, row), row 0 at the top.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

MARGIN = 0.02
"""Left free around the rim, of the picture's size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A rectangle on the opening's plane, mm, built frame."""

    left: float
    right: float
    bottom: float
    top: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """The box as seen from the front: its inside outline, the room's outline in it, and the rim around it, mm."""

    box: Rectangle
    hall: Rectangle
    rim: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A pinhole and the part of the plane y = 0 its picture shows.

    Attributes
    ----------
    at
        (x, y, z) of the pinhole, mm, y below zero.
    left, top
        Of the picture's outer edge on the plane y = 0, mm.
    pixel
        Size of a pixel on that plane, mm.
    width, height
        Of the picture in pixels.
    """

    at: tuple[float, float, float]
    left: float
    top: float
    pixel: float
    width: int
    height: int


def aim(at: tuple[float, float, float], front: Front, width: int = 1200, height: int = 900) -> Camera:
    """Return the camera at ``at`` that shows the whole front with its rim, centred, as large as it goes.

    Raises
    ------
    ValueError
        If the point is not before the opening.
    """
    if not at[1] < 0:
        raise ValueError("the camera must stand before the opening")
    box, border = front.box, 2 * front.rim
    wide, high = box.right - box.left + border, box.top - box.bottom + border
    pixel = (1 + 2 * MARGIN) * max(wide / width, high / height)
    middle_x, middle_z = (box.left + box.right) / 2, (box.bottom + box.top) / 2
    return Camera(
        at=at,
        left=middle_x - pixel * width / 2,
        top=middle_z + pixel * height / 2,
        pixel=pixel,
        width=width,
        height=height,
    )


def front_points(camera: Camera, columns: ArrayLike, rows: ArrayLike) -> tuple[Array, Array]:
    """Return x and z, each ``(n,)`` mm, of picture places on the plane y = 0."""
    x: Array = camera.left + camera.pixel * (np.asarray(columns, dtype=np.float64) + 0.5)
    z: Array = camera.top - camera.pixel * (np.asarray(rows, dtype=np.float64) + 0.5)
    return x, z


def project(camera: Camera, points: Array) -> tuple[Array, Array, Array]:
    """Return column, row and nearness of points ``(..., 3)`` behind the opening's plane.

    Nearness is (distance of the picture plane) / (distance along y): 1 at the opening, falling behind it. Along a
    straight line it is linear in the picture.
    """
    x, y, z = camera.at
    nearness: Array = -y / (points[..., 1] - y)
    column: Array = (x + (points[..., 0] - x) * nearness - camera.left) / camera.pixel - 0.5
    row: Array = (camera.top - z - (points[..., 2] - z) * nearness) / camera.pixel - 0.5
    return column, row, nearness


def pixels_within(camera: Camera, area: Rectangle) -> tuple[slice, slice]:
    """Return the rows and columns whose pixel centres lie in a rectangle of the plane y = 0."""
    columns, rows = np.arange(camera.width), np.arange(camera.height)
    x, _ = front_points(camera, columns, columns)
    _, z = front_points(camera, rows, rows)
    across = np.flatnonzero((x >= area.left) & (x <= area.right))
    down = np.flatnonzero((z >= area.bottom) & (z <= area.top))
    return _run(down), _run(across)


def _run(indices: NDArray[np.int64]) -> slice:
    return slice(int(indices[0]), int(indices[-1]) + 1) if len(indices) else slice(0, 0)
