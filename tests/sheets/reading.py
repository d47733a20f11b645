"""Written sheets read by GDAL alone: chords of 0.2 degrees, by layer, in the order of the file."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray

os.environ["OGR_ARC_STEPSIZE"] = "0.2"

Array = NDArray[np.float64]


def shapes(data: bytes, folder: Path) -> dict[str, list[shapely.Geometry]]:
    """Return GDAL's geometries of a DXF, by layer, in the order of the file."""
    file = folder / "sheet.dxf"
    file.write_bytes(data)
    table = pyogrio.raw.read(file)
    layers = table[3][list(table[0]["fields"]).index("Layer")]
    out: dict[str, list[shapely.Geometry]] = {}
    for layer, shape in zip(layers, shapely.from_wkb(table[2]), strict=True):
        out.setdefault(layer, []).append(shape)
    return out


def chords(geometries: list[shapely.Geometry]) -> Array:
    """Return every chord ``(n, 2, 2)`` of lines and polygons' borders."""
    rows = []
    for geometry in geometries:
        if geometry.geom_type == "Point":
            continue
        line = geometry.exterior if geometry.geom_type == "Polygon" else geometry
        points = np.asarray(line.coords)[:, :2]
        rows.append(np.stack([points[:-1], points[1:]], axis=1))
    return np.concatenate(rows) if rows else np.zeros((0, 2, 2))


def drawn_twice(lines: Array, near: float = 0.01) -> float:
    """Return the length, mm, over which lines run along one another, by brute force over neighbours.

    Chords shorter than 1 mm are taken for those of arcs, and are not held against straight lines: a line that only
    touches an arc of radius r lies within ``near`` of it for some sqrt(8 r near), 1 mm for 16 mm.
    """
    sizes = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    lines, sizes = lines[sizes > 0.05], sizes[sizes > 0.05]
    ways = (lines[:, 1] - lines[:, 0]) / sizes[:, None]
    tree = shapely.STRtree(shapely.linestrings(lines))
    i, j = tree.query(shapely.linestrings(lines), predicate="dwithin", distance=near)
    i, j = i[i < j], j[i < j]
    level = np.abs(ways[i, 0] * ways[j, 1] - ways[i, 1] * ways[j, 0]) < 0.002
    level &= (sizes[i] < 1) == (sizes[j] < 1)
    i, j = i[level], j[level]
    away = lines[j] - lines[i, 0][:, None]
    along = np.einsum("ijk,ik->ij", away, ways[i])
    off = np.abs(away[..., 1] * ways[i, 0][:, None] - away[..., 0] * ways[i, 1][:, None]).max(axis=1)
    shared = np.minimum(along.max(axis=1), sizes[i]) - np.maximum(along.min(axis=1), 0)
    return float(shared[(off < near) & (shared > 0.02)].sum())
