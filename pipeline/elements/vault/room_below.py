"""The room below a vault as one closed body: floor, walls up to the vault, and the vault's own surface.

Every ruling of the barrels is an edge of it, so that it is exact along them and on the groins; only across the rulings
are the curves taken as chords.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.vault.shape import VaultShape
from pipeline.geometry.meshes import Mesh, weld

Array = NDArray[np.float64]
Corner = tuple[float, float, float]
Facet = tuple[Corner, ...]

DENSE = 2001
"""Samples of half a profile that chords of equal length are laid along."""


def room_below(shape: VaultShape, floor: float, tolerance: float) -> Mesh:
    """Return the room between a floor and a vault, outward.

    Parameters
    ----------
    shape
        The vault, imagined mm.
    floor
        z of the floor, below the springing, imagined mm.
    tolerance
        How far chords may lie from the profile, imagined mm.
    """
    shares = _shares(shape, tolerance)
    groined = shape.form == "groin"
    bays = shape.bays if groined else ((shape.lines[0], shape.lines[-1]),)
    facets = [facet for bay in bays for facet in (_groined if groined else _tunnel)(shape, bay, shares)]
    tops = {(x, y): z for facet in facets for x, y, z in facet}
    around = _border(shape, bays, shares if groined else shares[[0, -1]], shares)
    middle: Corner = (0.0, (shape.lines[0] + shape.lines[-1]) / 2, floor)
    for (x, y), (x2, y2) in zip(around, around[1:] + around[:1], strict=True):
        facets.append(((x, y, floor), (x2, y2, floor), (x2, y2, tops[x2, y2]), (x, y, tops[x, y])))
        facets.append((middle, (x2, y2, floor), (x, y, floor)))
    triangles = [(facet[0], facet[k], facet[k + 1]) for facet in facets for k in range(1, len(facet) - 1)]
    corners = np.array(triangles)
    sizes = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return weld(corners[sizes > 0])


def _shares(shape: VaultShape, tolerance: float) -> Array:
    """Return u from -1 to 1, both and 0 among them, the profile's chords between them of equal length."""
    u = np.sin(np.linspace(0.0, math.pi / 2, DENSE))
    ways = np.column_stack([np.diff(u) * shape.width / 2, np.diff(shape.share(u)) * shape.rise])
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(ways, axis=1))])
    least = min(shape.rise**2, (shape.width / 2) ** 2) / max(shape.rise, shape.width / 2)
    count = max(4, math.ceil(float(run[-1]) / math.sqrt(8 * tolerance * least)))
    half = np.interp(run[-1] * np.arange(count + 1) / count, run, u)
    half[0], half[-1] = 0.0, 1.0
    return np.concatenate([-half[:0:-1], half])


def _depth(bay: tuple[float, float], v: float) -> float:
    """Return y at a share of half a bay's length from its middle; at both ends to the last digit."""
    near, far = bay
    return {-1.0: near, 1.0: far}.get(v, (near + far) / 2 + v * (far - near) / 2)


def _tunnel(shape: VaultShape, bay: tuple[float, float], shares: Array) -> Iterator[Facet]:
    for one, two in pairwise(shares.tolist()):
        yield tuple(_on(shape, bay, u, v, u) for u, v in ((one, -1.0), (two, -1.0), (two, 1.0), (one, 1.0)))


def _groined(shape: VaultShape, bay: tuple[float, float], shares: Array) -> Iterator[Facet]:
    """Yield the facets of a groined bay, counter-clockwise seen from above, each from the bay's border to a groin."""
    for one, two in pairwise(shares.tolist()):
        a, b = abs(one), abs(two)
        yield tuple(_on(shape, bay, u, v, u) for u, v in ((one, -1.0), (two, -1.0), (two, -b), (one, -a)))
        yield tuple(_on(shape, bay, u, v, u) for u, v in ((two, 1.0), (one, 1.0), (one, a), (two, b)))
        yield tuple(_on(shape, bay, u, v, v) for u, v in ((1.0, one), (1.0, two), (b, two), (a, one)))
        yield tuple(_on(shape, bay, u, v, v) for u, v in ((-1.0, two), (-1.0, one), (-a, one), (-b, two)))


def _on(shape: VaultShape, bay: tuple[float, float], u: float, v: float, at: float) -> Corner:
    """Return a point of the vault over (u, v); the barrel whose ruling it lies on rises as at ``at``."""
    height = shape.springing + shape.rise * float(shape.share(abs(at)))
    return u * shape.width / 2, _depth(bay, v), height


def _border(
    shape: VaultShape, bays: tuple[tuple[float, float], ...], beside: Array, across: Array
) -> list[tuple[float, float]]:
    """Return the corners of the room in plan, counter-clockwise from the left of the opening on."""
    half = shape.width / 2
    widths = [u * half for u in across.tolist()]
    depths = [_depth(bay, v) for bay in bays for v in beside[:-1].tolist()]
    near, far = shape.lines[0], shape.lines[-1]
    out = [(x, near) for x in widths[:-1]] + [(half, y) for y in depths]
    return out + [(x, far) for x in widths[:0:-1]] + [(-half, y) for y in [*depths[1:], far][::-1]]
