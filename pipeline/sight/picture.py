"""Pictures of a room through the box's opening, from any point before it.

Terms
-----
front point
    Where a pixel's ray passes the opening's plane.
rim
    A pixel on the border between two parts, or at a bend; it is seen again with four rays.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.sight import strokes
from pipeline.sight.camera import Camera, Front, front_points, pixels_within, project
from pipeline.sight.light import Colours, Light, Paint, mix, shade
from pipeline.sight.scenery import Room, Scenery

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]
ImaginePoints = Callable[[Array], Array]
Look = tuple[Colours, NDArray[np.integer], NDArray[np.float32], NDArray[np.float32]]
"""Colours ``(n, 3)``, triangle ``(n,)`` or -1, nearness ``(n,)`` and imagined distance along y ``(n,)``."""

BAND = 32
"""Rows painted at once: small enough that the numbers stay in the processor's cache."""
RIMS = 4096
"""Rim pixels softened at once, for the same reason."""
THREADS = min(4, os.cpu_count() or 1)
"""Pictures do not depend on it; more than four wait for one another."""
CORNER = 0.9
"""Cosine between normals (26 degrees) under which neighbouring pixels of one part meet at a bend."""
JUMP = 0.04
"""Relative difference of imagined distance over which neighbouring pixels of one part do not touch."""
FOUR = ((-0.375, -0.125), (0.125, -0.375), (0.375, 0.125), (-0.125, 0.375))
"""Places of the four rays of a rim pixel, pixels from its centre."""
STROKE_WIDTH, STROKE_DARKNESS = 1.15, 0.5
"""Of a guide at the opening: pixels, and share of the tone taken away. Both thin out with the imagined depth."""

SURROUND = (0.80, 0.79, 0.77)
RIM_WOOD = (0.22, 0.17, 0.13)
SHEET_EDGE = (0.37, 0.33, 0.29)
DARKNESS = (0.085, 0.075, 0.07)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _View:
    scenery: Scenery
    room: Room
    camera: Camera
    front: Front
    light: Light
    paint: Paint
    imagine: ImaginePoints | None
    above: Array
    """``(m,)`` minus the pinhole's height above the triangles' planes."""


def render(
    scenery: Scenery,
    room: Literal["built", "imagined"],
    camera: Camera,
    *,
    front: Front,
    light: Light,
    imagine_points: ImaginePoints,
) -> Picture:
    """Return the picture ``(h, w, 3)`` of one room, painted with the imagined light, guides drawn on.

    Parameters
    ----------
    scenery
        From ``assemble``.
    room
        Which of its two rooms stands in the box.
    camera, front
        From where, and through what.
    light
        Of the imagined room.
    imagine_points
        Built points ``(n, 3)`` to imagined ones, as ``Relief.imagine_points``.
    """
    standing = scenery.built if room == "built" else scenery.imagined
    view = _View(
        scenery=scenery,
        room=standing,
        camera=camera,
        front=front,
        light=light,
        paint=mix(scenery, light),
        imagine=imagine_points if room == "built" else None,
        above=-(standing.planes[:, :3] @ np.array(camera.at) + standing.planes[:, 3]),
    )
    picture = _frame(camera, front)
    rows, columns = pixels_within(camera, front.box)
    colours, index, nearness, depth = _paint_all(view, rows, columns)
    _soften(view, colours, index, depth, (rows.start, columns.start))
    colours *= 1 - np.float32(STROKE_DARKNESS) * _guides(view, index, nearness, (rows.start, columns.start))[..., None]
    picture[rows, columns] = np.round(colours * 255).astype(np.uint8)
    return picture


def _frame(camera: Camera, front: Front) -> Picture:
    picture = np.tile(_bytes(SURROUND), (camera.height, camera.width, 1))
    box, rim = front.box, front.rim
    outer = type(box)(left=box.left - rim, right=box.right + rim, bottom=box.bottom - rim, top=box.top + rim)
    rows, columns = pixels_within(camera, outer)
    picture[rows, columns] = np.tile(_bytes(RIM_WOOD), (columns.stop - columns.start, 1))
    return picture


def _bytes(colour: tuple[float, float, float]) -> Picture:
    return np.round(np.array(colour) * 255).astype(np.uint8)


def _paint_all(view: _View, rows: slice, columns: slice) -> Look:
    across = np.arange(columns.start, columns.stop)

    def band(top: int) -> Look:
        down = np.arange(top, min(top + BAND, rows.stop))
        colours, index, nearness, depth = _look(view, np.tile(across, len(down)), np.repeat(down, len(across)))
        shape = (len(down), len(across))
        return colours.reshape(*shape, 3), index.reshape(shape), nearness.reshape(shape), depth.reshape(shape)

    with ThreadPoolExecutor(THREADS) as pool:
        bands = list(pool.map(band, range(rows.start, rows.stop, BAND)))
    colours, index, nearness, depth = (np.concatenate(parts) for parts in zip(*bands, strict=True))
    return colours, index, nearness, depth


def _look(view: _View, columns: ArrayLike, rows: ArrayLike) -> Look:
    """Return what is seen at places ``(n,)`` of the picture."""
    at = np.array(view.camera.at)
    x, z = front_points(view.camera, columns, rows)
    ways = np.stack([x - at[0], np.full(len(x), -at[1]), z - at[2]], axis=1)
    index = view.room.first(np.broadcast_to(at, ways.shape), ways)
    missed = np.flatnonzero(index < 0)
    if len(missed) == 0:
        return _surface(view, index, ways)
    met = np.flatnonzero(index >= 0)
    colours = np.empty((len(x), 3), dtype=np.float32)
    nearness, depth = np.zeros(len(x), dtype=np.float32), np.zeros(len(x), dtype=np.float32)
    colours[missed] = _background(view.front, x[missed], z[missed])
    colours[met], _, nearness[met], depth[met] = _surface(view, index[met], ways[met])
    return colours, index, nearness, depth


def _surface(view: _View, index: NDArray[np.integer], ways: Array) -> Look:
    at = np.array(view.camera.at)
    planes = view.room.planes[index]
    # n . d = 0 would mean a plane seen exactly edge on, which covers no pixel.
    t = view.above[index] / np.einsum("ij,ij->i", planes[:, :3], ways)
    points = ways * t[:, None]
    points += at
    imagined = points if view.imagine is None else view.imagine(points)
    colours = shade(view.scenery, view.paint, view.light, index, imagined)
    depth = (imagined[:, 1] - view.light.eye[1]).astype(np.float32)
    return colours, index, (1 / t).astype(np.float32), depth


def _background(front: Front, x: Array, z: Array) -> Colours:
    hall = front.hall
    within = (x >= hall.left) & (x <= hall.right) & (z >= hall.bottom) & (z <= hall.top)
    colours: Colours = np.array([SHEET_EDGE, DARKNESS], dtype=np.float32)[within.astype(np.int64)]
    return colours


def _soften(
    view: _View,
    colours: Colours,
    index: NDArray[np.integer],
    depth: NDArray[np.float32],
    corner: tuple[int, int],
) -> None:
    """Repaint the rim pixels of ``colours`` in place with the mean of four rays."""
    down, across = np.nonzero(_rims(view.scenery, index, depth))
    aside = np.array(FOUR)

    def soften(first: int) -> None:
        rows, columns = down[first : first + RIMS, None], across[first : first + RIMS, None]
        places = (columns + corner[1] + aside[:, 0]).ravel(), (rows + corner[0] + aside[:, 1]).ravel()
        colours[rows[:, 0], columns[:, 0]] = _look(view, *places)[0].reshape(-1, len(FOUR), 3).mean(axis=1)

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(soften, range(0, len(down), RIMS)))


def _rims(scenery: Scenery, index: NDArray[np.integer], depth: NDArray[np.float32]) -> NDArray[np.bool_]:
    rim = np.zeros(index.shape, dtype=bool)
    width, normals = index.shape[1], scenery.planes[:, :3]
    flat_index, flat_depth, flat_rim = index.ravel(), depth.ravel(), rim.ravel()
    for step, differs in (
        (1, np.pad(index[:, 1:] != index[:, :-1], ((0, 0), (0, 1)))),
        (width, np.pad(index[1:] != index[:-1], ((0, 1), (0, 0)))),
    ):
        here = np.flatnonzero(differs)
        there = here + step
        one, two = flat_index[here], flat_index[there]
        nothing = (one < 0) | (two < 0)
        bend = np.einsum("ij,ij->i", normals[one], normals[two]) < CORNER
        far, near = flat_depth[here], flat_depth[there]
        jump = np.abs(far - near) > JUMP * np.maximum(far, near)
        border = nothing | bend | jump | (scenery.part[one] != scenery.part[two])
        flat_rim[here[border]] = True
        flat_rim[there[border]] = True
    return rim


def _guides(
    view: _View, index: NDArray[np.integer], nearness: NDArray[np.float32], corner: tuple[int, int]
) -> NDArray[np.float32]:
    lines = view.room.lines
    if len(lines) == 0 or index.size == 0:
        return np.zeros(index.shape, dtype=np.float32)
    column, row, near = project(view.camera, lines)
    ends = np.stack([column - corner[1], row - corner[0]], axis=2)
    distance = -view.light.eye[1]
    widths = STROKE_WIDTH * distance / (distance + view.scenery.imagined.lines[:, :, 1])
    seen_part = np.where(index >= 0, view.scenery.part[index], -1)
    return strokes.cover(ends, near, widths, parts=view.scenery.line_part, seen_part=seen_part, seen_nearness=nearness)
