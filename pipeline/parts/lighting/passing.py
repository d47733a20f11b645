"""What of an opening the real sheet round it lets pass: less than the imagined hole for slanting light, or more."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Path
from pipeline.geometry.regions import path_of
from pipeline.parts.leaves import Lie
from pipeline.parts.lighting.flat_patches import flat_shape
from pipeline.parts.lighting.model import Gate
from pipeline.parts.model import Panel
from pipeline.room.light_places import LightPlace

FLATTENING = 0.01
"""mm; borders are only measured here."""
LEVEL = 1e-9
"""mm; a ray that rises no more from a sheet runs along it."""


def passed(
    panel: Panel, lie: Lie, gate: Gate, loops: Sequence[Path], place: LightPlace, *, lined: bool
) -> tuple[float | None, float]:
    """Return the share of an opening that its real sheet takes from light through a point, and what it lets in besides.

    Parameters
    ----------
    panel, lie
        The wall's sheet, and how its face lies.
    gate, loops
        The opening, and what of it the imagined wall leaves open to the light.
    place
        Where the light's rays go through.
    lined
        Whether something that is built lines the hole; where nothing does and the imagined wall is thicker than the
        sheet, more light passes than is marked.
    """
    if not loops:
        return None, 0.0
    leaf, deep = panel.leaves[-1], panel.finish + panel.thickness
    hole = flat_shape(loops, lie, FLATTENING)
    rings = [curves.flatten_path(path_of(loop), FLATTENING) for loop in panel.hidden.loops]
    back = shapely.Polygon(rings[0], rings[1:])
    flat_from_built = frames.invert_rigid(leaf.built_from_flat)
    if place.point is None:
        way = flat_from_built[:3, :3] @ np.array(place.way)
        if way[2] <= LEVEL:
            return 1.0, 0.0
        thrown = shapely.transform(back, lambda points: points + way[:2] * deep / way[2])
    else:
        x, y, z = frames.apply(flat_from_built, [place.point])[0]
        if abs(z + deep) < LEVEL:
            return 1.0, 0.0
        ratio, middle = z / (z + deep), np.array([x, y])
        thrown = shapely.transform(back, lambda points: middle + ratio * (points - middle))
    solid = thrown if thrown.is_valid else thrown.buffer(0)
    left = hole.difference(solid)
    besides = 0.0
    if gate.reveal > 0 and not lined:
        besides = float(flat_shape(gate.loops, lie, FLATTENING).difference(hole).difference(solid).area)
    return float(1 - left.area / hole.area), besides / float(hole.area)
