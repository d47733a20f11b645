"""What light falls on that nothing is marked on: bent panels and prints, told by rays through the imagined room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.casting import polygon
from pipeline.geometry.meshes import Mesh, join
from pipeline.parts.bent import BentPanel
from pipeline.parts.lighting.model import HALL, Cast, Gate
from pipeline.parts.model import Panel, Print, Raised
from pipeline.sight.rays import Target

Array = NDArray[np.float64]

ACROSS = 32
"""Rays through an opening along each side of the box round it."""
AROUND = 3000
"""Rays of a lamp in the hall, to all sides."""
SHARE = 0.01
"""Of a light's rays; what gets less is not told."""
PAST = 1e-3
"""mm that a ray starts past the opening, so that what fills it stands behind."""
GOLDEN = np.pi * (3 - np.sqrt(5))
"""Turn between neighbouring points of a spiral that spreads them evenly over a sphere."""


def find_unmarked(
    parts: Sequence[Panel | BentPanel | Print], casts: Sequence[Cast], gates: dict[str, Gate]
) -> tuple[tuple[str, ...], ...]:
    """Return for each light the ids of bent panels and prints that it falls on, the brightest first."""
    meshes = [skin_of(part) for part in parts]
    target = Target.on(join(meshes))
    owner = np.repeat(np.arange(len(parts)), [len(mesh.triangles) for mesh in meshes])
    marked = np.array([is_marked(part) for part in parts])
    out = []
    for cast in casts:
        starts, ways = _rays(cast, gates)
        index, _ = target.cast(starts, ways)
        met = np.bincount(owner[index[index >= 0]], minlength=len(parts))
        lit = [k for k in np.argsort(-met, kind="stable") if met[k] >= SHARE * len(starts) and not marked[k]]
        out.append(tuple(parts[k].id for k in lit))
    return tuple(out)


def skin_of(part: Panel | BentPanel | Print) -> Mesh:
    """Return what is seen of a part, imagined mm."""
    return part.skin_imagined if isinstance(part, Print) else part.visible_imagined


def is_marked(part: Panel | BentPanel | Print) -> bool:
    """Return whether light is marked on a part: on panels, and on the panels under raised units."""
    return isinstance(part, Panel) or (isinstance(part, Print) and isinstance(part.solid, Raised))


def _rays(cast: Cast, gates: dict[str, Gate]) -> tuple[Array, Array]:
    if cast.cell == HALL:
        k = np.arange(AROUND) + 0.5
        z = 1 - 2 * k / AROUND
        across = np.sqrt(1 - z**2)
        ways = np.column_stack([across * np.cos(GOLDEN * k), across * np.sin(GOLDEN * k), z])
        return np.broadcast_to(cast.source[:3], ways.shape), ways
    holes = [(gates[way.gate], way.loops) for way in cast.ways] or [(gates[cast.cell], gates[cast.cell].loops)]
    starts = []
    for gate, loops in holes:
        shape = polygon(loops)
        x0, y0, x1, y1 = shape.bounds
        share = (np.arange(ACROSS) + 0.5) / ACROSS
        u, v = np.meshgrid(x0 + share * (x1 - x0), y0 + share * (y1 - y0))
        points = np.column_stack([u.ravel(), v.ravel()])
        starts.append(frames.apply(gate.matrix, points[shapely.contains(shape, shapely.points(points))]))
    passed = np.vstack(starts)
    ways = passed * cast.source[3] - cast.source[:3]
    ways = ways / np.linalg.norm(ways, axis=1)[:, None]
    return passed + PAST * ways, ways
