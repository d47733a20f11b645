"""The smallest side of any brick, flag or plank once built: what still has to be cut, scored or painted.

Terms
-----
unit
    A whole brick, flag or plank of a cover, laid hard against the back wall, where the relief makes it smallest.
side
    One of a unit's visible sizes; those along the hall are squeezed most.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.covers.table import SIZES_USED, CoverTable
from pipeline.elements.hall_shape import Hall
from pipeline.elements.vault.shape import shape_of
from pipeline.elements.vault.table import VaultTable
from pipeline.relief.collineation import Relief
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

SAMPLES = 65
"""Places looked at along half a vault's profile, and along the end of a face whose units lie aslant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """The side of a unit: built mm, of which surface's table, and which of the cover's sizes."""

    size: float
    surface: str
    which: str


def smallest_unit(scene: Scene, hall: Hall, relief: Relief) -> Side | None:
    """Return the smallest built side of any unit on the hall's surfaces and the vault; nothing where all are plain."""
    return min(_sides(scene, hall, relief), key=lambda side: side.size, default=None)


def _sides(scene: Scene, hall: Hall, relief: Relief) -> Iterator[Side]:
    for surface in ("left", "right", "back", "floor", "ceiling"):
        table = getattr(scene, surface)
        if table.cover is None or not table.build or (surface == "ceiling" and scene.vault is not None):
            continue
        for which, u, v in _sizes(scene.covers[table.cover], hall, level=surface in ("floor", "ceiling")):
            yield Side(size=_built(surface, hall, relief, u, v), surface=surface, which=which)
    if scene.vault is not None and scene.vault.cover is not None:
        for which, u, v in _sizes(scene.covers[scene.vault.cover], hall, level=False):
            for chords in _on_vault(scene.vault, hall, u, v):
                yield Side(size=_shortest(relief, *chords), surface="vault", which=which)


def _sizes(cover: CoverTable, hall: Hall, *, level: bool) -> Iterator[tuple[str, float, float]]:
    """Yield each visible size of a unit and the step (u, v) it is in host coordinates, imagined mm."""
    for which in SIZES_USED[cover.pattern]:
        size = hall.millimetres(getattr(cover, which))
        if cover.pattern == "herringbone":
            yield which, size / math.sqrt(2), size / math.sqrt(2)
        elif cover.pattern == "planks":
            turned = level != cover.across
            yield (which, size, 0.0) if (which == "length") != turned else (which, 0.0, size)
        else:
            courses = "width" if cover.pattern == "flags" else "height"
            yield (which, 0.0, size) if which == courses else (which, size, 0.0)


def _built(surface: str, hall: Hall, relief: Relief, u: float, v: float) -> float:
    """Return the least built length of a step anywhere along the end of a surface that meets the back wall.

    A step along the hall is shortest straight before the eye, where no shift toward the vanishing point lengthens it;
    a step aslant where the shift goes against it most.
    """
    ex, _, ez = relief.eye
    if surface == "back":
        return math.hypot(u, v) * relief.back_scale
    wall = surface in ("left", "right")
    straight, low, size = (ez, hall.floor, hall.height) if wall else (ex, -hall.width / 2, hall.width)
    at = np.append(np.linspace(low, low + size, SAMPLES), straight) if u and v else np.array([straight])
    along, across = (u, v) if wall else (v, u)
    far = np.full(len(at), hall.depth)
    near = np.maximum(far - along, 0.0)
    if wall:
        side = np.full(len(at), hall.width / 2 * (1 if surface == "right" else -1))
        starts, ends = [side, near, at], [[side, far, at + way * across] for way in (1, -1)]
    else:
        level = np.full(len(at), hall.floor + (hall.height if surface == "ceiling" else 0.0))
        starts, ends = [at, near, level], [[at + way * across, far, level] for way in (1, -1)]
    return min(_shortest(relief, np.column_stack(starts), np.column_stack(end)) for end in ends)


def _on_vault(vault: VaultTable, hall: Hall, u: float, v: float) -> Iterator[tuple[Array, Array]]:
    """Yield the ends, twice ``(n, 3)`` imagined mm, of a step on each kind of web in the last bay.

    On webs u runs along the rulings, v along the arc.
    """
    shape = shape_of(vault, hall)
    at = np.linspace(-1.0, 1.0, 2 * SAMPLES - 1)
    x, z = at * shape.width / 2, shape.springing + shape.rise * shape.share(at)
    way = _toward_crown(np.column_stack([x, z])) * v
    far = np.full(len(at), hall.depth)
    yield (
        np.column_stack([x, np.maximum(far - u, 0.0), z]),
        np.column_stack([x + way[:, 0], far, z + way[:, 1]]),
    )
    if vault.form == "groin":
        near, end = shape.lines[-2:]
        y = (near + end) / 2 + at * (end - near) / 2
        way = _toward_crown(np.column_stack([y, z])) * v
        groin = np.abs(x)
        yield np.column_stack([groin, y, z]), np.column_stack([groin + u, y + way[:, 0], z + way[:, 1]])


def _toward_crown(section: Array) -> Array:
    """Return the unit tangents ``(n, 2)`` of a vault's section at its points, both halves upward."""
    ways = np.gradient(section, axis=0)
    ways[len(ways) // 2 + 1 :] *= -1
    out: Array = ways / np.linalg.norm(ways, axis=1)[:, None]
    return out


def _shortest(relief: Relief, starts: Array, ends: Array) -> float:
    built = relief.build_points(np.concatenate([starts, ends]))
    return float(np.linalg.norm(built[len(starts) :] - built[: len(starts)], axis=1).min())
