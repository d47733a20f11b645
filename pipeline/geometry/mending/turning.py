"""Facets turned to agree with their neighbours which side is out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.mending.edges import Edges, find_edges, shells
from pipeline.geometry.mending.model import MendError, spot
from pipeline.geometry.meshes import Mesh


def turn_to_agree(mesh: Mesh, edges: Edges) -> tuple[Mesh, int]:
    """Return the mesh with as few facets turned as make all neighbours agree, and how many were.

    Raises
    ------
    MendError
        If no turning makes them agree: the surface has one side only.
    """
    if not edges.same.any():
        return mesh, 0
    turned = _spread(edges)
    ring = shells(edges.neighbours)
    members = np.bincount(ring)
    # Of each shell the smaller part turns.
    turned ^= (2 * np.bincount(ring, weights=turned) > members)[ring]
    triangles = np.where(turned[:, None], mesh.triangles[:, ::-1], mesh.triangles)
    out = Mesh(vertices=mesh.vertices, triangles=triangles)
    still = np.argwhere(find_edges(triangles).same)
    if len(still):
        where = spot(mesh.vertices[triangles[still[0][0], still[0][1]]])
        raise MendError(f"it has one side only, like a Möbius band: its facets cannot agree at {where}")
    return out, int(turned.sum())


def _spread(edges: Edges) -> NDArray[np.bool_]:
    """Return which facets must turn so that each agrees with the one it was reached from, shell by shell."""
    ring = shells(edges.neighbours)
    known = np.zeros(len(ring), dtype=bool)
    turned = np.zeros(len(ring), dtype=bool)
    front = np.unique(ring)
    known[front] = True
    while len(front):
        across = edges.neighbours[front]
        source, side = np.nonzero(across >= 0)
        reached, first = np.unique(across[source, side], return_index=True)
        fresh = ~known[reached]
        reached, first = reached[fresh], first[fresh]
        turned[reached] = turned[front[source[first]]] ^ edges.same[front[source[first]], side[first]]
        known[reached] = True
        front = reached
    return turned
