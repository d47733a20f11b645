"""Closed meshes of sheets, and the triangles of their visible faces."""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves, frames
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Loop, Region
from pipeline.parts.offsets import STEP

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

ARC_STEPS = 48
"""Facets of a bent edge of a body; bodies are for checks and pictures, where 0.02 mm is not seen."""


def triangulate(loops: list[Array]) -> Indices:
    """Return ``(m, 3)`` triangles over the stacked vertices of an outline (counter-clockwise) and its holes."""
    out: Indices = np.asarray(manifold3d.triangulate(loops, allow_convex=False), dtype=np.int64)
    return out


def loop_points(loop: Loop, steps: int = ARC_STEPS) -> Array:
    """Return ``(n, 2)`` points of a loop with a fixed number of facets on every bent edge."""
    parts = []
    for edge in loop:
        if edge.curve.straight:
            parts.append(edge.curve.start[None])
        else:
            parts.append(curves.evaluate(edge.curve, np.linspace(0, 1, steps + 1)[:-1]))
    return np.vstack(parts)


def face_triangles(region: Region) -> tuple[Array, Indices]:
    """Return vertices ``(n, 2)`` and triangles of a region, in the region's own coordinates."""
    loops = [loop_points(loop) for loop in region.loops]
    return np.vstack(loops), triangulate(loops)


def sheet_body(front: Region, back: Region, front_z: float, back_z: float, built_from_flat: Array) -> tuple[Mesh, Mesh]:
    """Return the closed body between two regions of one topology, and its cut edges alone, built mm.

    ``front`` lies at flat ``front_z``, ``back`` at ``back_z`` below it; edge k of one answers edge k of the other, but
    for steps, which may be on one of them alone and answer a corner of the other.
    """
    paired = [answering(a, b) for a, b in zip(front.loops, back.loops, strict=True)]
    front_loops, back_loops = [a for a, _ in paired], [b for _, b in paired]
    top, bottom = np.vstack(front_loops), np.vstack(back_loops)
    count = len(top)
    flat = np.vstack(
        [np.column_stack([top, np.full(count, front_z)]), np.column_stack([bottom, np.full(count, back_z)])]
    )
    sides, start = [], 0
    for loop in front_loops:
        i = np.arange(start, start + len(loop))
        j = np.roll(i, -1)
        sides += [np.column_stack([i, i + count, j]), np.column_stack([j, i + count, j + count])]
        start += len(loop)
    rim = np.vstack(sides)
    caps = np.vstack([triangulate(front_loops), triangulate(back_loops)[:, ::-1] + count])
    vertices = frames.apply(built_from_flat, flat)
    return Mesh(vertices=vertices, triangles=np.vstack([caps, rim])), Mesh(vertices=vertices, triangles=rim)


def answering(front: Loop, back: Loop, steps: int = ARC_STEPS) -> tuple[Array, Array]:
    """Return the points of two loops one for one, bent edges in ``steps`` facets."""
    ours, theirs = [], []
    i = k = 0
    while i < len(front) or k < len(back):
        a, b = front[i % len(front)], back[k % len(back)]
        if (a.against == STEP) == (b.against == STEP):
            ours.append(loop_points((a,), steps))
            theirs.append(loop_points((b,), steps))
            i, k = i + 1, k + 1
        elif b.against == STEP:
            ours.append(a.curve.start[None])
            theirs.append(b.curve.start[None])
            k += 1
        else:
            ours.append(a.curve.start[None])
            theirs.append(b.curve.start[None])
            i += 1
    return np.vstack(ours), np.vstack(theirs)
