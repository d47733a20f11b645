"""Meshes as binary STL, in millimetres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.mending.welding import alike
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.vectors import facet_normals

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
HEADER_BYTES = 80


def write_stl(mesh: Mesh, name: str) -> bytes:
    """Return a mesh as 84 + 50 n bytes: an 80 byte header, the count, and n triangles with unit outward normals.

    Corners are rounded to single precision first. A triangle two of whose corners thereby coincide is left out, and
    so are two triangles folded onto each other; both leave a closed mesh closed when equal corners are welded.

    Parameters
    ----------
    mesh
        In mm, outward triangles.
    name
        For the header; ASCII, what does not fit is cut off.

    Raises
    ------
    ValueError
        If a vertex is not finite in single precision.
    """
    single, _, kept = _settled(mesh)
    records = np.zeros(len(kept), dtype=TRIANGLE)
    records["corners"] = single[mesh.triangles[kept]]
    records["normal"] = _normals(records["corners"].astype(np.float64), mesh.vertices, mesh.triangles[kept])
    # Readers take a file that begins with "solid" for the text form.
    header = f"binary STL, mm: {name}".encode("ascii", "replace")[:HEADER_BYTES].ljust(HEADER_BYTES)
    return header + len(records).to_bytes(4, "little") + records.tobytes()


def as_written(mesh: Mesh) -> Mesh:
    """Return a mesh as its STL file holds it once equal corners are welded: single precision, no triangle folded.

    Raises
    ------
    ValueError
        If a vertex is not finite in single precision.
    """
    single, numbers, kept = _settled(mesh)
    _, first = np.unique(numbers, return_index=True)
    return Mesh(vertices=single[first].astype(np.float64), triangles=numbers[mesh.triangles[kept]] - 1)


def _settled(mesh: Mesh) -> tuple[NDArray[np.float32], Indices, Indices]:
    """Return the vertices in single precision, a number from 1 on for each, alike for equal ones, and who stays."""
    with np.errstate(over="ignore"):
        single = mesh.vertices.astype(np.float32) + np.float32(0.0)
    if not np.isfinite(single).all():
        raise ValueError("a vertex that is not finite cannot be written")
    numbers = alike(single)
    return single, numbers, _kept(numbers[mesh.triangles])


def _kept(triangles: Indices) -> Indices:
    """Return which triangles stay: those of three corners that no other one covers from behind."""
    a, b, c = triangles.T
    whole = np.flatnonzero((a != b) & (b != c) & (c != a))
    rows = triangles[whole]
    group = alike(np.sort(rows, axis=1)) - 1
    if len(rows) == 0 or group.max() + 1 == len(rows):
        return whole
    turn = _parity(rows)
    total = np.bincount(group, weights=turn)
    # Of each set of corners as many stay, in order, as one way round outnumbers the other.
    stay = np.zeros(len(rows), dtype=bool)
    for number in np.flatnonzero(np.bincount(group) > 1):
        members = np.flatnonzero(group == number)
        surplus = int(total[number])
        stay[members[turn[members] == np.sign(surplus)][: abs(surplus)]] = True
    stay |= (np.bincount(group) == 1)[group]
    return whole[stay]


def _parity(triangles: Indices) -> Array:
    """Return +1 for triangles whose corner numbers rise in cyclic order, -1 for the others."""
    a, b, c = triangles.T
    rising = (a < b).astype(int) + (b < c) + (c < a)
    return np.where(rising == 2, 1.0, -1.0)


def _normals(corners: Array, vertices: Array, triangles: Indices) -> Array:
    """Return unit normals ``(n, 3)``; of slivers the exact triangle's, or any direction square to them."""
    normals = facet_normals(corners)
    lengths = np.linalg.norm(normals, axis=1)
    flat = lengths == 0
    if flat.any():
        exact = vertices[triangles[flat]]
        normals[flat] = np.cross(exact[:, 1] - exact[:, 0], exact[:, 2] - exact[:, 0])
        lengths = np.linalg.norm(normals, axis=1)
        for i in np.flatnonzero(lengths == 0):
            along = corners[i, 1] - corners[i, 0]
            normals[i] = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
        lengths = np.linalg.norm(normals, axis=1)
    out: Array = normals / lengths[:, None]
    return out
