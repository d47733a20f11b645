"""What built things stand between an LED and the opening that it shines in by.

Terms
-----
pane
    Four built corners round what of an opening is open to a light, on the wall's visible face.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.casting import polygon
from pipeline.geometry.curves import Path
from pipeline.geometry.meshes import Mesh, join
from pipeline.parts.lighting.model import Gate
from pipeline.relief.collineation import Relief
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Corner = tuple[float, float, float]
Pane = tuple[Corner, Corner, Corner, Corner]

ACROSS = 24
"""Rays through an opening along each side of the box round it."""
FAR = 1e6
"""mm; farther than anything in a box."""
NEAR = 0.01
"""mm; what is farther than this from the box round some rays is met by none of them, however they are rounded."""
SLICES = 12
"""Boxes that a cone of light is told by."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shaders:
    """Bodies that may stand in light, ready for rays, and whose each triangle is."""

    target: Target
    names: tuple[str, ...]


def pane_of(gate: Gate, loops: Sequence[Path], relief: Relief) -> Pane:
    """Return the pane of an opening."""
    x0, y0, x1, y1 = polygon(loops).bounds
    corners = relief.build_points(frames.apply(gate.matrix, [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    a, b, c, d = ((float(x), float(y), float(z)) for x, y, z in corners)
    return a, b, c, d


def cone_boxes(place: Corner, size: float, pane: Pane) -> list[Array]:
    """Return boxes ``(2, 3)``, built mm, that together hold all light from an LED to an opening."""
    led, corners = np.array(place), np.array(pane)
    sections = [
        np.vstack([at - (1 - share) * size / 2, at + (1 - share) * size / 2])
        for share in np.linspace(0.0, 1.0, SLICES + 1)
        for at in [led + share * (corners - led)]
    ]
    return [
        np.array([np.minimum(near.min(axis=0), far.min(axis=0)), np.maximum(near.max(axis=0), far.max(axis=0))])
        for near, far in pairwise(sections)
    ]


def shaders(gate: Gate, bodies: Iterable[tuple[str, Mesh]], between: Array) -> Shaders:
    """Return the bodies that may stand in light between points ``(n, 3)``, ready for rays.

    The wall and what lines or fills the opening are left out, and what is nowhere in the box round the points.
    """
    low, high = between.min(axis=0) - NEAR, between.max(axis=0) + NEAR
    others = [
        (name, body)
        for name, body in bodies
        if name != gate.host and not name.startswith(f"{gate.id}-") and len(body.triangles)
        and (body.vertices.max(axis=0) >= low).all() and (body.vertices.min(axis=0) <= high).all()
    ]  # fmt: skip
    names = tuple(name for name, body in others for _ in body.triangles)
    return Shaders(target=Target.on(join([body for _, body in others])), names=names)


def in_the_light(
    gate: Gate, loops: Sequence[Path], led: tuple[Corner, float], relief: Relief, bodies: Iterable[tuple[str, Mesh]]
) -> dict[str, float]:
    """Return the share of an opening's light that each built thing takes, the most first.

    ``led`` is its middle and its diameter: what stands within it is its own, such as the ends of its wires.
    """
    shape = polygon(loops)
    x0, y0, x1, y1 = shape.bounds
    share = (np.arange(ACROSS) + 0.5) / ACROSS
    u, v = (grid.ravel() for grid in np.meshgrid(x0 + share * (x1 - x0), y0 + share * (y1 - y0)))
    flat = np.column_stack([u, v])[shapely.contains_xy(shape, u, v)]
    if not len(flat):
        return {}
    starts = relief.build_points(frames.apply(gate.matrix, flat))
    ways = np.array(led[0]) - starts
    among = shaders(gate, bodies, np.vstack([starts, led[0]]))
    index, distance = among.target.cast(starts, ways)
    met = index[(index >= 0) & (distance < np.linalg.norm(ways, axis=1) - led[1] / 2)]
    counts: dict[str, int] = {}
    for number in met:
        counts[among.names[number]] = counts.get(among.names[number], 0) + 1
    return {name: count / len(flat) for name, count in sorted(counts.items(), key=lambda one: -one[1])}


def free_way(gate: Gate, start: Array, way: Array, far: float, bodies: Iterable[tuple[str, Mesh]]) -> float:
    """Return how far light may run from a point ``(3,)`` along a unit way until it meets something, at most ``far``."""
    among = shaders(gate, bodies, np.array([start, start + min(far, FAR) * way]))
    return min(far, float(among.target.cast(start[None], way[None])[1][0]))
