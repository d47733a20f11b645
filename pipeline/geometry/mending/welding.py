"""Corners that are one point made one vertex, and facets that bound nothing left out."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

NEAR = 1e-5
"""Share of the mesh's diagonal within which open edges are sewn: some programs write no more digits."""


def weld_equal(mesh: Mesh) -> Mesh:
    """Return the mesh with exactly equal points made one vertex, in the order of their first use."""
    used = np.zeros(len(mesh.vertices), dtype=bool)
    used[mesh.triangles] = True
    points = mesh.vertices[used]
    number = alike(points) - 1
    first = np.full(number.max() + 1, len(points))
    np.minimum.at(first, number, np.arange(len(points)))
    rank = np.argsort(np.argsort(first))
    triangles = rank[number][(np.cumsum(used) - 1)[mesh.triangles]]
    return Mesh(vertices=points[np.sort(first)], triangles=triangles)


def alike(rows: Array | NDArray[np.float32] | Indices) -> Indices:
    """Return a number ``(n,)``, from 1 on, for each of the rows ``(n, k)``, alike for equal rows only."""
    order = np.lexsort(rows.T)
    new = np.ones(len(rows), dtype=np.int64)
    new[1:] = (rows[order[1:]] != rows[order[:-1]]).any(axis=1)
    numbers = np.empty(len(rows), dtype=np.int64)
    numbers[order] = np.cumsum(new)
    return numbers


def sew(mesh: Mesh, open_edges: Indices, tolerance: float) -> Mesh:
    """Return the mesh with the ends of ``(k, 2)`` open edges that lie within a tolerance of each other made one.

    Of two points that near along every axis, one of two grids of cells twice as wide, half a cell apart, has both in
    one cell; so eight grids find all of them.
    """
    ends = np.unique(open_edges)
    cells = mesh.vertices[ends] / (2 * tolerance)
    names = [alike(np.floor(cells + np.array(shift) / 2)) - 1 for shift in product((0, 1), repeat=3)]
    lead = np.arange(len(ends))
    while True:
        before = lead
        for name in names:
            least = np.full(name.max() + 1, len(ends))
            np.minimum.at(least, name, lead)
            lead = least[name]
        if np.array_equal(lead, before):
            break
    goes = np.arange(len(mesh.vertices))
    goes[ends] = ends[lead]
    return Mesh(vertices=mesh.vertices, triangles=goes[mesh.triangles])


def drop_empty(mesh: Mesh) -> tuple[Mesh, int, int]:
    """Return the mesh without facets of two corners, and of facets on the same corners; and how many went of each.

    Of facets on the same corners one stays for each that one way round outnumbers the other, at most one: copies are
    one facet, and two that face away from each other bound nothing.
    """
    a, b, c = mesh.triangles.T
    whole = mesh.triangles[(a != b) & (b != c) & (c != a)]
    if len(whole) == 0:
        return Mesh(vertices=mesh.vertices, triangles=whole), len(mesh.triangles), 0
    group = alike(np.sort(whole, axis=1)) - 1
    rising = (whole[:, 0] < whole[:, 1]).astype(int) + (whole[:, 1] < whole[:, 2]) + (whole[:, 2] < whole[:, 0])
    turn = np.where(rising == 2, 1, -1)
    surplus = np.bincount(group, weights=turn)
    agrees = np.flatnonzero(turn == np.sign(surplus[group]))
    _, first = np.unique(group[agrees], return_index=True)
    kept = np.sort(agrees[first])
    return (
        Mesh(vertices=mesh.vertices, triangles=whole[kept]),
        len(mesh.triangles) - len(whole),
        len(whole) - len(kept),
    )
