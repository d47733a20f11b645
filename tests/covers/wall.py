"""Reads bricks off guides: the way a tape does it, knowing nothing of how they were laid."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from pipeline.elements.surfaces import Family

Array = NDArray[np.float64]

GRID = 1e-6
"""mm; where joints meet, their crossing is moved by no more than this."""


def assert_equal(actual: ArrayLike, expected: ArrayLike) -> None:
    """Assert that lengths in mm are equal to a millionth of a micron, which is rounding."""
    np.testing.assert_allclose(np.asarray(actual, dtype=float), np.asarray(expected, dtype=float), rtol=0, atol=1e-9)


def all_lines(families: list[Family]) -> Array:
    """Return ``(n, 2, 2)`` every guide."""
    return np.concatenate([family.lines for family in families])


def beds(families: list[Family]) -> list[float]:
    """Return the heights of the level guides, from below."""
    lines = all_lines(families)
    level = lines[:, 0, 1] == lines[:, 1, 1]
    return sorted(float(v) for v in lines[level, 0, 1])


def perpends(families: list[Family]) -> list[list[float]]:
    """Return the places of the upright guides along each course, from below."""
    lines = all_lines(families)
    upright = lines[lines[:, 0, 0] == lines[:, 1, 0]]
    feet = np.unique(upright[:, :, 1].min(axis=1))
    return [sorted(float(u) for u in upright[upright[:, :, 1].min(axis=1) == foot, 0, 0]) for foot in feet]


def cells(families: list[Family], extent_u: float, extent_v: float) -> list[BaseGeometry]:
    """Return the polygons into which the guides divide the face that do not touch its border."""
    face = shapely.box(0, 0, extent_u, extent_v)
    lines = shapely.multilinestrings([*all_lines(families), *np.array(face.exterior.coords)[np.c_[:4, 1:5]]])
    # A joint that ends on another ends within rounding of it: the grid makes them meet.
    noded = shapely.unary_union(lines, grid_size=GRID)
    border = face.exterior.buffer(1e-5)
    inner = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    return [cell for cell in inner if not cell.intersects(border)]


def sides(cell: BaseGeometry) -> tuple[float, float]:
    """Return the shorter and the longer side of the least rectangle round a cell."""
    corners = np.array(shapely.minimum_rotated_rectangle(cell).exterior.coords)
    a, b = np.linalg.norm(np.diff(corners, axis=0), axis=1)[:2]
    return (float(min(a, b)), float(max(a, b)))


def union_length(lines: Array) -> float:
    """Return the length of everything covered by collinear stretches, each counted once."""
    ways = lines[:, 1] - lines[:, 0]
    units = ways / np.linalg.norm(ways, axis=1)[:, None]
    normals = np.column_stack([-units[:, 1], units[:, 0]])
    keys = np.round(np.column_stack([normals, np.einsum("ij,ij->i", normals, lines[:, 0])]), 6)
    total = 0.0
    for key in np.unique(keys, axis=0):
        rows = (keys == key).all(axis=1)
        spans = np.sort(np.einsum("nij,nj->ni", lines[rows], units[rows]), axis=1)
        reached = -np.inf
        for low, high in spans[np.argsort(spans[:, 0])]:
            total += max(0.0, high - max(low, reached))
            reached = max(reached, high)
    return total
