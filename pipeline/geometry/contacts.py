"""Edges along which a body only touches itself.

Terms
-----
contact
    An edge that four facets meet at: two parts of a body that have this line in common and nothing else. By its
    indices the body is sound; a file has one point for each place, and there the surface is torn along the line.
bead
    A thin rod round a contact, united with the body, so that both parts are one there.
"""

from __future__ import annotations

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.mending.welding import alike

Array = NDArray[np.float64]

DECIMALS = 5
"""Of a mm: what agrees so far is one point in a file of single precision, which tells 4e-6 mm apart at 60 mm."""
BEAD = 0.05
"""mm; radius of a bead, less than any printer shows."""
ROUNDS = 8
"""Two are enough for nearly all; no body is known that needs more than three."""
STAR = np.vstack([np.eye(3), -np.eye(3)])
"""Corners of an octahedron."""


def fill_contacts(body: Manifold) -> Manifold:
    """Return a body with a bead along each of its contacts; one without contacts comes back as it is.

    A bead may touch the body along a new contact, which gets a bead in its turn.
    """
    for _ in range(ROUNDS):
        lines = contacts(body)
        if len(lines) == 0:
            break
        beads = [Manifold.hull_points((line[:, None] + BEAD * STAR).reshape(-1, 3)) for line in lines]
        body = Manifold.batch_boolean([body, *beads], OpType.Add)
    return body


def contacts(body: Manifold) -> Array:
    """Return the ends ``(k, 2, 3)`` of every contact, mm."""
    mesh = mesh_of(body)
    number = alike(np.round(mesh.vertices, DECIMALS) + 0.0) - 1
    a, b, c = number[mesh.triangles].T
    whole = (a != b) & (b != c) & (c != a)  # slivers that fall together leave no side behind
    one, other, count = np.concatenate([a, b, c]), np.concatenate([b, c, a]), len(number)
    sides = (np.minimum(one, other) * count + np.maximum(one, other))[np.tile(whole, 3)]
    edges, times = np.unique(sides, return_counts=True)
    _, first = np.unique(number, return_index=True)
    out: Array = mesh.vertices[first[np.column_stack(np.divmod(edges[times > 2], count))]]
    return out
