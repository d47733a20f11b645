"""Patches and shadows as they lie on the drawings of their faces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.parts.leaves import Lie
from pipeline.parts.outlines import flat_path

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlatPatch:
    """One piece of a patch or shadow, flat mm: ``outline`` ``(n, 2)``, counter-clockwise, and holes in it."""

    outline: Array
    holes: tuple[Array, ...]


def flat_patches(loops: Sequence[Path], lie: Lie, tolerance: float) -> tuple[FlatPatch, ...]:
    """Return the pieces that loops bound, flat, largest first.

    Parameters
    ----------
    loops
        Outlines and holes, host coordinates.
    lie
        How the face lies.
    tolerance
        How far chords may stray from curves, mm.
    """
    out = []
    for piece in shapely.get_parts(flat_shape(loops, lie, tolerance)):
        turned = shapely.geometry.polygon.orient(piece)
        rings = [np.asarray(ring.coords)[:-1] for ring in (turned.exterior, *turned.interiors)]
        out.append((piece.area, FlatPatch(outline=rings[0], holes=tuple(rings[1:]))))
    return tuple(patch for _, patch in sorted(out, key=lambda one: -one[0]))


def flat_shape(loops: Sequence[Path], lie: Lie, tolerance: float) -> shapely.Geometry:
    """Return the region that loops bound, even-odd, flat."""
    rings = [shapely.Polygon(curves.flatten_path(flat_path(loop, lie), tolerance)) for loop in loops]
    shape: shapely.Geometry = shapely.Polygon()
    for ring in sorted(rings, key=lambda ring: -ring.area):
        shape = shape.symmetric_difference(ring if ring.is_valid else ring.buffer(0))
    return shape
