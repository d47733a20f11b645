"""Where a surface is open, and small holes filled.

Terms
-----
rim
    The loop of open edges round a hole, in the way the facets that fill it run along them.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.mending.model import MendError, several, spot
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.polygons import cut_polygon

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

SMALL = 0.1
"""Share of the mesh's diagonal that a hole may be across and still be taken for a slip of the program that wrote it."""
MOST_RIMS = 50_000
"""Open edges; with more the mesh is loose facets, and no rim means anything."""


def find_rims(open_edges: Indices) -> list[list[int]]:
    """Return the rims of ``(k, 2)`` open edges, each a list of vertices; a chain that closes no loop is one too."""
    following: dict[int, list[int]] = defaultdict(list)
    for start, end in open_edges.tolist():
        following[end].append(start)
    rims: list[list[int]] = []
    for first in sorted(following):
        while following[first]:
            rims += _walk(first, following)
    return rims


def _walk(first: int, following: dict[int, list[int]]) -> list[list[int]]:
    """Follow the edges, taking them out, until back at the start; loops closed on the way are rims by themselves."""
    rims: list[list[int]] = []
    path, place, here = [first], {first: 0}, first
    while path:
        if not following[here]:
            return [*rims, path]
        here = following[here].pop()
        if here in place:
            loop = path[place[here] :]
            rims.append(loop)
            path = path[: place[here]]
            for vertex in loop:
                del place[vertex]
            if not path:
                return rims
        place[here] = len(path)
        path.append(here)
    return rims


def fill_small(mesh: Mesh, rims: list[list[int]], diagonal: float) -> tuple[Mesh, int]:
    """Return the mesh with rims up to ``SMALL`` of its diagonal across filled, and how many were."""
    patches = []
    for rim in rims:
        points = mesh.vertices[rim]
        if len(rim) >= 3 and _across(points) <= SMALL * diagonal:
            patches.append(np.array(rim)[cut_polygon(points)])
    if not patches:
        return mesh, 0
    return Mesh(vertices=mesh.vertices, triangles=np.vstack([mesh.triangles, *patches])), len(patches)


def open_error(mesh: Mesh, rims: list[list[int]], diagonal: float) -> MendError:
    """Return the refusal of a surface that stays open, with its widest holes."""
    widest = sorted(rims, key=lambda rim: (-_across(mesh.vertices[rim]), rim))[:3]
    places = "; ".join(_place(mesh.vertices[rim]) for rim in widest)
    more = f"; and {len(rims) - len(widest):,} more" if len(rims) > len(widest) else ""
    limit = f"holes up to {SMALL * diagonal:.4g} across are filled by themselves"
    return MendError(f"it is open: {several(len(rims), 'hole')}: {places}{more} ({limit})")


def _place(points: Array) -> str:
    return f"{several(len(points), 'edge')} round {spot(points.mean(axis=0))}, {_across(points):.4g} across"


def _across(points: Array) -> float:
    return float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
