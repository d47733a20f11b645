"""What facets cover of a plane they are seen square to.

Terms
-----
rim
    A side of a facet that no other of the facets runs along the other way.

Facets all turned the same way wind round every place of the plane as often as they cover it, and so does their rim:
where two facets meet, their sides cancel. The rim of a patch of many facets is short, and what it winds round is what
they cover; uniting the facets one by one takes time with their square.
"""

from __future__ import annotations

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, weld

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


def shadow(corners: Array, across: Array) -> shapely.Geometry:
    """Return what facets ``(m, 3, 3)`` cover, seen along a way that all of them face, or all face away from.

    Parameters
    ----------
    corners
        mm; facets that meet share corners to the last bit.
    across
        ``(3, 2)`` the axes of the plane.
    """
    mesh = weld(corners)
    flat = mesh.vertices @ across
    loops = [flat[loop] for loop in _loops(_rim(mesh)) if len(loop) > 2]
    if not loops:
        return shapely.Polygon()
    covered = manifold3d.CrossSection(loops, manifold3d.FillRule.NonZero)
    if covered.is_empty():  # facets so small that the clipper drops them
        return shapely.Polygon()
    return shapely.multipolygons([_polygon(piece.to_polygons()) for piece in covered.decompose()])


def _polygon(rings: list[Array]) -> shapely.Polygon:
    """Return an outline, counter-clockwise, with its holes."""
    outline = max(range(len(rings)), key=lambda k: abs(shapely.Polygon(rings[k]).area))
    return shapely.Polygon(rings[outline], [ring for k, ring in enumerate(rings) if k != outline])


def _rim(mesh: Mesh) -> Indices:
    """Return the rim of facets, ``(k, 2)`` from and to, as often as it is run along."""
    t, count = mesh.triangles, len(mesh.vertices)
    sides = np.vstack([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])
    forward = sides[:, 0] < sides[:, 1]
    keys, owner = np.unique(sides.min(axis=1) * count + sides.max(axis=1), return_inverse=True)
    times = np.bincount(owner, weights=np.where(forward, 1, -1)).astype(np.int64)
    ends = np.column_stack(np.divmod(keys, count))
    ends = np.where(times[:, None] < 0, ends[:, ::-1], ends)
    return np.asarray(np.repeat(ends, np.abs(times), axis=0))


def _loops(rim: Indices) -> list[list[int]]:
    """Return the loops a rim falls into; as many sides lead to every corner as from it."""
    following: dict[int, list[int]] = {}
    for start, end in rim.tolist():
        following.setdefault(start, []).append(end)
    loops = []
    for first, ends in following.items():
        while ends:
            here, loop = ends.pop(), [first]
            while here != first:
                loop.append(here)
                here = following[here].pop()
            loops.append(loop)
    return loops
